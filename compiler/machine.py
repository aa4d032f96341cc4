"""The Machine: devices, valves, switches and the times of strokes. Lengths in micrometres, times in microseconds."""

from __future__ import annotations

from enum import StrEnum
from typing import NoReturn, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from compiler.ratings import Pump, Ratings

__all__ = [
    "Actuator",
    "Centre",
    "Contact",
    "End",
    "Input",
    "InputKind",
    "LimitSwitch",
    "Load",
    "LoadKind",
    "Machine",
    "Medium",
    "Motor",
    "MotorKind",
    "PressureSwitch",
    "Rapid",
    "RapidKind",
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
    CONTACTOR = "contactor"


class Medium(StrEnum):
    """What moves the piston."""

    HYDRAULIC = "hydraulic"
    PNEUMATIC = "pneumatic"


class End(StrEnum):
    """The two ends of a stroke: home is retracted, end is extended."""

    HOME = "home"
    END = "end"


class ValveKind(StrEnum):
    """What a valve does when its solenoids are off: a spring returns it, it stays where it was put, or springs bring
    it to its centre, in which it drives its cylinder neither way."""

    SPRING_RETURN = "single solenoid, spring return"
    MEMORY = "double solenoid, memory"
    THREE_POSITION = "three-position, spring-centred"


class Centre(StrEnum):
    """What the centre of a three-position valve does. Closed blocks every port; tandem blocks the cylinder and lets
    the pump run to tank unloaded: both hold the rod where it is. Float joins the cylinder's ports to tank: the rod is
    free, and a load may move it (common practice)."""

    CLOSED = "closed centre"
    TANDEM = "tandem centre"
    FLOAT = "float centre"

    @property
    def holds(self) -> bool:
        """Whether the rod is held where it stands."""
        return self is not Centre.FLOAT


class RapidKind(StrEnum):
    """Why a stroke out is quick while a further solenoid is on: more flow is let in, or the rod side's oil is led
    back to the bore side (regenerative)."""

    RAPID = "rapid"
    REGENERATIVE = "regenerative"


class MotorKind(StrEnum):
    """What drives a motor: oil or air through a spring-centred valve, or a pair of contactors."""

    HYDRAULIC = "hydraulic"
    PNEUMATIC = "pneumatic"
    ELECTRIC = "electric"


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


class Rapid(_Model):
    """The further solenoid of a valve that makes the stroke out quick while it is on, and the time of a whole stroke
    out then. By itself, and on the way back, it does nothing."""

    kind: RapidKind
    solenoid: str
    time: Travel


class Valve(_Model):
    """The valve of one actuator. A spring-return valve has one solenoid: ``extend``, or ``retract`` when the
    machine rests extended; the others have both. Both solenoids on leave a memory valve as it was and a
    three-position valve in its ``centre``, which no other kind has."""

    kind: ValveKind
    extend: str | None = None
    retract: str | None = None
    centre: Centre | None = None
    rapid: Rapid | None = None

    @model_validator(mode="after")
    def _fits(self) -> Self:
        centred = self.kind is ValveKind.THREE_POSITION
        if centred is not (self.centre is not None) or (centred and not (self.extend and self.retract)):
            raise ValueError("a three-position valve, and no other, has a centre, and has two solenoids")
        return self

    @property
    def solenoids(self) -> tuple[str, ...]:
        """Every solenoid it has: the one that extends first, the one that makes it quick last."""
        rapid = None if self.rapid is None else self.rapid.solenoid
        return tuple(name for name in (self.extend, self.retract, rapid) if name is not None)

    @property
    def opposed(self) -> tuple[str, ...]:
        """The two solenoids that send the rod opposite ways, or none where the valve has not both."""
        return (self.extend, self.retract) if self.extend is not None and self.retract is not None else ()


class Actuator(_Named):
    """A cylinder with its valve and switches. ``rest`` is where it stands before the first cycle."""

    medium: Medium
    stroke_um: int = Field(gt=0)
    bore_um: int | None = None
    rod_um: int | None = None
    single_acting: bool = False
    ratings: Ratings | None = None
    rest: End = End.HOME
    valve: Valve
    extend_time: Travel
    retract_time: Travel
    limit_switches: tuple[LimitSwitch, ...] = ()
    pressure_switches: tuple[PressureSwitch, ...] = ()


class Motor(_Named):
    """A motor that runs both ways: ``forward`` and ``reverse`` are the loads that drive it, solenoids of a
    spring-centred valve or contactors, never both on. With both off it stops. It has no position."""

    kind: MotorKind
    forward: str
    reverse: str


class Machine(_Model):
    """Everything that is bolted down. ``inputs`` holds every input device, switches of actuators included;
    ``loads`` every output, solenoids included; both in the order they were written.

    ``start`` and ``stop`` name the inputs that play those parts, if the machine has them.
    """

    title: str = ""
    actuators: tuple[Actuator, ...] = ()
    motors: tuple[Motor, ...] = ()
    inputs: tuple[Input, ...] = ()
    loads: tuple[Load, ...] = ()
    start: str | None = None
    stop: str | None = None
    pump: Pump | None = None

    def input(self, name: str) -> Input:
        """The input of that exact name. Raises KeyError if there is none."""
        return next((i for i in self.inputs if i.name == name), None) or _missing(name)

    def actuator(self, name: str) -> Actuator:
        """The actuator of that exact name. Raises KeyError if there is none."""
        return next((a for a in self.actuators if a.name == name), None) or _missing(name)

    def motor(self, name: str) -> Motor:
        """The motor of that exact name. Raises KeyError if there is none."""
        return next((m for m in self.motors if m.name == name), None) or _missing(name)


def _missing(name: str) -> NoReturn:
    raise KeyError(name)
