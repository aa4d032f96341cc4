"""Which steps no run ever stayed in: what a verdict on those runs says nothing about."""

from __future__ import annotations

from collections.abc import Iterable

from compiler.chart import Chart, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.condition import either, negated
from compiler.machine import Machine
from compiler.simulation.bench import Bench, wire
from compiler.simulation.run import Event, Scenario
from compiler.simulation.simulate import follow
from compiler.truth import possible

__all__ = ["passed_at_once", "unreached"]


def unreached(machine: Machine, chart: Chart, scenarios: Iterable[Scenario]) -> tuple[Step, ...]:
    """The steps, fault steps too, in which no run stays; looks no further than it must."""
    missing = {step.name for step in chart.steps}
    wired = [wire(machine, chart_logic(chart))]

    def look(bench: Bench, events: tuple[Event, ...]) -> None:
        missing.difference_update(bench.lit())

    for scenario in scenarios:
        if not missing:
            break
        follow(machine, wired, scenario, watch=look)
    return tuple(step for step in chart.steps if step.name in missing)


def passed_at_once(chart: Chart, unmet: Iterable[str]) -> frozenset[str]:
    """Of the steps in which no run stays, those that are only passed, as they are made to be: what leads on holds
    whatever happens, and it leads to a step where runs do stay. A step that only counts or clears is one."""
    left = set(unmet)
    onward: dict[str, list[Transition]] = {name: [] for name in left}
    for t in chart.transitions:
        if len(t.sources) == 1 and t.sources[0] in onward:
            onward[t.sources[0]].append(t)
    made_so = {name for name in left if onward[name] and _certain(onward[name])}
    passed: set[str] = set()
    while True:
        more = {name for name in made_so - passed if any(set(t.targets) - (left - passed) for t in onward[name])}
        if not more:
            return frozenset(passed)
        passed |= more


def _certain(ways: Iterable[Transition]) -> bool:
    return not possible(negated(either(*(t.condition for t in ways))))
