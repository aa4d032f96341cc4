"""What every node of the tree is made of: a span, comments where it starts a line, names, texts and quantities."""

from __future__ import annotations

from dataclasses import dataclass, field

from grammar.source import Span

__all__ = ["Comments", "Line", "Name", "Node", "Quantity", "Text"]


def _span() -> Span:
    return Span(0, 0)


@dataclass(frozen=True, slots=True)
class Comments:
    """Comment lines above a node and the comment at the end of its line, each without its ``#`` and blanks."""

    above: tuple[str, ...] = ()
    beside: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    span: Span = field(default_factory=_span, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line(Node):
    """A node that starts a line in the canonical form, and so can carry comments."""

    comments: Comments = field(default=Comments(), compare=False)


@dataclass(frozen=True, slots=True)
class Name(Node):
    """A device name as written. Names are looked up ignoring letter case."""

    text: str


@dataclass(frozen=True, slots=True)
class Text(Node):
    """A quoted text, without its quotes."""

    text: str


@dataclass(frozen=True, slots=True)
class Quantity(Node):
    """A number and a unit, both as written (the number with a decimal point, the unit in its canonical spelling:
    ``mm cm m in bar psi MPa kPa L/min gpm us ms s min h``)."""

    number: str
    unit: str
