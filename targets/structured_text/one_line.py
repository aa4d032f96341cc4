"""Charts that one step number can tell."""

from __future__ import annotations

from collections import Counter
from itertools import combinations

from compiler.chart import Chart
from compiler.condition import both
from targets.controller.exclusive import can_hold

__all__ = ["is_one_line"]

_MOST_STEPS = 3277  # numbered in tens, within INT


def is_one_line(chart: Chart) -> bool:
    """Whether at most one step is active at a time, for all that the transitions tell: one step number is enough."""
    begin = sum(step.initial for step in chart.steps)
    parallel = any(len(t.sources) > 1 or len(t.targets) > 1 or t.aborts for t in chart.transitions)
    held = () if chart.forcing is None else chart.forcing.steps
    return (
        begin == 1 and len(held) <= 1 and not parallel and not _both_clear(chart) and len(chart.steps) <= _MOST_STEPS
    )


def _both_clear(chart: Chart) -> bool:
    """Whether two transitions that leave one step can be true together, so that both steps they lead to begin."""
    leaving = Counter(name for t in chart.transitions for name in t.sources)
    several = [t for t in chart.transitions if leaving[t.sources[0]] > 1]
    return any(
        first.sources == second.sources and can_hold(both(first.condition, second.condition), *first.sources)
        for first, second in combinations(several, 2)
    )
