"""Where words stand: a source text and spans in it."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property

__all__ = ["Place", "Source", "Span"]


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A stretch of a source text, as character offsets: ``start`` is in it, ``end`` is just past it."""

    start: int
    end: int

    def to(self, other: Span) -> Span:
        """The stretch from the start of this span to the end of the other."""
        return Span(min(self.start, other.start), max(self.end, other.end))


@dataclass(frozen=True, slots=True)
class Place:
    """A line and a column, both counted from 1; the column counts characters."""

    line: int
    column: int


@dataclass(frozen=True)
class Source:
    """A text and the name it is known by in messages (a file name, or ``<text>``).

    ``text`` has ``\\n`` line ends only; whoever makes a Source from a file normalises them first.
    """

    name: str
    text: str

    @cached_property
    def _starts(self) -> list[int]:
        starts = [0]
        starts.extend(i + 1 for i, c in enumerate(self.text) if c == "\n")
        return starts

    def place(self, offset: int) -> Place:
        """The line and column of a character offset."""
        line = bisect_right(self._starts, offset)
        return Place(line, offset - self._starts[line - 1] + 1)

    def line(self, number: int) -> str:
        """The text of a line (counted from 1), without its line end."""
        start = self._starts[number - 1]
        end = self.text.find("\n", start)
        return self.text[start:] if end < 0 else self.text[start:end]

    def words(self, span: Span) -> str:
        """The words a span covers."""
        return self.text[span.start : span.end]
