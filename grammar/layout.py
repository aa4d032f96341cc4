"""From a text to logical lines and clauses: the shape of a text before its words mean anything.

A line is an indentation, clauses parted by commas, and a comment after ``#``. Every language read line by line can
stand on this. Characters that only look right (a typographic quote, a no-break space) are read as what they look
like; characters that deceive (a Cyrillic A in a Latin word, a zero-width space) are reported by name.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from itertools import pairwise

from grammar.characters import BLANKS, CLOSERS, DASHES, is_hidden, latin_for, told
from grammar.deceiving import hidden
from grammar.diagnostic import Diagnostic, Severity
from grammar.source import Source, Span

__all__ = ["DEEPEST", "Clause", "Layout", "Line", "lay_out"]

DEEPEST = 50
"""How many brackets may stand inside one another."""
INCH = "″"
"""What an inch mark is read as, so that it can't be taken for a quote."""
_TAB = 4


@dataclass(frozen=True, slots=True)
class Clause:
    """What stands between two commas, with odd characters already read as plain ones.

    ``offsets`` gives the place in the source of each character of ``text``, and of the end. ``faulty`` says that a
    fault in it has been reported, ``readable`` that it is worth reading on all the same.
    """

    text: str
    offsets: tuple[int, ...] | range
    faulty: bool = False
    readable: bool = True

    def span(self, start: int = 0, end: int | None = None) -> Span:
        """The place in the source of a stretch of ``text``; of all of it when nothing is said."""
        last = len(self.text) if end is None else end
        if last <= start:
            return Span(self.offsets[start], self.offsets[start])
        return Span(self.offsets[start], self.offsets[last - 1] + 1)


@dataclass(frozen=True, slots=True)
class Line:
    """A line that is not blank. ``indent`` is in columns; ``comment`` is without its ``#`` and blanks."""

    number: int
    indent: int
    clauses: tuple[Clause, ...]
    comment: str | None = None


@dataclass(frozen=True, slots=True)
class Layout:
    """The lines of a text and what was at fault in its characters, quotes and brackets (codes RW010 to RW019).

    ``unsure``: the margin of a line that stands further left or right of another, or not, by how wide a tab is.
    """

    lines: tuple[Line, ...]
    diagnostics: tuple[Diagnostic, ...]
    unsure: Span | None = None


def lay_out(source: Source) -> Layout:
    """The lines and clauses of a text, in one pass; the work grows with its length and no faster. Never raises."""
    lines: list[Line] = []
    found: list[Diagnostic] = []
    seen_indents: dict[str, Span] = {}
    margins: dict[str, Span] = {}
    start = 0
    for number, raw in enumerate(source.text.split("\n"), 1):
        body = raw.lstrip(BLANKS)
        if body:
            margin = raw[: len(raw) - len(body)]
            margins.setdefault(margin, Span(start, start + len(margin)))
            for kind in {"\t" if c == "\t" else " " for c in margin}:
                seen_indents.setdefault(kind, Span(start, start + len(margin)))
            scan = _Scan(start + len(margin), body)
            clauses = scan.run()
            found.extend(scan.found)
            lines.append(Line(number, _columns(margin), clauses, scan.comment))
        start += len(raw) + 1
    if len(seen_indents) == 2:
        found.append(_mixed_indents(max(seen_indents.values())))
    return Layout(tuple(lines), tuple(found), _unsure(margins) if len(seen_indents) == 2 else None)


