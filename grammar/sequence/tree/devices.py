"""The nodes of devices: the machine's title, cylinders with their lines, inputs, loads, motors, counters."""

from __future__ import annotations

from dataclasses import dataclass

from grammar.sequence.node import Line, Name, Node, Quantity, Text
from grammar.sequence.tree.ratings import Rating

__all__ = [
    "Attribute",
    "Bore",
    "CounterDevice",
    "Cylinder",
    "DoubleSolenoid",
    "Flow",
    "InputDevice",
    "Item",
    "LimitSwitch",
    "LoadDevice",
    "Machine",
    "MotorDevice",
    "NormallyExtended",
    "PressureSwitch",
    "Pump",
    "RapidSolenoid",
    "Rod",
    "SignalDevice",
    "SingleActing",
    "SingleSolenoid",
    "StrokeLength",
    "Switch",
    "ThreePosition",
    "TravelTime",
]


@dataclass(frozen=True, slots=True)
class Machine(Line):
    """``machine "Hide embossing station"``."""

    title: Text


@dataclass(frozen=True, slots=True)
class Bore(Node):
    length: Quantity
    spread: Quantity | None = None


@dataclass(frozen=True, slots=True)
class Rod(Node):
    length: Quantity


@dataclass(frozen=True, slots=True)
class StrokeLength(Node):
    length: Quantity


@dataclass(frozen=True, slots=True)
class Flow(Node):
    flow: Quantity
    spread: Quantity | None = None


@dataclass(frozen=True, slots=True)
class TravelTime(Node):
    """``extends in 4 s`` or ``extends rapidly in 0.8 s to 1 s`` (direction ``extends``, ``extends rapidly`` or
    ``retracts``)."""

    direction: str
    least: Quantity
    greatest: Quantity | None = None


@dataclass(frozen=True, slots=True)
class SingleSolenoid(Node):
    """``single solenoid valve SOL1, spring return``."""

    solenoid: Name


@dataclass(frozen=True, slots=True)
class DoubleSolenoid(Node):
    """``double solenoid valve SOL1A extends, SOL1B retracts``."""

    extends: Name
    retracts: Name


@dataclass(frozen=True, slots=True)
class ThreePosition(Node):
    """``three-position valve SOL1 extends, SOL2 retracts, closed centre`` (or ``tandem``, ``float``)."""

    extends: Name
    retracts: Name
    centre: str


@dataclass(frozen=True, slots=True)
class RapidSolenoid(Node):
    """``rapid solenoid SOL3`` or ``regenerative solenoid SOL3``: with it on, the stroke out is quick."""

    kind: str
    solenoid: Name


@dataclass(frozen=True, slots=True)
class SingleActing(Node):
    """``single-acting``: the spring in the cylinder brings it home."""


@dataclass(frozen=True, slots=True)
class NormallyExtended(Node):
    """``normally extended``: it rests extended; a single solenoid then retracts it."""


@dataclass(frozen=True, slots=True)
class Switch(Node):
    """A place for a limit switch: at ``end``, ``home``, or a distance from home."""

    name: Name
    at: str | Quantity
    reset_travel: Quantity | None = None
    contact: str = "normally open"


@dataclass(frozen=True, slots=True)
class LimitSwitch(Node):
    """``limit switch LS1 at end, LS2 at home, LS3 at 120 mm, reset travel 2 mm, normally closed``.

    One node for each switch; the canonical form writes each on its own line.
    """

    switch: Switch


@dataclass(frozen=True, slots=True)
class PressureSwitch(Node):
    """``pressure switch PS1 at 90 bar`` (direction ``extends``, or ``retracts`` when so written)."""

    name: Name
    pressure: Quantity
    direction: str = "extends"
    contact: str = "normally open"


Attribute = (
    Bore | Rod | StrokeLength | Flow | TravelTime | SingleSolenoid | DoubleSolenoid | ThreePosition | RapidSolenoid
    | SingleActing | NormallyExtended | LimitSwitch | PressureSwitch | Rating
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Item(Line):
    """An attribute of a cylinder on a line of its own."""

    attribute: Attribute


@dataclass(frozen=True, slots=True)
class Cylinder(Line):
    """``hydraulic cylinder PLATEN`` and its indented attributes. ``medium`` is ``hydraulic`` or ``pneumatic``."""

    medium: str
    name: Name
    items: tuple[Item, ...] = ()


@dataclass(frozen=True, slots=True)
class Pump(Line):
    """``hydraulic pump`` and its indented lines: the one pump of the machine."""

    items: tuple[Item, ...] = ()


@dataclass(frozen=True, slots=True)
class InputDevice(Line):
    """``pushbutton START, normally open``, ``selector AUTO``, ``sensor PART, normally closed``."""

    kind: str  # "pushbutton", "selector", "sensor"
    name: Name
    contact: str = "normally open"


@dataclass(frozen=True, slots=True)
class LoadDevice(Line):
    """``lamp BUSY``, ``horn ALARM``, ``motor PUMP``."""

    kind: str
    name: Name


@dataclass(frozen=True, slots=True)
class CounterDevice(Line):
    """``counter PARTS``."""

    name: Name


@dataclass(frozen=True, slots=True)
class SignalDevice(Line):
    """``signal TRAY_READY``: turned on and off like a lamp, wired to nothing; stations tell each other with it."""

    name: Name


@dataclass(frozen=True, slots=True)
class MotorDevice(Line):
    """``hydraulic motor WINCH, SOL5 forward, SOL6 reverse`` or ``electric motor ...``: never both at once."""

    kind: str  # "hydraulic", "electric"
    name: Name
    forward: Name
    reverse: Name
