"""One kind of message for everything Rungwright has to say about a user's text, and its one rendering.

Faults are values: readers and passes collect them and return them; only the command line prints and exits.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from difflib import get_close_matches
from enum import StrEnum

from grammar.source import Source, Span

__all__ = ["Diagnostic", "Entry", "Severity", "nearest", "render", "to_json"]


class Severity(StrEnum):
    """How much a message matters: a fault stops the build, a warning and an advice do not."""

    FAULT = "fault"
    WARNING = "warning"
    ADVICE = "advice"


@dataclass(frozen=True, slots=True)
class Diagnostic:
    """One message. ``expected`` and ``cure`` are whole plain phrases, or empty where there is none."""

    code: str
    severity: Severity
    message: str
    span: Span | None = None
    expected: str = ""
    cure: str = ""


@dataclass(frozen=True, slots=True)
class Entry:
    """What ``rungwright explain CODE`` tells: why the message exists, an example of it, and the way out."""

    code: str
    severity: Severity
    title: str
    why: str
    example: str
    cure: str


def nearest(word: str, known: list[str]) -> str | None:
    """The known word most like ``word`` (letter case ignored), or None when none is close."""
    folded = {k.casefold(): k for k in known}
    found = get_close_matches(word.casefold(), list(folded), n=1, cutoff=0.6)
    return folded[found[0]] if found else None


def render(diagnostic: Diagnostic, source: Source) -> str:
    """The message as text: ``file:line:column``, the line, the words at fault underlined, what to do.

    No colour: the command line adds it. Long lines are cut round the words at fault, and characters that would
    move the cursor or reorder the line are shown as ``·``.
    """
    head = f"{diagnostic.severity} {diagnostic.code}: {diagnostic.message}"
    lines = [f"{source.name}: {head}"]
    if diagnostic.span is not None:
        place = source.place(diagnostic.span.start)
        lines = [f"{source.name}:{place.line}:{place.column}: {head}"]
        lines += _excerpt(diagnostic.span, source)
    if diagnostic.expected:
        lines.append(f"    expected: {diagnostic.expected}")
    if diagnostic.cure:
        lines.append(f"    try: {diagnostic.cure}")
    return "\n".join(lines)


def _excerpt(span: Span, source: Source) -> list[str]:
    place = source.place(span.start)
    line = source.line(place.line)
    first = place.column - 1
    last = max(first + 1, min(len(line), first + span.end - span.start))
    cut = max(0, first - 50)
    shown = line[cut : cut + 100]
    lead, trail = ("…" if cut else ""), ("…" if cut + 100 < len(line) else "")
    under_from = len(lead) + _width(_plain(line[cut:first]))
    under_wide = max(1, _width(_plain(line[first : min(last, cut + 100)])))
    number = f"{place.line:>5} | "
    return [
        f"{number}{lead}{_plain(shown)}{trail}",
        f"{' ' * (len(number) - 2)}| {' ' * under_from}{'^' * under_wide}",
    ]


def _plain(text: str) -> str:
    return "".join(" " if c == "\t" else "·" if unicodedata.category(c)[0] == "C" else c for c in text)


def _width(text: str) -> int:
    """Terminal columns: wide East Asian characters take two, combining marks none."""
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


def to_json(diagnostic: Diagnostic, source: Source) -> dict[str, object]:
    """The message as plain data: stable keys, line and column counted from 1, end column just past."""
    out: dict[str, object] = {
        "code": diagnostic.code,
        "severity": str(diagnostic.severity),
        "message": diagnostic.message,
        "file": source.name,
    }
    if diagnostic.span is not None:
        start, end = source.place(diagnostic.span.start), source.place(diagnostic.span.end)
        out |= {
            "line": start.line,
            "column": start.column,
            "end_line": end.line,
            "end_column": end.column,
            "words": source.words(diagnostic.span),
        }
    return out | {"expected": diagnostic.expected, "cure": diagnostic.cure}
