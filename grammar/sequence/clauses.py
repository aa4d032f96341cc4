"""Nodes that are less than a line of the tree: what one clause says before it is joined to the one it continues."""

from __future__ import annotations

from dataclasses import dataclass

from grammar.sequence.tree import Cond, CycleStep, DropOut, Name, Node, Quantity, Text

__all__ = [
    "Another",
    "Contact",
    "CycleHead",
    "CylinderHead",
    "Direction",
    "DoubleSides",
    "Duration",
    "FaultClause",
    "LimitPlaces",
    "Place",
    "PressurePlaces",
    "ResetTravel",
    "Side",
    "SpringReturn",
    "StepClause",
    "Steps",
    "When",
    "WhenFault",
    "WithinClause",
]


@dataclass(frozen=True, slots=True)
class CylinderHead(Node):
    """``hydraulic cylinder PLATEN``; its lines follow."""

    medium: str
    name: Name


@dataclass(frozen=True, slots=True)
class Contact(Node):
    """``normally closed``: belongs to the device or switch just before it."""

    form: str


@dataclass(frozen=True, slots=True)
class Another(Node):
    """A second name of the same kind: ``lamp BUSY, READY``."""

    name: Name
    contact: str | None


@dataclass(frozen=True, slots=True)
class Direction(Node):
    """``retracting``: belongs to the pressure switch just before it."""

    word: str


@dataclass(frozen=True, slots=True)
class Place(Node):
    """``LS2 at home``, ``PS1 at 6 bar``: which kind of switch follows from what it stands at."""

    name: Name
    at: str | Quantity
    direction: str | None = None
    contact: str | None = None


@dataclass(frozen=True, slots=True)
class LimitPlaces(Node):
    """``limit switch LS1 at end``; more places may follow."""

    place: Place


@dataclass(frozen=True, slots=True)
class PressurePlaces(Node):
    """``pressure switch PS1 at 6 bar``; more places may follow."""

    place: Place


@dataclass(frozen=True, slots=True)
class ResetTravel(Node):
    """``reset travel 2 mm``: belongs to the limit switch just before it."""

    length: Quantity


@dataclass(frozen=True, slots=True)
class SpringReturn(Node):
    """``spring return``: belongs to the valve (or the single-acting cylinder) before it."""


@dataclass(frozen=True, slots=True)
class Side(Node):
    """``SOL1A extends``: one half of a double solenoid valve."""

    solenoid: Name
    direction: str


@dataclass(frozen=True, slots=True)
class DoubleSides(Node):
    """``double solenoid valve SOL1A extends``; the other half may follow as a clause."""

    sides: tuple[Side, ...]


@dataclass(frozen=True, slots=True)
class CycleHead(Node):
    """``cycle``; its steps follow."""


@dataclass(frozen=True, slots=True)
class Duration(Node):
    """``for 5 s`` or a bare ``5 s``."""

    time: Quantity
    bare: bool


@dataclass(frozen=True, slots=True)
class FaultClause(Node):
    """``or fault "..."`` on its own, after ``within 8 s``."""

    message: Text


@dataclass(frozen=True, slots=True)
class WithinClause(Node):
    """``within 8 s`` with or without its fault."""

    time: Quantity
    message: Text | None


@dataclass(frozen=True, slots=True)
class StepClause(Node):
    """One step as it stands in its clause, with the parts that the tree no longer shows."""

    step: CycleStep
    bare_time: Duration | None
    within: WithinClause | None
    astray: Name | None = None  # a name after "hold" or "wait"


@dataclass(frozen=True, slots=True)
class Steps(Node):
    """One step, or several joined by ``then``."""

    steps: tuple[StepClause, ...]


@dataclass(frozen=True, slots=True)
class When(Node):
    """``when COND``: the trigger of the cycle, or a rule if ``drop out everything`` follows."""

    condition: Cond
    response: DropOut | None


@dataclass(frozen=True, slots=True)
class WhenFault(Node):
    """``when a fault is shown``: what to turn on follows."""
