"""Charts that can't be told in structured text, and those that one step number can tell."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import combinations

from compiler.chart import Chart
from compiler.condition import Condition, Counted, Elapsed, Rise, Signal, Sustained, both, walk
from grammar.structured_text.literals import INT_GREATEST
from targets.structured_text.exclusive import can_hold

__all__ = ["is_one_line", "reason_against"]

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


def reason_against(chart: Chart) -> str:
    """Why a chart does not fit, in plain words; empty when it does."""
    if not any(step.initial for step in chart.steps):
        return "it has no initial step"
    for transition in chart.transitions:
        back = [name for name in transition.sources if name in transition.targets]
        if back:
            return f"{transition.name} leads from {back[0]} back to itself, which has no end while it is true"
    return next(_reasons_in_conditions(chart), "")


def _reasons_in_conditions(chart: Chart) -> Iterator[str]:
    lasting = [action.condition for step in chart.steps for action in step.actions]
    interlocks = [interlock.only_while for interlock in chart.interlocks]
    for condition in [*lasting, *interlocks]:
        if any(isinstance(part, Rise) for part in walk(condition)):
            yield "an output waits for an edge, which is over before the output could come on"
    forcing = [] if chart.forcing is None else [chart.forcing.condition]
    for condition in [*(t.condition for t in chart.transitions), *lasting, *forcing]:
        yield from _looked_at(chart, condition)
    for condition in chart.conditions:
        for part in walk(condition):
            match part:
                case Counted(at_least=number) if number > INT_GREATEST:
                    yield f"it counts to {number}, and a counter must fit INT"
                case Sustained(of=of):
                    yield from _looked_at(chart, of)
                    if any(isinstance(p, Rise | Elapsed | Sustained) for p in walk(of)):
                        yield "a sustained condition holds an edge or another time"
                case _:
                    pass


def _looked_at(chart: Chart, condition: Condition) -> Iterator[str]:
    """Outputs that a condition looks at, which only an interlock may."""
    for part in walk(condition):
        if isinstance(part, Signal) and part.device not in chart.inputs:
            yield f"a condition looks at {part.device}, which is not an input"
