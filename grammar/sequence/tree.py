"""The tree of a sequence program: frozen nodes, each with its span; no behaviour but equality and printing.

Spans and comments take no part in equality: two programs are equal when they say the same thing. Numbers stay as
written (``Quantity``); what they mean in microseconds or micrometres is the compiler's business.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from grammar.sequence.condition import After, AllOf, AnyOf, Cond, NotCond, PlaceIs, StateIs, StateWord, Sustained
from grammar.sequence.node import Comments, Line, Name, Node, Quantity, Text

__all__ = [
    "After",
    "AllOf",
    "Always",
    "AnyOf",
    "Attribute",
    "Bore",
    "Command",
    "Comments",
    "Cond",
    "Cycle",
    "CycleStep",
    "Cylinder",
    "Declaration",
    "DoubleSolenoid",
    "DropOut",
    "Fault",
    "Flow",
    "Home",
    "InputDevice",
    "Item",
    "LimitSwitch",
    "Line",
    "LoadDevice",
    "Machine",
    "Name",
    "Never",
    "Node",
    "NormallyExtended",
    "NotCond",
    "OnFault",
    "PlaceIs",
    "PressureSwitch",
    "Program",
    "Quantity",
    "Requirement",
    "Rod",
    "SingleActing",
    "SingleSolenoid",
    "StateIs",
    "StateWord",
    "Statement",
    "StopRule",
    "Stroke",
    "StrokeLength",
    "Sustained",
    "Switch",
    "Text",
    "TravelTime",
    "Trigger",
    "Turn",
    "Until",
    "Wait",
    "Whenever",
    "Within",
]


# --- devices --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Bore(Node):
    length: Quantity


@dataclass(frozen=True, slots=True)
class Rod(Node):
    length: Quantity


@dataclass(frozen=True, slots=True)
class StrokeLength(Node):
    length: Quantity


@dataclass(frozen=True, slots=True)
class Flow(Node):
    flow: Quantity


@dataclass(frozen=True, slots=True)
class TravelTime(Node):
    """``extends in 4 s`` or ``extends in 4 s to 6 s`` (direction ``extends`` or ``retracts``)."""

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
    Bore | Rod | StrokeLength | Flow | TravelTime | SingleSolenoid | DoubleSolenoid | SingleActing | NormallyExtended
    | LimitSwitch | PressureSwitch
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


# --- the cycle ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Stroke(Node):
    """``extend PLATEN`` or ``retract PLATEN``; actuator None where the machine has but one."""

    direction: str  # "extend", "retract"
    actuator: Name | None


@dataclass(frozen=True, slots=True)
class Turn(Node):
    """``turn on BUSY`` or ``turn off BUSY``."""

    on: bool
    load: Name


@dataclass(frozen=True, slots=True)
class Wait(Node):
    """``hold`` (a dwell: pressure stays on) or ``wait``. The two mean the same; the word is kept."""

    word: str


Command = Stroke | Turn | Wait


@dataclass(frozen=True, slots=True)
class Fault(Node):
    """``fault "platen did not reach the hide"``."""

    message: Text


@dataclass(frozen=True, slots=True)
class Within(Node):
    """``within 8 s or fault "..."``."""

    time: Quantity
    fault: Fault


@dataclass(frozen=True, slots=True)
class Until(Node):
    """``until at-end``: what ends the step."""

    condition: Cond


@dataclass(frozen=True, slots=True)
class CycleStep(Line):
    """One step: commands given together (``turn on BUSY and extend PLATEN``), and what ends it.

    Ends with ``until`` a condition, or ``duration`` (``hold 12 s``, ``extend PLATEN for 5 s``), or neither: a
    stroke then ends at its own switch, and anything else is given and the next step follows at once.
    """

    commands: tuple[Command, ...]
    until: Until | None = None
    duration: Quantity | None = None
    within: Within | None = None


@dataclass(frozen=True, slots=True)
class Trigger(Line):
    """``when START is pressed``: what starts the cycle."""

    condition: Cond


# Parallel work, choices, repeats and counters will be further members of this union.
Statement = CycleStep


@dataclass(frozen=True, slots=True)
class Cycle(Line):
    """``cycle`` with its trigger and its steps. A bare list of steps is a cycle without a trigger."""

    trigger: Trigger | None
    steps: tuple[Statement, ...]


# --- rules ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class DropOut(Node):
    """``drop out everything``."""


@dataclass(frozen=True, slots=True)
class StopRule(Line):
    """``when STOP is pressed, drop out everything``. It acts for as long as the condition holds."""

    condition: Cond
    response: DropOut = DropOut()


@dataclass(frozen=True, slots=True)
class OnFault(Line):
    """``when a fault is shown, turn on ALARM``."""

    turns: tuple[Turn, ...]


@dataclass(frozen=True, slots=True)
class Home(Line):
    """``home when PLATEN is at-home and GUARD is closed``: only then is the trigger obeyed."""

    condition: Cond


@dataclass(frozen=True, slots=True)
class Never(Line):
    """``never SOL1 while GUARD is open`` (``what`` may be a bare load or any condition), or ``never COND``."""

    what: Cond
    while_: Cond | None = None


@dataclass(frozen=True, slots=True)
class Always(Line):
    """``always GUARD is closed while SOL1`` or ``always COND``: the same as never its opposite."""

    what: Cond
    while_: Cond | None = None


@dataclass(frozen=True, slots=True)
class Whenever(Line):
    """``whenever START is pressed, RAM is at-end within 10 s``; also read: ``START is pressed leads to RAM is at-end
    within 10 s``."""

    cause: Cond
    effect: Cond
    within: Quantity


@dataclass(frozen=True, slots=True)
class Machine(Line):
    """``machine "Hide embossing station"``."""

    title: Text


Requirement = Never | Always | Whenever
"""What is checked in every run; it commands nothing."""

Declaration = Machine | Cylinder | InputDevice | LoadDevice | Cycle | StopRule | OnFault | Home | Requirement


@dataclass(frozen=True, slots=True)
class Program(Node):
    """A whole file, in the order written. ``comments_below`` are comment lines after the last node."""

    declarations: tuple[Declaration, ...]
    comments_below: tuple[str, ...] = field(default=(), compare=False)
