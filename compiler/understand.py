"""From a source text to everything Rungwright understands of it: the driver of reading, lowering and findings."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.chart import Chart
from compiler.findings import find
from compiler.lowering import lower
from compiler.machine import Machine
from grammar.diagnostic import Diagnostic, Severity
from grammar.sequence.read import read
from grammar.source import Source

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


def understand(source: Source) -> Understood:
    """Read, lower and look for what is questionable. Never raises for anything in the text."""
    reading = read(source)
    lowered = lower(reading)
    said = [*reading.diagnostics, *lowered.diagnostics]
    chart = lowered.chart if reading.sound else None
    if chart is not None:
        said += find(lowered.machine, chart, lowered.spans)
    said.sort(key=lambda d: (d.span.start if d.span else -1, d.code, d.message))
    broken = any(d.severity is Severity.FAULT for d in said)
    return Understood(source, lowered.machine, None if broken else chart, tuple(dict.fromkeys(said)))
