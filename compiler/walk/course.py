"""How a chart goes through a run: which transition cleared when, and the passes of its repeats."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from compiler.chart import Chart, Transition
from compiler.chart_logic import chart_logic
from compiler.machine import Machine
from compiler.shape import Shape
from compiler.simulation.run import Scenario
from compiler.walk.record import record

__all__ = ["Cleared", "Course", "Passes", "course", "passes"]


@dataclass(frozen=True, slots=True)
class Cleared:
    """A transition cleared."""

    at_us: int
    transition: Transition


@dataclass(frozen=True, slots=True)
class Course:
    """A run of a chart on its machine, as the transitions that cleared, in order of cause."""

    scenario: Scenario
    cleared: tuple[Cleared, ...]

    def first(self, way: Transition) -> Cleared | None:
        """When a transition cleared for the first time."""
        return next((one for one in self.cleared if one.transition == way), None)

    def onward(self, way: Transition) -> tuple[Cleared, ...]:
        """What cleared from the first time on that this transition did; with that itself."""
        first = self.first(way)
        return () if first is None else self.cleared[self.cleared.index(first) :]

    @property
    def met(self) -> frozenset[str]:
        """Every step that was left or entered, those too that were passed at once."""
        return frozenset(name for c in self.cleared for name in (*c.transition.sources, *c.transition.targets))


def course(machine: Machine, chart: Chart, scenario: Scenario) -> Course:
    """What the chart does in a scenario. Raises KeyError as ``record``."""
    instants = record(machine, chart_logic(chart), scenario).instants
    cleared = (Cleared(i.at_us, t) for i in instants if i.steps is not None for t in i.steps.transitions)
    return Course(scenario, tuple(cleared))


@dataclass(frozen=True, slots=True)
class Passes:
    """A stretch that was gone through several times: when each pass began, and when the last was over."""

    begun_us: tuple[int, ...]
    over_us: int

    def like(self, at_us: int) -> int | None:
        """The moment of the first pass that this one of a later pass is like; None outside of later passes. What
        begins the third pass is like what began the second: both come after a pass."""
        first, second, *later = self.begun_us
        if not second < at_us < self.over_us:
            return None
        begun = max(us for us in self.begun_us if us <= at_us)
        return second if at_us in later else first + at_us - begun


def passes(shape: Shape, run: Course) -> tuple[Passes, ...]:
    """The repeats of one cycle; of one inside another the outer. A step that was entered again and again begins the
    passes, as long as nothing else of the repeat was entered in between than in the first pass."""
    found = [one for name in run.met - shape.rest for one in _passes_from(name, shape, run)]
    kept: list[Passes] = []
    for one in sorted(found, key=lambda one: (one.begun_us[1], -one.over_us)):
        if not any(other.begun_us[1] <= one.begun_us[1] and one.over_us <= other.over_us for other in kept):
            kept.append(one)
    return tuple(kept)


def _passes_from(head: str, shape: Shape, run: Course) -> list[Passes]:
    """The passes that begin with a step: rows of entries between which the same steps were entered."""
    around, home = _around(head, shape), _reach(head, shape, forward=True, past_rest=True) & shape.rest
    if not any(head in way.targets and around & set(way.sources) for way in shape.ways):
        return []
    entries = [k for k, c in enumerate(run.cleared) if head in c.transition.targets]
    rows: list[list[int]] = []
    body: set[str] = set()
    for last, k in pairwise(entries):
        entered = _entered(run.cleared[last:k])
        if entered & home:
            continue  # another cycle
        if rows and rows[-1][-1] == last and entered & around <= body:
            rows[-1].append(k)
        else:
            rows.append([last, k])
            body = entered & around
    return [Passes(tuple(run.cleared[k].at_us for k in row), _left(run, row, around)) for row in rows]


def _left(run: Course, row: list[int], around: set[str]) -> int:
    """When the last pass was over: something was entered, out of the repeat, that no pass enters."""
    body = _entered(run.cleared[row[0] : row[1]]) & around
    after = (c for c in run.cleared[row[-1] + 1 :] if body & set(c.transition.sources))
    return next((c.at_us for c in after if not set(c.transition.targets) <= body), run.cleared[-1].at_us)


def _entered(cleared: Iterable[Cleared]) -> set[str]:
    return {name for c in cleared for name in c.transition.targets}


def _around(head: str, shape: Shape) -> set[str]:
    """The steps on the ways from a step back to itself, without a rest in between."""
    ahead, back = _reach(head, shape, forward=True), _reach(head, shape, forward=False)
    return ahead & back


def _reach(head: str, shape: Shape, *, forward: bool, past_rest: bool = False) -> set[str]:
    """The steps that a step leads to, or is led to from; of those past a rest none, but for ``past_rest``."""
    found, waiting = {head}, [head]
    while waiting:
        name = waiting.pop()
        for way in shape.ways:
            one, other = (way.sources, way.targets) if forward else (way.targets, way.sources)
            if name in one:
                new = set(other) - found - (set() if past_rest else shape.rest)
                found |= new
                waiting += new
    return found
