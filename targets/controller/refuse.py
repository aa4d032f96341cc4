"""Charts that can't be told in a program for a controller, and why."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.chart import Chart
from compiler.condition import Condition, Counted, Elapsed, Rise, Signal, Sustained, walk
from grammar.structured_text.literals import INT_GREATEST

__all__ = ["reason_against"]


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
