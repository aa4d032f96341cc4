"""The nodes of rules: what STOP does, faults, home, interlocks (enforced) and requirements (checked)."""

from __future__ import annotations

from dataclasses import dataclass

from grammar.sequence.condition import Cond
from grammar.sequence.node import Line, Name, Node, Quantity
from grammar.sequence.tree.cycle import Statement, Turn

__all__ = [
    "Always",
    "DropOut",
    "FaultReset",
    "FinishCycle",
    "FinishStep",
    "Home",
    "Interlock",
    "Never",
    "NeverWith",
    "OnFault",
    "OnlyWhile",
    "Requirement",
    "ReturnHome",
    "StopRule",
    "Whenever",
]


@dataclass(frozen=True, slots=True)
class DropOut(Node):
    """``drop out everything``."""


@dataclass(frozen=True, slots=True)
class FinishStep(Node):
    """``finish the stroke``: the step under way comes to its end, and the machine then rests as at the start."""


@dataclass(frozen=True, slots=True)
class ReturnHome(Node):
    """``return home`` and the steps under it, in the order stated."""

    steps: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class StopRule(Line):
    """``when STOP is pressed, drop out everything`` (for as long as it holds), ``..., finish the stroke`` or ``...,
    return home`` and the steps under it (both begun by the moment it is pressed)."""

    condition: Cond
    response: DropOut | FinishStep | ReturnHome = DropOut()


@dataclass(frozen=True, slots=True)
class FinishCycle(Line):
    """``stop at end of cycle when FINISH is pressed``: remembered until the machine rests."""

    condition: Cond


@dataclass(frozen=True, slots=True)
class FaultReset(Line):
    """``a fault is reset by RESET``: pressing it leads from a fault shown back to rest. (STOP always does, where it
    drops out everything.)"""

    condition: Cond


@dataclass(frozen=True, slots=True)
class OnlyWhile(Line):
    """``SOL1 only while GUARD is closed``: enforced. The load comes on only while the condition holds."""

    load: Name
    condition: Cond


@dataclass(frozen=True, slots=True)
class NeverWith(Line):
    """``never SOL5 with SOL6``: enforced. Where both are commanded, neither comes on."""

    one: Name
    other: Name


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


Requirement = Never | Always | Whenever
"""What is checked in every run; it commands nothing."""

Interlock = OnlyWhile | NeverWith
"""What is enforced in every implementation."""
