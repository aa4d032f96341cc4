"""The runs a machine is put through when an implementation of it is checked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import chain

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.checking.families import FAMILIES, mixes
from compiler.checking.operating import operate
from compiler.checking.pairings import PAIRINGS
from compiler.checking.stretch import stamped
from compiler.checking.trial import Trial
from compiler.machine import Machine
from compiler.simulation.bench import wire
from compiler.simulation.run import Scenario, Swiftness, stroke_times

__all__ = ["make_scenarios", "usual_cycle"]


def make_scenarios(machine: Machine, chart: Chart, *, seed: int = 1) -> tuple[Scenario, ...]:
    """Every scenario of every family for this machine, stamped with what it stretches; equal runs only once."""
    trial = _trial(machine, chart)
    made: dict[tuple[object, ...], Scenario] = {}
    for scenario in chain(*(family(trial) for family in FAMILIES + PAIRINGS), mixes(trial, seed)):
        made.setdefault((scenario.events, scenario.strokes), scenario)
    return tuple(stamped(machine, chart, trial.wired, scenario) for scenario in _numbered(made.values()))


def usual_cycle(machine: Machine, chart: Chart) -> Scenario:
    """The first of them alone: one cycle of the careful operator."""
    trial = _trial(machine, chart)
    return stamped(machine, chart, trial.wired, next(FAMILIES[0](trial)))


def _trial(machine: Machine, chart: Chart) -> Trial:
    wired = wire(machine, chart_logic(chart))
    greatest = stroke_times(machine, Swiftness.GREATEST, Swiftness.GREATEST)
    return Trial(machine, chart, wired, greatest, operate(machine, chart, wired, strokes=greatest))


def _numbered(scenarios: Iterable[Scenario]) -> Iterator[Scenario]:
    """The same scenarios, no two of one name: the second of a name says (2)."""
    met: Counter[str] = Counter()
    for scenario in scenarios:
        met[scenario.name] += 1
        count = met[scenario.name]
        yield scenario.model_copy(update={"name": f"{scenario.name} ({count})"}) if count > 1 else scenario
