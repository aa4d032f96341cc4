"""The nodes of the cycle: commands, steps, and what orders steps (together, if, repeat, routines, letters)."""

from __future__ import annotations

from dataclasses import dataclass

from grammar.sequence.condition import Cond
from grammar.sequence.node import Line, Name, Node, Quantity, Text

__all__ = [
    "Again",
    "Branch",
    "Case",
    "Choice",
    "Command",
    "Count",
    "Cycle",
    "CycleStep",
    "Do",
    "Fault",
    "Halt",
    "Letters",
    "Move",
    "Repeat",
    "Routine",
    "Run",
    "Statement",
    "Stroke",
    "Together",
    "Trigger",
    "Turn",
    "Until",
    "Wait",
    "Within",
]


@dataclass(frozen=True, slots=True)
class Stroke(Node):
    """``extend PLATEN`` or ``retract PLATEN``; actuator None where the machine has but one. ``rapidly``: with the
    extra solenoid of a rapid (or regenerative) valve on."""

    direction: str  # "extend", "retract"
    actuator: Name | None
    rapidly: bool = False


@dataclass(frozen=True, slots=True)
class Turn(Node):
    """``turn on BUSY`` or ``turn off BUSY``."""

    on: bool
    load: Name


@dataclass(frozen=True, slots=True)
class Wait(Node):
    """``hold`` (a dwell: pressure stays on) or ``wait``. The two mean the same; the word is kept."""

    word: str


@dataclass(frozen=True, slots=True)
class Halt(Node):
    """``stop PRESS``: a three-position valve goes to its centre, a motor comes to rest."""

    what: Name


@dataclass(frozen=True, slots=True)
class Run(Node):
    """``run WINCH forward`` or ``run WINCH in reverse`` (direction ``forward``, ``reverse``)."""

    motor: Name
    direction: str


@dataclass(frozen=True, slots=True)
class Count(Node):
    """``count PARTS`` (one more) or, with ``clear``, ``clear PARTS`` (back to 0)."""

    counter: Name
    clear: bool = False


Command = Stroke | Turn | Wait | Halt | Run | Count


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


@dataclass(frozen=True, slots=True)
class Branch(Line):
    """One line of work among several that go on at the same time."""

    steps: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class Together(Line):
    """``together`` and the lines under it, then ``meanwhile`` and its lines, once or more. Over when all are."""

    branches: tuple[Branch, ...]


@dataclass(frozen=True, slots=True)
class Case(Line):
    """``if PART is made`` (or ``otherwise if ...``, or ``otherwise``: condition None) and the lines under it."""

    condition: Cond | None
    steps: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class Choice(Line):
    """``if ...`` and what follows it. The first case whose condition holds is taken; none, and no ``otherwise``: the
    cycle goes on."""

    cases: tuple[Case, ...]


@dataclass(frozen=True, slots=True)
class Repeat(Line):
    """``repeat 5 times``, ``repeat until PART is made`` (looked at after each pass) or ``repeat while PART is made``
    (looked at before each pass): one of the three is given. ``counter``: ``repeat 5 times, counted by PASSES``."""

    steps: tuple[Statement, ...]
    times: int | None = None
    until: Cond | None = None
    while_: Cond | None = None
    counter: Name | None = None


@dataclass(frozen=True, slots=True)
class Do(Line):
    """``do CLAMP_PART``: the steps of a routine, here."""

    routine: Name


@dataclass(frozen=True, slots=True)
class Move(Node):
    """``A+`` or ``A-``."""

    actuator: Name
    out: bool


@dataclass(frozen=True, slots=True)
class Letters(Line):
    """``A+ B+ (C+ D+) B- A-``: moves in order, those in brackets together. Each ends at its own switch."""

    moves: tuple[tuple[Move, ...], ...]


Statement = CycleStep | Together | Choice | Repeat | Do | Letters


@dataclass(frozen=True, slots=True)
class Cycle(Line):
    """``cycle`` with its trigger and its steps. A bare list of steps is a cycle without a trigger.

    ``station``: ``cycle of LOADER``, one of several that run side by side. ``again``: ``again while AUTO is on``
    at its end: the cycle begins anew, without its trigger, while that holds.
    """

    trigger: Trigger | None
    steps: tuple[Statement, ...]
    station: Name | None = None
    again: Again | None = None


@dataclass(frozen=True, slots=True)
class Again(Line):
    """``again while AUTO is on``: a continuous cycle. With ``stop at end of cycle when FINISH is pressed`` among the
    rules the cycle under way is its last."""

    condition: Cond


@dataclass(frozen=True, slots=True)
class Routine(Line):
    """``routine CLAMP_PART`` and its steps, to be used with ``do CLAMP_PART``."""

    name: Name
    steps: tuple[Statement, ...]
