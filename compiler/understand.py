"""From a source text to everything Rungwright understands of it: the driver of reading, lowering and findings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from compiler.chart import Chart
from compiler.findings import find
from compiler.lowering import lower
from compiler.machine import Machine
from grammar.diagnostic import Diagnostic, Severity
from grammar.reading import Reading
from grammar.sequence.read import read
from grammar.sequence.tree import Cycle, Program
from grammar.source import Source, Span

__all__ = ["Understood", "understand"]


@dataclass(frozen=True, slots=True)
class Understood:
    """What a program means, and what there is to say about it, in the order of the text.

    ``chart`` is None where faults leave nothing to build.
    """

    source: Source
    machine: Machine
    chart: Chart | None
    diagnostics: tuple[Diagnostic, ...]

    def said(self, severity: Severity) -> tuple[Diagnostic, ...]:
        """The messages of one severity."""
        return tuple(d for d in self.diagnostics if d.severity is severity)


# What may only seem to be missing while a line that would declare it cannot be read.
_MISSING = {"RW202", "RW204", "RW205", "RW213", "RW320"}
# What may only seem to be missing while any line, a step included, cannot be read.
_MISSING_ANYWHERE = {"RW212", "RW222", "RW224", "RW229", "RW231", "RW331", "RW336"}


def _own_faults(reading: Reading[Program], lowered: tuple[Diagnostic, ...]) -> Iterable[Diagnostic]:
    """The messages of lowering, without those that follow from a line that could not be read, and without a second
    one about words that the reader has spoken of."""
    source = reading.source
    cycle = next((d.span.start for d in reading.tree.declarations if isinstance(d, Cycle)), len(source.text))
    faults = [d.span for d in reading.diagnostics if d.severity is Severity.FAULT]
    unread = any(span is None or span.start < cycle or _declares(source, span) for span in faults)
    hidden = (_MISSING if unread else set()) | (set() if reading.sound else _MISSING_ANYWHERE)
    return (d for d in lowered if d.code not in hidden and d.span not in faults)


def _declares(source: Source, span: Span) -> bool:
    """Whether words stand in a line that is not indented, as a routine's first line or a station's is."""
    return not source.line(source.place(span.start).line)[:1].isspace()


def understand(source: Source) -> Understood:
    """Read, lower and look for what is questionable. Never raises for anything in the text."""
    reading = read(source)
    lowered = lower(reading)
    said = [*reading.diagnostics, *_own_faults(reading, lowered.diagnostics)]
    chart = lowered.chart if reading.sound else None
    if chart is not None:
        said += find(lowered.machine, chart, lowered.spans)
    said.sort(key=lambda d: (d.span.start if d.span else -1, d.code, d.message))
    broken = any(d.severity is Severity.FAULT for d in said)
    return Understood(source, lowered.machine, None if broken else chart, tuple(dict.fromkeys(said)))
