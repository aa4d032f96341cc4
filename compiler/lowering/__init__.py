"""From a tree of words to a Machine and a Chart. Faults are collected, never raised."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.chart import Chart
from compiler.lowering.cycle import lower_cycle
from compiler.lowering.devices import lower_devices
from compiler.machine import Machine
from grammar.diagnostic import Diagnostic
from grammar.reading import Reading
from grammar.sequence.tree import Program
from grammar.source import Span

__all__ = ["Lowered", "lower"]


@dataclass(frozen=True, slots=True)
class Lowered:
    """What a program means. ``chart`` is None where faults leave nothing to run; ``spans`` tells where each
    device was declared (default devices have no words)."""

    machine: Machine
    chart: Chart | None
    diagnostics: tuple[Diagnostic, ...]
    spans: dict[str, Span]


def lower(reading: Reading[Program]) -> Lowered:
    """The Machine and the Chart of a program, with every fault found. Spans point into the reading's source."""
    devices = lower_devices(reading.tree)
    cycle = lower_cycle(reading.tree, devices, reading.source)
    return Lowered(cycle.machine, cycle.chart, (*devices.faults, *cycle.faults), devices.spans)
