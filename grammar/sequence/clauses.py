"""Nodes that are less than a line of the tree: what one clause says before it is joined to the one it continues."""

from __future__ import annotations

from dataclasses import dataclass

from grammar.sequence.tree import (
    Cond,
    CycleStep,
    Do,
    DropOut,
    FinishStep,
    Move,
    Name,
    Node,
    Quantity,
    ReturnHome,
    Text,
)

__all__ = [
    "Another",
    "BlockHead",
    "Centre",
    "Contact",
    "CountedBy",
    "CycleHead",
    "CylinderHead",
    "Direction",
    "DoubleSides",
    "Duration",
    "FaultClause",
    "FinishClause",
    "GiveOrTake",
    "Group",
    "IfHead",
    "Lifted",
    "LimitPlaces",
    "MeanwhileHead",
    "MotorHead",
    "MotorSide",
    "MotorSides",
    "OtherwiseHead",
    "Place",
    "PressurePlaces",
    "PumpHead",
    "RepeatHead",
    "ResetTravel",
    "Response",
    "RoutineHead",
    "Side",
    "SpringCentred",
    "SpringReturn",
    "StepClause",
    "Steps",
    "ThreeSides",
    "TogetherHead",
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
class PumpHead(Node):
    """``hydraulic pump``; its lines follow."""


@dataclass(frozen=True, slots=True)
class GiveOrTake(Node):
    """``give or take 10 %``: belongs to the quantity just before it."""

    share: Quantity


@dataclass(frozen=True, slots=True)
class Lifted(Node):
    """``lifted``: belongs to the load just before it."""


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
class MotorHead(Node):
    """``hydraulic motor WINCH``; what turns it forward and in reverse follows."""

    kind: str
    name: Name


@dataclass(frozen=True, slots=True)
class MotorSide(Node):
    """``SOL5 forward``: one direction of a motor."""

    load: Name
    direction: str


@dataclass(frozen=True, slots=True)
class MotorSides(Node):
    """One direction of a motor, or both joined by ``and``."""

    sides: tuple[MotorSide, ...]


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
class SpringCentred(Node):
    """``spring-centred``: belongs to the three-position valve before it."""


@dataclass(frozen=True, slots=True)
class Centre(Node):
    """``closed centre``, ``tandem centre`` or ``float centre``: belongs to the three-position valve before it."""

    word: str


@dataclass(frozen=True, slots=True)
class Side(Node):
    """``SOL1A extends``: one half of a valve with two solenoids."""

    solenoid: Name
    direction: str


@dataclass(frozen=True, slots=True)
class DoubleSides(Node):
    """``double solenoid valve SOL1A extends``; the other half may follow as a clause."""

    sides: tuple[Side, ...]


@dataclass(frozen=True, slots=True)
class ThreeSides(Node):
    """``three-position valve SOL1 extends``, perhaps with its centre; the other half may follow as a clause."""

    sides: tuple[Side, ...]
    centre: str


@dataclass(frozen=True, slots=True)
class CycleHead(Node):
    """``cycle`` or ``cycle of LOADER``; its steps follow."""

    station: Name | None = None


@dataclass(frozen=True, slots=True)
class RoutineHead(Node):
    """``routine CLAMP_PART``; its steps follow."""

    name: Name


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

    steps: tuple[StepClause | Do, ...]


@dataclass(frozen=True, slots=True)
class TogetherHead(Node):
    """``together``; the first of several lines of work follows."""


@dataclass(frozen=True, slots=True)
class MeanwhileHead(Node):
    """``meanwhile``, or ``meanwhile extend GATE``: another line of work."""

    steps: Steps | None = None


@dataclass(frozen=True, slots=True)
class IfHead(Node):
    """``if PART is made``, or ``if PART is made then extend PUSHER``."""

    condition: Cond
    steps: Steps | None = None


@dataclass(frozen=True, slots=True)
class OtherwiseHead(Node):
    """``otherwise``, ``otherwise if AUTO is on``, or ``otherwise extend PUSHER``."""

    condition: Cond | None = None
    steps: Steps | None = None


@dataclass(frozen=True, slots=True)
class RepeatHead(Node):
    """``repeat 5 times``, ``repeat until PART is made`` or ``repeat while PART is made``."""

    times: int | None = None
    until: Cond | None = None
    while_: Cond | None = None
    counter: Name | None = None


BlockHead = TogetherHead | MeanwhileHead | IfHead | OtherwiseHead | RepeatHead


@dataclass(frozen=True, slots=True)
class CountedBy(Node):
    """``counted by PASSES``: belongs to the repeat just before it."""

    counter: Name


@dataclass(frozen=True, slots=True)
class Group(Node):
    """``(C+ D+)``: moves made together."""

    moves: tuple[Move, ...]


@dataclass(frozen=True, slots=True)
class When(Node):
    """``when COND``: the trigger of the cycle, or a rule if ``drop out everything`` or the like follows."""

    condition: Cond
    response: DropOut | FinishStep | ReturnHome | FinishClause | None


@dataclass(frozen=True, slots=True)
class FinishClause(Node):
    """``stop at end of cycle``, with or without the ``when COND`` that asks for it."""

    condition: Cond | None


Response = DropOut | FinishStep | ReturnHome | FinishClause
"""What may follow ``when COND,`` and make it a rule."""


@dataclass(frozen=True, slots=True)
class WhenFault(Node):
    """``when a fault is shown``: what to turn on follows."""