def _columns(margin: str, tab: int = _TAB) -> int:
    column = 0
    for c in margin:
        column = (column // tab + 1) * tab if c == "\t" else column + 1
    return column


def _unsure(margins: dict[str, Span]) -> Span | None:
    """The first margin that is not as far right of the others with tabs of every width."""
    placed = sorted(margins, key=lambda m: (_columns(m), _columns(m, 8), _columns(m, 1)))
    for one, other in pairwise(placed):
        steps = {
            (_columns(other, tab) > _columns(one, tab)) - (_columns(other, tab) < _columns(one, tab))
            for tab in (1, _TAB, 8)
        }
        if len(steps) > 1:
            return max(margins[one], margins[other])
    return None


def _mixed_indents(span: Span) -> Diagnostic:
    return Diagnostic(
        "RW011",
        Severity.WARNING,
        f"some lines are indented with tabs, others with blanks; a tab counts to the next multiple of {_TAB} columns",
        span,
        cure="indent with four blanks throughout; 'rungwright format' does it",
    )


class _Scan:
    """One line being scanned. It holds what has been read of the clause under way."""

    def __init__(self, start: int, body: str) -> None:
        self.start = start
        self.body = body
        self.found: list[Diagnostic] = []
        self.comment: str | None = None
        self.chars: list[str] = []
        self.places: list[int] = []
        self.commas: list[tuple[int, int]] = []  # index into chars, bracket depth
        self.opened: list[int] = []  # indices into body of brackets not closed yet
        self.fault_at: list[int] = []  # indices into chars
        self.too_deep: list[int] = []

    def run(self) -> tuple[Clause, ...]:
        word = self._latin_words()
        i = 0
        while i < len(self.body):
            c = self.body[i]
            if c == "#":
                self._comment(i)
                break
            if c in CLOSERS and not self._is_inch(i, c):
                i = self._text(i)
                continue
            self._plain(i, word.get(i, c))
            i += 1
        self._unclosed_brackets()
        return self._cut()

    def _plain(self, i: int, c: str) -> None:
        if c.isspace() and c in BLANKS:
            self._put(i, " ")
        elif c in DASHES:
            self._put(i, "-")
        elif c == INCH or c in CLOSERS:
            self._put(i, INCH)
        elif c == "’":
            self._put(i, "'")
        elif is_hidden(c):
            self._report("RW014", f"a character nobody can see stands here: {told(c)}", i, i + 1, cure="delete it")
        elif c == ",":
            self._comma(i)
        elif c in "()":
            self._bracket(i, c)
        else:
            self._put(i, c)

    def _put(self, i: int, c: str) -> None:
        self.chars.append(c)
        self.places.append(self.start + i)

    def _report(self, code: str, message: str, start: int, end: int, *, expected: str = "", cure: str = "") -> None:
        self.fault_at.append(len(self.chars))
        span = Span(self.start + start, self.start + end)
        self.found.append(Diagnostic(code, Severity.FAULT, message, span, expected, cure))

    def _latin_words(self) -> dict[int, str]:
        """Letters to be read as the Latin ones they look like; each such word is reported."""
        if self.body.isascii():
            return {}
        swaps: dict[int, str] = {}
        i = 0
        limit = self._code_end()
        while i < limit:
            if not self.body[i].isalpha():
                i += 1
                continue
            end = i
            while end < limit and (self.body[end].isalnum() or self.body[end] in "_-"):
                end += 1
            found = latin_for(self.body[i:end])
            if found:
                self._lookalikes(i, end, found)
                swaps.update((i + k, letter) for k, letter in found.items())
            i = end
        return swaps

    def _code_end(self) -> int:
        """Where plain words end on this line: at the first quote or comment. Lookalikes matter only before it."""
        ends = [self.body.find(c) for c in ('"', "“", "„", "«", "#")]
        return min((e for e in ends if e >= 0), default=len(self.body))

    def _lookalikes(self, start: int, end: int, found: dict[int, str]) -> None:
        word = self.body[start:end]
        first = min(found)
        plain = "".join(found.get(k, c) for k, c in enumerate(word))
        self.found.append(
            Diagnostic(
                "RW013",
                Severity.FAULT,
                f"'{word}' looks like '{plain}' but its letter {first + 1} is {told(word[first])}",
                Span(self.start + start, self.start + end),
                cure=f"type {plain} again with Latin letters",
            )
        )

    def _is_inch(self, i: int, c: str) -> bool:
        """Whether a quote is the inch mark of the number it touches."""
        if c not in '"”' or i == 0 or not self.body[i - 1].isdigit():
            return False
        k = i
        while k > 0 and (self.body[k - 1].isdigit() or self.body[k - 1] == "."):
            k -= 1
        return k == 0 or not (self.body[k - 1].isalpha() or self.body[k - 1] in "_-")

    def _comma(self, i: int) -> None:
        before, after = self.body[max(0, i - 1) : i], self.body[i + 1 : i + 2]
        k = i
        while k > 0 and self.body[k - 1].isdigit():
            k -= 1
        joined_to_word = k > 0 and (self.body[k - 1].isalpha() or self.body[k - 1] in "_-.,")
        if before.isdigit() and after.isdigit() and not joined_to_word:
            end = i + 1
            while end < len(self.body) and self.body[end].isdigit():
                end += 1
            number = self.body[k:end].replace(",", ".")
            cure = f"write {number}"
            if end - i == 4:
                cure += f", or {number.replace('.', '')} if that is meant"
            self._report("RW012", "a decimal is written with a point; a comma parts clauses", k, end, cure=cure)
            self._put(i, ".")
            return
        self.commas.append((len(self.chars), len(self.opened)))
        self._put(i, ",")

    def _bracket(self, i: int, c: str) -> None:
        if c == "(":
            self.opened.append(i)
            if len(self.opened) == DEEPEST + 1:
                self.too_deep.append(len(self.chars))
                self._report(
                    "RW017",
                    f"more than {DEEPEST} brackets stand inside one another",
                    i,
                    i + 1,
                    cure="part the condition into several steps, or drop brackets that say nothing",
                )
        elif self.opened:
            self.opened.pop()
        else:
            self._report("RW016", "this bracket closes nothing", i, i + 1, cure="delete it, or open a bracket before")
            return
        self._put(i, c)

    def _unclosed_brackets(self) -> None:
        if not self.opened:
            return
        first = self.opened[0]
        self.fault_at.append(next(k for k, p in enumerate(self.places) if p == self.start + first))
        span = Span(self.start + first, self.start + first + 1)
        cure = "close it with ) on the same line"
        self.found.append(Diagnostic("RW016", Severity.FAULT, "this bracket is not closed", span, cure=cure))
        self.commas = [(k, 0) for k, _ in self.commas]

    def _text(self, i: int) -> int:
        """A quoted text from its opening quote on; returns where to go on."""
        end = self.body.find('"', i + 1) if self.body[i] == '"' else -1
        if end < 0:
            closer = re.compile(f"[{CLOSERS[self.body[i]]}]").search(self.body, i + 1)
            end = closer.start() if closer else -1
        self._put(i, '"')
        if end < 0:
            end = len(self.body)
            cure = 'close it with " on the same line'
            self._report("RW010", "this text is not closed", i, end, cure=cure)
        for k in range(i + 1, end):
            self._put(k, self.body[k] if self.body[k] != '"' else "'")
        self._deceptive(i + 1, end)
        self._put(min(end, len(self.body) - 1), '"')
        return end + 1

    def _comment(self, i: int) -> None:
        self.comment = self.body[i + 1 :].strip(BLANKS)
        self._deceptive(i + 1, len(self.body))

    def _deceptive(self, start: int, end: int) -> None:
        found = hidden(self.body, start, end)
        if found is not None and found.span is not None:
            self._report(found.code, found.message, found.span.start, found.span.end, cure=found.cure)

    def _cut(self) -> tuple[Clause, ...]:
        text = "".join(self.chars)
        cuts = [k for k, depth in self.commas if depth == 0]
        starts, ends = [0, *(k + 1 for k in cuts)], [*cuts, len(text)]
        faults = sorted(self.fault_at)
        clauses: list[Clause] = []
        for start, end in zip(starts, ends, strict=True):
            words = text[start:end]
            first = start + len(words) - len(words.lstrip(" "))
            last = first + len(words.strip(" "))
            if last <= first:
                self._empty_clause(start, end, len(starts))
                continue
            faulty = bisect_left(faults, start) < bisect_right(faults, end)
            readable = bisect_left(self.too_deep, start) == bisect_right(self.too_deep, end)
            clauses.append(Clause(text[first:last], self._offsets(first, last), faulty, readable))
        return tuple(clauses)

    def _offsets(self, first: int, last: int) -> tuple[int, ...] | range:
        places = self.places[first:last]
        if places[-1] - places[0] == last - first - 1:
            return range(places[0], places[0] + last - first + 1)
        return (*places, places[-1] + 1)

    def _empty_clause(self, start: int, end: int, count: int) -> None:
        """Nothing between two commas is worth a warning; a comma at the end of a line is common and harmless."""
        if count > 1 and start > 0 and end < len(self.places):
            place = self.places[start - 1]
            message = "nothing stands between two commas"
            span = Span(place, self.places[end] + 1)
            self.found.append(Diagnostic("RW018", Severity.WARNING, message, span, cure="delete one of them"))
