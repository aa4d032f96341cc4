"""The Machine: devices, valves, switches and the times of strokes. Lengths in micrometres, times in microseconds."""

from __future__ import annotations

from enum import StrEnum
from typing import NoReturn

from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "Actuator",
    "Contact",
    "End",
    "Input",
    "InputKind",
    "LimitSwitch",
    "Load",
    "LoadKind",
    "Machine",
    "Medium",
    "PressureSwitch",
    "Travel",
    "TravelBasis",
    "Valve",
    "ValveKind",
]


class _Model(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class _Named(_Model):
    name: str


class Contact(StrEnum):
    """How an input device is wired: does its contact conduct at rest or when actuated?"""

    NORMALLY_OPEN = "normally open"
    NORMALLY_CLOSED = "normally closed"


class InputKind(StrEnum):
    """What actuates an input: a hand, the machine, or the world outside it."""

    PUSHBUTTON = "pushbutton"
    SELECTOR = "selector"
    SENSOR = "sensor"
    LIMIT_SWITCH = "limit switch"
    PRESSURE_SWITCH = "pressure switch"


class LoadKind(StrEnum):
    """What an output drives."""

    SOLENOID = "solenoid"
    LAMP = "lamp"
    HORN = "horn"
    MOTOR = "motor"


class Medium(StrEnum):
    """What moves the piston."""

    HYDRAULIC = "hydraulic"
    PNEUMATIC = "pneumatic"


class End(StrEnum):
    """The two ends of a stroke: home is retracted, end is extended."""

    HOME = "home"
    END = "end"


class ValveKind(StrEnum):
    """What a valve does when its solenoids are off: a spring returns it, or it stays where it was put."""

    SPRING_RETURN = "single solenoid, spring return"
    MEMORY = "double solenoid, memory"


class Input(_Named):
    """An input device. It is *actuated* or not; ``contact`` says whether its wire is then live or dead."""

    kind: InputKind
    contact: Contact = Contact.NORMALLY_OPEN
    maintained: bool = False


class Load(_Named):
    """Something an output switches on and off."""

    kind: LoadKind


class TravelBasis(StrEnum):
    """Where a stroke time comes from."""

    STATED = "stated"
    DERIVED = "derived from bore, stroke and flow"
    ASSUMED = "assumed"


class Travel(_Model):
    """The time a full stroke takes: least, usual and greatest, in microseconds; 0 < least <= usual <= greatest."""

    least_us: int = Field(gt=0)
    usual_us: int = Field(gt=0)
    greatest_us: int = Field(gt=0)
    basis: TravelBasis


class LimitSwitch(_Named):
    """A switch that the moving rod makes at ``at_um`` from home.

    A switch at the home end is made from home outwards up to its place; any other is made from its place to the
    end. Moving away it releases ``reset_um`` past the place where it made (its differential travel), never in
    zero time.
    """

    at_um: int = Field(ge=0)
    reset_um: int = Field(gt=0)
    toward: End


class PressureSwitch(_Named):
    """A switch that makes ``build_up_us`` after the stroke in its direction stalls, at an end or jammed."""

    pressure_bar: float = Field(gt=0)
    toward: End = End.END
    build_up_us: int = Field(default=50_000, gt=0)


class Valve(_Model):
    """The valve of one actuator. A spring-return valve has one solenoid: ``extend``, or ``retract`` when the
    machine rests extended; a memory valve has both."""

    kind: ValveKind
    extend: str | None = None
    retract: str | None = None


class Actuator(_Named):
    """A cylinder with its valve and switches. ``rest`` is where it stands before the first cycle."""

    medium: Medium
    stroke_um: int = Field(gt=0)
    bore_um: int | None = None
    rod_um: int | None = None
    single_acting: bool = False
    rest: End = End.HOME
    valve: Valve
    extend_time: Travel
    retract_time: Travel
    limit_switches: tuple[LimitSwitch, ...] = ()
    pressure_switches: tuple[PressureSwitch, ...] = ()


class Machine(_Model):
    """Everything that is bolted down. ``inputs`` holds every input device, switches of actuators included;
    ``loads`` every output, solenoids included; both in the order they were written.

    ``start`` and ``stop`` name the inputs that play those parts, if the machine has them.
    """

    title: str = ""
    actuators: tuple[Actuator, ...] = ()
    inputs: tuple[Input, ...] = ()
    loads: tuple[Load, ...] = ()
    start: str | None = None
    stop: str | None = None

    def input(self, name: str) -> Input:
        """The input of that exact name. Raises KeyError if there is none."""
        return next((i for i in self.inputs if i.name == name), None) or _missing(name)

    def actuator(self, name: str) -> Actuator:
        """The actuator of that exact name. Raises KeyError if there is none."""
        return next((a for a in self.actuators if a.name == name), None) or _missing(name)


def _missing(name: str) -> NoReturn:
    raise KeyError(name)
