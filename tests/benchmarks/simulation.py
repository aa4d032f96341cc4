"""Instants a second of the simulator and the time of a check, beside the same run stepped every millisecond.

The stepped run does what a simulation with a fixed step does (the same bench, looked at every millisecond), so
the two columns differ only in when they look.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from time import perf_counter

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.checking.check import check
from compiler.checking.scenarios import make_scenarios
from compiler.machine import Machine
from compiler.simulation.bench import Bench, wire
from compiler.simulation.run import Scenario
from compiler.simulation.simulate import follow
from compiler.understand import understand
from grammar.source import Source

_EXAMPLES = Path(__file__).parent.parent.parent / "examples"
_STEP_US = 1_000


def main() -> None:
    """Print one line for each example machine."""
    print(
        f"{'machine':<22}{'runs':>6}{'made in':>10}{'checked in':>12}{'instants/s':>12}{'one run':>10}{'stepped':>11}"
    )
    for name, machine, chart in _examples():
        started = perf_counter()
        scenarios = make_scenarios(machine, chart)
        made = perf_counter()
        check(chart_logic(chart), chart_logic(chart), machine, chart, scenarios)
        done = perf_counter()
        rate = _rate(machine, chart, scenarios)
        one, stepped = _one_run(machine, chart, scenarios[0]), _stepped(machine, chart, scenarios[0])
        print(
            f"{name:<22}{len(scenarios):>6}{made - started:>8.2f} s{done - made:>10.2f} s{rate:>12,.0f}"
            f"{one * 1e3:>7.2f} ms{stepped * 1e3:>8.0f} ms"
        )


def _examples() -> Iterator[tuple[str, Machine, Chart]]:
    for path in sorted(_EXAMPLES.glob("*.seq")):
        understood = understand(Source(path.name, path.read_text(encoding="utf-8")))
        if understood.chart is not None:
            yield path.stem, understood.machine, understood.chart


def _rate(machine: Machine, chart: Chart, scenarios: tuple[Scenario, ...]) -> float:
    """Instants of the chart beside itself, in a second."""
    wired = [wire(machine, chart_logic(chart)), wire(machine, chart_logic(chart))]
    started = perf_counter()
    instants = sum(follow(machine, wired, scenario).instants for scenario in scenarios)
    return instants / (perf_counter() - started)


def _one_run(machine: Machine, chart: Chart, scenario: Scenario) -> float:
    started = perf_counter()
    follow(machine, [wire(machine, chart_logic(chart))], scenario)
    return perf_counter() - started


def _stepped(machine: Machine, chart: Chart, scenario: Scenario) -> float:
    bench = Bench(machine, [wire(machine, chart_logic(chart))], scenario.strokes)
    events = sorted(scenario.events, key=lambda event: event.at_us)
    started = perf_counter()
    for now_us in range(0, scenario.duration_us, _STEP_US):
        while events and events[0].at_us <= now_us:
            bench.step(now_us, [events.pop(0)])
        bench.step(now_us)
    return perf_counter() - started
