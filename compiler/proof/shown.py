"""What is shown of a sequence without looking at all its runs: by induction, by what its valves do alone, and by runs
in which something is met. What is not shown here may hold all the same."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.chart import Chart, Requirement
from compiler.chart_logic import ChartLogic
from compiler.condition import Active, Signal, both
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.induction.alone import never_in
from compiler.proof.stopping import forced_by, stop_brings_home

__all__ = ["Shown", "opposed_loads", "shown_of"]


@dataclass(frozen=True, slots=True)
class Shown:
    """``settles``: in every run. ``unopposed``: nothing is ever driven both ways at once. ``never``: the names of
    requirements that are never broken. ``unlit``: the steps in which no run stays. ``home``: STOP brings it home from
    everywhere, jams aside."""

    settles: bool = False
    unopposed: bool = False
    never: frozenset[str] = frozenset()
    unlit: frozenset[str] = frozenset()
    home: bool = False


def shown_of(logic: Logic, chart: Chart, machine: Machine, *, rests: tuple[str, ...]) -> Shown:
    """What is shown of a chart's own ``logic``, which has the steps ``rests`` active as the supply comes on.

    Raises KeyError when the logic reads an input that the machine does not have.
    """
    home = stop_brings_home(chart, machine) and forced_by(chart, machine.stop) == frozenset(rests)
    if not isinstance(logic, ChartLogic):
        return Shown(home=home)
    required = [r for r in chart.requirements if isinstance(r, Requirement)]
    opposed = [both(*(Signal(device=name) for name in pair)) for pair in opposed_loads(machine).values()]
    steps = [step.name for step in chart.steps]
    conditions = [*opposed, *(r.never for r in required), *(Active(step=name) for name in steps)]
    never = never_in(logic, machine, conditions)
    if never is None:
        return Shown(home=home)
    last = len(opposed) + len(required)
    kept, unlit = zip(required, never[len(opposed) : last], strict=True), zip(steps, never[last:], strict=True)
    return Shown(
        settles=True,
        unopposed=all(never[: len(opposed)]),
        never=frozenset(r.name for r, is_kept in kept if is_kept),
        unlit=frozenset(name for name, is_unlit in unlit if is_unlit),
        home=home,
    )


def opposed_loads(machine: Machine) -> dict[str, tuple[str, ...]]:
    """For each valve and motor that has two, the loads that drive it opposite ways."""
    valves = {a.name: a.valve.opposed for a in machine.actuators if a.valve.opposed}
    return {**valves, **{m.name: (m.forward, m.reverse) for m in machine.motors}}
