"""What may change at one instant of a run, each with its cause. Times in microseconds, places in micrometres."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.chart import Transition
from compiler.walk.continuity import Cause
from grammar.rungs.tree import Contact, Device, Feed

__all__ = [
    "CoilChange",
    "ContactMove",
    "Fact",
    "Held",
    "InputChange",
    "Instant",
    "MotorChange",
    "OutputChange",
    "PumpChange",
    "Refused",
    "Sealed",
    "StepChange",
    "Stroke",
    "TerminalChange",
    "World",
]


@dataclass(frozen=True, slots=True)
class World:
    """Something done from outside that is no input: the supply, a jam (``signal`` is the actuator) or a switch that
    sticks or works again."""

    kind: str
    signal: str
    on: bool


@dataclass(frozen=True, slots=True)
class InputChange:
    """An input changed: by a hand or from outside, or by the machine (``by`` is then the actuator of the switch)."""

    signal: str
    on: bool
    by: str = ""


@dataclass(frozen=True, slots=True)
class ContactMove:
    """A contact closed or opened in a rung."""

    contact: Contact
    rung: int
    closed: bool


@dataclass(frozen=True, slots=True)
class TerminalChange:
    """A rung gained or lost continuity, and so a terminal of a device became live or dead. ``through`` is the way
    the current takes, for a live one."""

    feed: Feed
    rung: int
    live: bool
    cause: Cause
    through: tuple[Contact, ...] = ()


@dataclass(frozen=True, slots=True)
class CoilChange:
    """A relay, timer, latching relay or counter went from one value to another (``CircuitLogic``), because of the
    terminals that changed, or because its time was over (``expired``); and what its contacts then did."""

    device: Device
    before: int
    after: int
    terminals: tuple[TerminalChange, ...] = ()
    expired: bool = False
    contacts: tuple[ContactMove, ...] = ()

    @property
    def signal(self) -> str:
        return self.device.name.text


@dataclass(frozen=True, slots=True)
class Sealed:
    """A coil is held by its own contact from now on: with the contacts that brought it in open again, its rung would
    still conduct, and would not without its own."""

    device: str
    rung: int
    contact: Contact


@dataclass(frozen=True, slots=True)
class Held:
    """Contacts that carried current opened, and the rung conducts all the same, ``through`` another way."""

    feeds: tuple[Feed, ...]
    rung: int
    opened: tuple[Contact, ...]
    through: tuple[Contact, ...]


@dataclass(frozen=True, slots=True)
class OutputChange:
    """A load came on or went off. Without a rung where the logic has none, or the supply was lost."""

    signal: str
    on: bool
    terminal: TerminalChange | None = None


@dataclass(frozen=True, slots=True)
class Stroke:
    """A rod set out, stopped, turned or changed its speed. ``way`` is 1 out, -1 back, 0 standing; ``place`` says
    "end" or "home" where the rod is there. ``solenoids`` are those of its valve that changed at this instant."""

    actuator: str
    position_um: int
    was: int
    way: int
    rapid: bool = False
    place: str = ""
    solenoids: tuple[OutputChange, ...] = ()

    @property
    def signal(self) -> str:
        return self.actuator


@dataclass(frozen=True, slots=True)
class MotorChange:
    """A motor that runs both ways set out ("forward", "in reverse") or stopped ("")."""

    signal: str
    way: str


@dataclass(frozen=True, slots=True)
class PumpChange:
    """The first cylinder or motor takes oil of the pump, or nothing takes it any longer. ``unloaded`` is an actuator
    whose valve then leads the pump to tank through its centre."""

    wanted: bool
    unloaded: str = ""


@dataclass(frozen=True, slots=True)
class StepChange:
    """Steps of a chart were left and others entered: by the transitions given, as far as they are known, or because
    the chart was ``forced``."""

    left: tuple[str, ...]
    entered: tuple[str, ...]
    transitions: tuple[Transition, ...] = ()
    forced: bool = False


Fact = World | InputChange | CoilChange | OutputChange | Stroke | MotorChange | PumpChange | StepChange
"""What is told once, and only if it happened."""


@dataclass(frozen=True, slots=True)
class Refused:
    """A contact of an input closed in a rung that stays dead: ``missing`` are the contacts, still open, without which
    nothing flows through it. They are enough, and none of them can be left out."""

    contact: Contact
    rung: int
    missing: tuple[Contact, ...]


@dataclass(frozen=True, slots=True)
class Instant:
    """All that happened at one moment, in order of cause. ``expired`` are timers that ran out, ``timing`` those that
    run on and when they run out; ``active`` the steps of the chart afterwards (``parted``: whose outputs are others
    than those there are), ``on`` the loads, ``lit`` what is on
    inside; ``moving`` the rods on their way; ``refused`` what closed and led to nothing."""

    at_us: int
    world: tuple[World, ...]
    inputs: tuple[InputChange, ...]
    expired: tuple[str, ...]
    coils: tuple[tuple[CoilChange, ...], ...]
    sealed: tuple[Sealed, ...]
    held: tuple[Held, ...]
    steps: StepChange | None
    outputs: tuple[OutputChange, ...]
    motors: tuple[MotorChange, ...]
    strokes: tuple[Stroke, ...]
    pump: PumpChange | None
    timing: tuple[tuple[str, int], ...]
    supply: bool
    active: frozenset[str]
    parted: bool
    actuated: frozenset[str]
    on: frozenset[str]
    lit: tuple[str, ...]
    moving: frozenset[str]
    places: tuple[tuple[str, int], ...]
    refused: tuple[Refused, ...] = ()

    @property
    def facts(self) -> tuple[Fact, ...]:
        """Every change, in order of cause."""
        rounds = (change for one in self.coils for change in one)
        steps = () if self.steps is None else (self.steps,)
        pump = () if self.pump is None else (self.pump,)
        return (
            *self.world, *self.inputs, *rounds, *steps, *self.outputs, *self.motors, *self.strokes, *pump,
        )  # fmt: skip
