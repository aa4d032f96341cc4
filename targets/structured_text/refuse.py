"""Charts that one step number can't tell, and why."""

from __future__ import annotations

from itertools import combinations

from compiler.chart import Chart
from compiler.condition import Active, Elapsed, Rise, Signal, Sustained, both, walk
from targets.structured_text.exclusive import can_hold

__all__ = ["reason_against"]

_MOST_STEPS = 3277  # numbered in tens, within INT


def reason_against(chart: Chart) -> str:
    """Why a chart does not fit, in plain words; empty when it does."""
    if sum(step.initial for step in chart.steps) != 1:
        return "it has not exactly one initial step, and the block keeps one step number"
    if len(chart.steps) > _MOST_STEPS:
        return f"it has more than {_MOST_STEPS} steps, and step numbers must fit INT"
    if chart.counters or chart.interlocks:
        return "it has counters or interlocks"
    if any(transition.aborts for transition in chart.transitions) or (chart.forcing and chart.forcing.steps):
        return "it breaks off parallel work or forces steps of its own"
    for transition in chart.transitions:
        if len(transition.sources) > 1 or len(transition.targets) > 1:
            return f"{transition.name} starts or joins parallel work, and the block keeps one step number"
        if transition.sources == transition.targets:
            return f"{transition.name} leads from {transition.sources[0]} back to itself"
    return _forcing_reason(chart) or _timed_reason(chart) or _choice_reason(chart)


def _forcing_reason(chart: Chart) -> str:
    parts = [] if chart.forcing is None else list(walk(chart.forcing.condition))
    if any(isinstance(p, Rise | Active | Elapsed) for p in parts):
        return "what holds it in its initial step is not a lasting condition of inputs alone"
    return ""


def _timed_reason(chart: Chart) -> str:
    for condition in chart.conditions:
        for part in walk(condition):
            if isinstance(part, Signal) and part.device not in chart.inputs:
                return f"a condition looks at {part.device}, which is not an input"
            if isinstance(part, Sustained) and any(isinstance(p, Rise | Elapsed | Sustained) for p in walk(part.of)):
                return "a sustained condition holds an edge or another time"
    return ""


def _choice_reason(chart: Chart) -> str:
    for first, second in combinations(chart.transitions, 2):
        step = first.sources[0]
        if second.sources == (step,) and can_hold(both(first.condition, second.condition), step):
            names = f"{first.name} and {second.name}"
            return f"{names} leave {step} and can be true together, which starts parallel work"
    return ""
