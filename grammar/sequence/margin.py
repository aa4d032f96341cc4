"""Indentation that misleads: the words are plain, but the shape of the lines says something else."""

from __future__ import annotations

from grammar.diagnostic import Diagnostic, Severity
from grammar.source import Span

__all__ = ["between_columns", "indented", "not_indented", "too_far"]


def indented(span: Span) -> Diagnostic:
    """A declaration on a line that is indented."""
    message = "this begins something new, but its line is indented as if it belonged to the lines above"
    return _misled(message, span, "start it at the left margin")


def not_indented(owner: str, span: Span) -> Diagnostic:
    """A line that belongs to what stands above it, at the left margin or as far left as its owner."""
    message = f"this belongs to {owner}, but its line is not indented under it"
    return _misled(message, span, "indent it by four blanks; 'rungwright format' does it")


def too_far(span: Span) -> Diagnostic:
    """A step further right than the one before, which begins no block."""
    message = "this line is indented as if it belonged to the one above, which begins no block"
    cure = "start it where the line above starts; lines that go on at the same time stand under 'together'"
    return _misled(message, span, cure)


def between_columns(span: Span) -> Diagnostic:
    """A line between the column of a block and that of its lines."""
    message = "this line starts at no column where a line above starts, so it is not plain what it belongs to"
    cure = "start it right under the line it follows, or further right under the block it belongs to"
    return Diagnostic("RW156", Severity.FAULT, message, _first(span), cure=cure)


def _misled(message: str, span: Span, cure: str) -> Diagnostic:
    return Diagnostic("RW128", Severity.WARNING, message, _first(span), cure=cure)


def _first(span: Span) -> Span:
    return Span(span.start, span.start + 1)
