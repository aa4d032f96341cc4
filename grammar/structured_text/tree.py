"""The tree of a structured text program: frozen nodes with their spans; no behaviour but equality and printing.

Spans take no part in equality. Names and numbers stay as written; what a number is worth is told by
``literals.py``, whether a name is declared by ``check.py``.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from grammar.source import Span

__all__ = [
    "Argument",
    "Assignment",
    "Boolean",
    "Branch",
    "Call",
    "CaseStatement",
    "Chain",
    "Declaration",
    "Duration",
    "Empty",
    "Entry",
    "Expression",
    "Given",
    "IfStatement",
    "Integer",
    "Label",
    "Link",
    "Name",
    "Negation",
    "Negative",
    "Node",
    "Pin",
    "PinAssignment",
    "ReturnStatement",
    "Section",
    "Statement",
    "Taken",
    "Unit",
    "Unread",
    "Variable",
]


def _span() -> Span:
    return Span(0, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    span: Span = field(default_factory=_span, compare=False)


@dataclass(frozen=True, slots=True)
class Name(Node):
    """A name as written. Letter case does not count when names are looked up."""

    text: str


# --- expressions ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Boolean(Node):
    """``TRUE`` or ``FALSE``."""

    value: bool


@dataclass(frozen=True, slots=True)
class Integer(Node):
    """``5``, ``16#FF``, ``INT#5``, ``BOOL#1``, as written."""

    text: str


@dataclass(frozen=True, slots=True)
class Duration(Node):
    """``T#2s500ms``, as written."""

    text: str


@dataclass(frozen=True, slots=True)
class Unread(Node):
    """A literal the standard knows and this reader does not: a REAL number or a string."""

    text: str


@dataclass(frozen=True, slots=True)
class Variable(Node):
    name: Name


@dataclass(frozen=True, slots=True)
class Pin(Node):
    """``tDwell.Q``: an output of a block."""

    block: Name
    pin: Name


@dataclass(frozen=True, slots=True)
class Negation(Node):
    """``NOT x``."""

    of: Expression


@dataclass(frozen=True, slots=True)
class Negative(Node):
    """``-x``."""

    of: Expression


@dataclass(frozen=True, slots=True)
class Link:
    """An operator, in capitals, and what stands to its right."""

    operator: str
    operand: Expression


@dataclass(frozen=True, slots=True)
class Chain(Node):
    """Operands joined by operators of one precedence, worked from left to right: ``a OR b OR c``, ``2 + 3 - 1``."""

    first: Expression
    links: tuple[Link, ...]


Expression = Boolean | Integer | Duration | Unread | Variable | Pin | Negation | Negative | Chain


# --- statements -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Empty(Node):
    """A lone semicolon."""


@dataclass(frozen=True, slots=True)
class Assignment(Node):
    target: Name
    value: Expression


@dataclass(frozen=True, slots=True)
class PinAssignment(Node):
    """``tDwell.IN := x``: an input of a block given before it is called."""

    pin: Pin
    value: Expression


@dataclass(frozen=True, slots=True)
class ReturnStatement(Node):
    """``RETURN``: the rest of the scan is left out."""


@dataclass(frozen=True, slots=True)
class Given(Node):
    """``IN := x`` in a call."""

    pin: Name
    value: Expression


@dataclass(frozen=True, slots=True)
class Taken(Node):
    """``Q => x`` in a call."""

    pin: Name
    target: Name


Argument = Given | Taken


@dataclass(frozen=True, slots=True)
class Call(Node):
    """``tDwell(IN := x, PT := T#5s, Q => y)``."""

    block: Name
    arguments: tuple[Argument, ...] = ()


@dataclass(frozen=True, slots=True)
class Branch(Node):
    """A condition and what is done where it is the first that holds."""

    condition: Expression
    body: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class IfStatement(Node):
    """IF and ELSIF branches; ``otherwise`` is None where there is no ELSE."""

    branches: tuple[Branch, ...]
    otherwise: tuple[Statement, ...] | None = None


@dataclass(frozen=True, slots=True)
class Label(Node):
    """``5``, ``IDLE`` or ``5..9`` (both ends included)."""

    first: Integer | Negative | Variable
    last: Integer | Negative | Variable | None = None


@dataclass(frozen=True, slots=True)
class Entry(Node):
    """``2, 5..9:`` and its statements."""

    labels: tuple[Label, ...]
    body: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class CaseStatement(Node):
    selector: Expression
    entries: tuple[Entry, ...]
    otherwise: tuple[Statement, ...] | None = None


Statement = Empty | Assignment | PinAssignment | Call | IfStatement | CaseStatement | ReturnStatement


# --- declarations ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Declaration(Node):
    """``a0, a1 : BOOL;``, ``StepNo : INT := 0;`` or ``LS1 AT %IX0.2 : BOOL;``."""

    names: tuple[Name, ...]
    type: Name
    initial: Expression | None = None
    address: str = ""


@dataclass(frozen=True, slots=True)
class Section(Node):
    """``VAR_INPUT``, ``VAR`` or the like, with ``CONSTANT``, ``RETAIN``, ``NON_RETAIN`` as written."""

    kind: str
    qualifiers: tuple[str, ...]
    declarations: tuple[Declaration, ...]


@dataclass(frozen=True, slots=True)
class Unit(Node):
    """A ``FUNCTION_BLOCK`` or a ``PROGRAM``; ``shared`` are the sections written before it."""

    kind: str
    name: Name
    sections: tuple[Section, ...]
    body: tuple[Statement, ...]
    shared: tuple[Section, ...] = ()
