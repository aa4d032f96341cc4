"""The parts the steps of a chart play: where a cycle begins, where it ends, where the machine rests."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.chart import Chart

__all__ = ["Shape", "shape_of"]


@dataclass(frozen=True, slots=True)
class Shape:
    """The steps of a chart by the part they play. ``first`` begin a cycle, in ``rest`` it has not begun or is
    over, from ``last`` it ends; ``fault`` show a fault."""

    steps: frozenset[str]
    initial: frozenset[str]
    first: frozenset[str]
    rest: frozenset[str]
    last: frozenset[str]
    fault: frozenset[str]


def shape_of(chart: Chart) -> Shape:
    """The parts steps play, from the transitions alone."""
    initial = frozenset(s.name for s in chart.steps if s.initial)
    fault = frozenset(s.name for s in chart.steps if s.fault)
    normal = [t for t in chart.transitions if not fault & set(t.targets)]
    first = frozenset(name for t in normal if initial & set(t.sources) for name in t.targets) - initial
    triggers = [t.condition for t in normal if initial & set(t.sources)]
    rest = initial | {
        name for t in normal if first & set(t.targets) and t.condition in triggers for name in t.sources
    }
    last = frozenset(name for t in normal if rest & set(t.targets) for name in t.sources) - rest
    return Shape(frozenset(s.name for s in chart.steps), initial, first, rest, last, fault)
