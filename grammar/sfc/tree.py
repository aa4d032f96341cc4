"""The tree of a textual sequential function chart: frozen nodes with their spans, which take no part in equality.

Conditions and the bodies of actions are structured text, with the nodes of ``grammar.structured_text.tree``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from grammar.structured_text.tree import Expression, Name, Node, Section, Statement

__all__ = ["Action", "Association", "Network", "Qualifier", "Step", "Transition"]


class Qualifier(StrEnum):
    """How an action goes with its step (IEC 61131-3:2003 Table 45, from memory)."""

    NON_STORED = "N"
    RESET = "R"
    SET = "S"
    LIMITED = "L"
    DELAYED = "D"
    PULSE = "P"
    STORED_DELAYED = "SD"
    DELAYED_STORED = "DS"
    STORED_LIMITED = "SL"
    PULSE_RISING = "P1"
    PULSE_FALLING = "P0"

    @property
    def timed(self) -> bool:
        """Whether a time belongs to it."""
        return self in (
            Qualifier.LIMITED,
            Qualifier.DELAYED,
            Qualifier.STORED_DELAYED,
            Qualifier.DELAYED_STORED,
            Qualifier.STORED_LIMITED,
        )


@dataclass(frozen=True, slots=True)
class Association(Node):
    """``Lamp(D, T#2s);`` in a step. ``time`` is a constant TIME."""

    action: Name
    qualifier: Qualifier = Qualifier.NON_STORED
    time: Expression | None = None


@dataclass(frozen=True, slots=True)
class Step(Node):
    name: Name
    initial: bool = False
    associations: tuple[Association, ...] = ()


@dataclass(frozen=True, slots=True)
class Transition(Node):
    """``name`` and ``priority`` are None where they are left out; the least priority number goes first."""

    sources: tuple[Name, ...]
    targets: tuple[Name, ...]
    condition: Expression
    name: Name | None = None
    priority: int | None = None


@dataclass(frozen=True, slots=True)
class Action(Node):
    name: Name
    body: tuple[Statement, ...] = ()


@dataclass(frozen=True, slots=True)
class Network(Node):
    """A ``FUNCTION_BLOCK`` or a ``PROGRAM`` whose body is a sequential function chart, with one part or several side
    by side; ``shared`` are the sections written before it, ``lost`` the names of declarations that can't be read."""

    kind: str
    name: Name
    sections: tuple[Section, ...]
    steps: tuple[Step, ...]
    transitions: tuple[Transition, ...]
    actions: tuple[Action, ...]
    shared: tuple[Section, ...] = ()
    lost: frozenset[str] = field(default=frozenset(), compare=False)
