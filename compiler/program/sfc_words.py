"""Pieces of structured text that a reader of function charts writes itself, each with a place in the text."""

from __future__ import annotations

from collections.abc import Sequence

from grammar.source import Span
from grammar.structured_text.tree import (
    Assignment,
    Boolean,
    Chain,
    Expression,
    Link,
    Name,
    Negation,
    Pin,
    Variable,
)

__all__ = ["assign", "boolean", "conjunction", "disjunction", "negation", "pin", "variable"]


def variable(name: str, span: Span) -> Expression:
    """A variable by its name."""
    return Variable(Name(name, span=span), span=span)


def boolean(span: Span) -> Expression:
    """FALSE."""
    return Boolean(False, span=span)


def pin(block: str, name: str, span: Span) -> Expression:
    """An output of a block."""
    return Pin(Name(block, span=span), Name(name, span=span), span=span)


def negation(of: Expression) -> Expression:
    """``NOT x``."""
    return Negation(of, span=of.span)


def conjunction(parts: Sequence[Expression]) -> Expression:
    """All of one or more."""
    return _joined("AND", parts)


def disjunction(parts: Sequence[Expression]) -> Expression:
    """Any of one or more."""
    return _joined("OR", parts)


def _joined(operator: str, parts: Sequence[Expression]) -> Expression:
    first, *rest = parts
    return Chain(first, tuple(Link(operator, one) for one in rest), span=first.span) if rest else first


def assign(target: str, value: Expression, span: Span) -> Assignment:
    """``x := value``."""
    return Assignment(Name(target, span=span), value, span=span)
