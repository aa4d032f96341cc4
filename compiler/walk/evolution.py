"""Which transitions of a chart cleared at an instant, found from the steps that were left and entered.

A step passed at once shows nowhere, so a transition is only named where its steps show it and its condition held.
"""

from __future__ import annotations

from dataclasses import dataclass

from compiler.chart import Chart
from compiler.condition import Sustained
from compiler.simulation.holds import holds
from compiler.walk.changes import StepChange

__all__ = ["Moment", "evolved"]


@dataclass(frozen=True, slots=True)
class Moment:
    """What conditions look at as a chart evolves: what is actuated and what just became so, the steps before, since
    when each was active, the outputs, and how far the counters had got."""

    at_us: int
    actuated: frozenset[str]
    risen: frozenset[str]
    before: frozenset[str]
    since_us: dict[str, int]
    counts: dict[str, int]

    def signal(self, device: str) -> bool:
        return device in self.actuated

    def rise(self, device: str) -> bool:
        return device in self.risen

    def active(self, step: str) -> bool:
        return step in self.before

    def elapsed(self, step: str, time_us: int) -> bool:
        return self.at_us - self.since_us.get(step, self.at_us) >= time_us

    def sustained(self, condition: Sustained) -> bool:
        return holds(condition.of, self)

    def counted(self, counter: str, at_least: int) -> bool:
        return self.counts.get(counter, 0) >= at_least


def evolved(chart: Chart, after: frozenset[str], moment: Moment) -> StepChange | None:
    """What changed of a chart, or None where nothing did."""
    left, entered = moment.before - after, after - moment.before
    if not left and not entered:
        return None
    names = [step.name for step in chart.steps]
    steps = tuple(n for n in names if n in left), tuple(n for n in names if n in entered)
    if chart.forcing is not None and holds(chart.forcing.condition, moment):
        return StepChange(*steps, forced=True)
    cleared = tuple(
        t
        for t in chart.transitions
        if moment.before.issuperset(t.sources)
        and after.issuperset(t.targets)
        and (left & set(t.sources) or entered & set(t.targets))
        and not (after & set(t.sources) - set(t.targets))
        and holds(t.condition, moment)
    )
    return StepChange(*steps, transitions=cleared)
