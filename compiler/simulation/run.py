"""A run of a machine: what was done to it, how its strokes went, and everything that changed. All of it is JSON.

A Run holds its Scenario, so any run can be replayed (``replay``). Times are whole microseconds from the moment the
supply first comes on; positions are micrometres from home.
"""

from __future__ import annotations

from enum import StrEnum

from pydantic import BaseModel, ConfigDict, Field

from compiler.machine import Machine, Travel

__all__ = [
    "Change",
    "Clock",
    "Difference",
    "Event",
    "EventKind",
    "Move",
    "Outcome",
    "Pace",
    "Role",
    "Run",
    "Scenario",
    "Side",
    "Stamp",
    "Stretch",
    "StrokeTimes",
    "Swiftness",
    "stroke_times",
]


class _Model(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class EventKind(StrEnum):
    """What the world outside may do to a machine."""

    INPUT = "input"
    SUPPLY = "supply"
    JAM = "jam"
    STUCK_MADE = "switch stuck made"
    STUCK_OPEN = "switch stuck open"


class Event(_Model):
    """Something done from outside at ``at_us``.

    ``device`` is an input (``on``: actuated), an actuator (``on``: jammed where it stands, off: free again), a
    switch of an actuator (``on``: stuck, off: it works again), or empty for the control supply (``on``: it is there).
    """

    at_us: int = Field(ge=0)
    kind: EventKind
    device: str = ""
    on: bool


class StrokeTimes(_Model):
    """The times the full strokes of an actuator take in one run, in microseconds; ``rapid_us`` is that of a stroke
    out with the solenoid on that makes it quick, where there is one."""

    actuator: str
    extend_us: int = Field(gt=0)
    retract_us: int = Field(gt=0)
    rapid_us: int | None = Field(default=None, gt=0)


class Pace(_Model):
    """An uneven stroke: from ``from_us`` on an actuator moves so as to come to ``at_um`` from home by ``by_us``, or
    to be just ``past`` it then."""

    actuator: str
    from_us: int = Field(ge=0)
    at_um: int
    by_us: int
    past: bool = False


class Stretch(StrEnum):
    """What a run asks of a machine beyond a careful operator's normal cycle."""

    NONE = "a careful operator"
    START_HELD = "START held into the last step of the cycle"
    START_EARLY = "START pressed before the machine rests at home, ready to start"
    STOP = "STOP pressed"
    START_WITH_STOP = "START and STOP held together"
    STROKE_TIMES = "strokes quicker than their greatest time"
    JAM = "a stroke that jams"
    SWITCH = "a switch that sticks or lets go by itself"
    SUPPLY = "the supply lost and back"
    SUPPLY_WITH_START = "START held as the supply returns"
    OUTSIDE = "sensors and selectors changing at any moment"


class Stamp(_Model):
    """The moment from which a run stretches something."""

    at_us: int
    stretch: Stretch


class Scenario(_Model):
    """What is done to a machine in one run. The supply is on from the start unless an event at 0 says otherwise;
    every input is at rest unless an event at 0 actuates it. Strokes are even and take ``strokes``, but for the
    ``paces``."""

    name: str
    duration_us: int = Field(gt=0)
    events: tuple[Event, ...] = ()
    strokes: tuple[StrokeTimes, ...] = ()
    paces: tuple[Pace, ...] = ()
    stretched: tuple[Stamp, ...] = ()


class Side(StrEnum):
    """Whose change it is: the world's (inputs, supply, jams), the driving logic's or the shadowing one's."""

    WORLD = "world"
    DRIVER = "driver"
    SHADOW = "shadow"


class Role(StrEnum):
    """What the signal of a change is."""

    INPUT = "input"
    OUTPUT = "output"
    INSIDE = "inside"
    SUPPLY = "supply"
    JAM = "jam"
    STUCK = "stuck"


class Change(_Model):
    """A signal changed. What is never mentioned was off all the time."""

    at_us: int
    side: Side
    role: Role
    signal: str
    on: bool


class Move(_Model):
    """An actuator sets out, stops or goes on at another speed: from there and then it moves ``way`` (1 out, -1 back,
    0 stands)."""

    at_us: int
    actuator: str
    position_um: int
    way: int


class Clock(_Model):
    """A timer of one of the logics ran from one moment to another. ``ran_out``: it reached its preset."""

    side: Side
    timer: str
    preset_us: int
    from_us: int
    to_us: int
    ran_out: bool


class Outcome(StrEnum):
    """How a run ended."""

    COMPLETED = "completed"
    DIFFERENCE = "the two differ"
    CHATTERING = "never settles"
    TOO_MANY_EVENTS = "too much happens"


class Difference(_Model):
    """The first moment from which, for longer than no time, an output is on in one logic and off in the other.

    ``output`` is empty where the shadowing logic never settles; ``loop`` then names what chatters.
    """

    at_us: int
    output: str
    driver_on: bool
    shadow_on: bool
    loop: tuple[str, ...] = ()


class Run(_Model):
    """The record of a run. ``shadow`` is empty where only one logic ran."""

    machine: str
    driver: str
    shadow: str = ""
    scenario: Scenario
    changes: tuple[Change, ...]
    moves: tuple[Move, ...] = ()
    clocks: tuple[Clock, ...] = ()
    ended_us: int
    outcome: Outcome
    difference: Difference | None = None
    loop: tuple[str, ...] = ()


class Swiftness(StrEnum):
    """How quick a stroke is, within its Travel."""

    LEAST = "least"
    USUAL = "usual"
    GREATEST = "greatest"


def stroke_times(machine: Machine, extending: Swiftness, retracting: Swiftness) -> tuple[StrokeTimes, ...]:
    """The stroke times of every actuator, all as quick as said."""
    return tuple(
        StrokeTimes(
            actuator=a.name,
            extend_us=_of(a.extend_time, extending),
            retract_us=_of(a.retract_time, retracting),
            rapid_us=None if a.valve.rapid is None else _of(a.valve.rapid.time, extending),
        )
        for a in machine.actuators
    )


def _of(travel: Travel, swiftness: Swiftness) -> int:
    match swiftness:
        case Swiftness.LEAST:
            return travel.least_us
        case Swiftness.USUAL:
            return travel.usual_us
        case Swiftness.GREATEST:
            return travel.greatest_us
