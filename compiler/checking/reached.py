"""Which steps no run ever stayed in: what a verdict on those runs says nothing about."""

from __future__ import annotations

from collections.abc import Iterable

from compiler.chart import Chart, Step
from compiler.chart_logic import chart_logic
from compiler.machine import Machine
from compiler.simulation.bench import Bench, wire
from compiler.simulation.run import Event, Scenario
from compiler.simulation.simulate import follow

__all__ = ["unreached"]


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
