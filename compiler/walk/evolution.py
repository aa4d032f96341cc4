"""Which transitions of a chart cleared at an instant, in order: what could clear is followed round by round.

Where that does not come to the steps which are active afterwards, only transitions are named that the steps left and
entered show, and whose condition held.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from compiler.chart import Chart, CountingKind, Transition
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
        again = _followed(chart, after, moment)  # left and entered again at once, as in a pass of a repeat
        return StepChange((), (), transitions=again) if again else None
    names = [step.name for step in chart.steps]
    steps = tuple(n for n in names if n in left), tuple(n for n in names if n in entered)
    if chart.forcing is not None and holds(chart.forcing.condition, moment):
        return StepChange(*steps, forced=True)
    followed = _followed(chart, after, moment)
    if followed is not None:
        return StepChange(*steps, transitions=followed)
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


def _followed(chart: Chart, after: frozenset[str], moment: Moment) -> tuple[Transition, ...] | None:
    """The transitions that clear one round after the other, until none can (rules 2 to 5 of IEC 60848:2013, from
    memory); edges are there in the first round only. None where this does not end in the steps given."""
    found: list[Transition] = []
    met: set[frozenset[str]] = set()
    while True:
        ready = [t for t in chart.transitions if moment.before.issuperset(t.sources) and holds(t.condition, moment)]
        if not ready:
            return tuple(found) if moment.before == after else None
        if moment.before in met:
            return None
        met.add(moment.before)
        found += ready
        gone = {name for t in ready for name in (*t.sources, *t.aborts)}
        active = moment.before - gone | {name for t in ready for name in t.targets}
        moment = _entering(chart, moment, active)


def _entering(chart: Chart, moment: Moment, active: frozenset[str]) -> Moment:
    """The moment after a round: the edges are over, steps just entered begin to time and count."""
    entered = active - moment.before
    counts = dict(moment.counts)
    for step in (step for step in chart.steps if step.name in entered):
        for counting in step.counting:
            clears = counting.kind is CountingKind.CLEAR
            counts[counting.counter] = 0 if clears else counts.get(counting.counter, 0) + 1
    since = {**moment.since_us, **dict.fromkeys(entered, moment.at_us)}
    return replace(moment, risen=frozenset(), before=active, since_us=since, counts=counts)
