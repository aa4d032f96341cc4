"""Check an implementation against the sequence: run both through every scenario and say honestly what was seen.

This is simulation. It can find a difference; that it found none says so of the runs tried and no more.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from compiler.chart import Chart
from compiler.checking.assumption import Assumption
from compiler.checking.requirements import Broken, RequirementWatch
from compiler.checking.shortest import shorten
from compiler.checking.stretch import excuses, stretched_by
from compiler.checking.verdict import Beginning, Found, Standing, Verdict
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.shape import shape_of
from compiler.simulation.bench import wire
from compiler.simulation.joint import Wired
from compiler.simulation.run import Difference, Outcome, Role, Run, Scenario, Side, Stretch
from compiler.simulation.simulate import Ending, follow, simulate

__all__ = ["check"]

_AFTER_US = 2_000_000


def check(
    chart_logic: Logic,
    candidate: Logic,
    machine: Machine,
    chart: Chart,
    scenarios: Iterable[Scenario],
    announced: frozenset[Assumption] = frozenset(),
) -> Verdict:
    """Run every scenario with the chart driving and the candidate beside it, and judge what was seen.

    ``scenarios`` carry the stamps of what they stretch, as ``make_scenarios`` makes them. A difference is
    *announced* when, by its moment, the run had gone beyond one of the ``announced`` assumptions.
    """
    misfit = _misfit(candidate, machine)
    if misfit:
        return Verdict(candidate.name, Standing.DIFFERS, misfit=misfit)
    wired = [wire(machine, chart_logic), wire(machine, candidate)]
    runs = [_Tried(scenario, *_try(machine, chart, wired, scenario)) for scenario in scenarios]
    differing = [run for run in runs if run.ending.difference is not None]
    unannounced = [run for run in differing if not run.excused_by(announced)]
    plainest = _plainest(unannounced, [run for run in differing if run.excused_by(announced)])
    found = tuple(_show(machine, chart, (chart_logic, candidate), wired, run, announced) for run in plainest)
    needs = _needed([run for run in differing if run.excused_by(announced)], announced)
    # Made shorter, a run may turn out to differ without what had excused it.
    sound = all(f.excused_by for f in found)
    return Verdict(
        candidate=candidate.name,
        standing=Standing.DIFFERS if not sound else Standing.SAME_ONLY_IF if differing else Standing.SAME,
        runs=len(runs),
        alike=sum(run.ending.outcome is Outcome.COMPLETED for run in runs),
        keeping=sum(not run.beyond(needs) for run in runs),
        needs=needs,
        found=found,
        broken=_first_broken(runs),
        unfinished=sum(run.ending.outcome in (Outcome.CHATTERING, Outcome.TOO_MANY_EVENTS) for run in runs),
    )


@dataclass(frozen=True, slots=True)
class _Tried:
    scenario: Scenario
    ending: Ending
    broken: tuple[Broken, ...]

    @property
    def difference(self) -> Difference:
        assert self.ending.difference is not None
        return self.ending.difference

    @property
    def stretches(self) -> frozenset[Stretch]:
        return stretched_by(self.scenario, self.difference.at_us)

    def excused_by(self, announced: frozenset[Assumption]) -> frozenset[Assumption]:
        """The announced assumptions this difference goes beyond."""
        return announced & {a for stretch in self.stretches for a in excuses(stretch)}

    def beyond(self, needs: frozenset[Assumption]) -> bool:
        """Whether the run, as a whole, goes beyond any of the assumptions needed."""
        return bool(needs & {a for stamp in self.scenario.stretched for a in excuses(stamp.stretch)})


def _misfit(candidate: Logic, machine: Machine) -> str:
    known = {i.name for i in machine.inputs}
    strangers = [name for name in candidate.inputs if name not in known]
    return f"it reads {', '.join(strangers)}, which the machine does not have" if strangers else ""


def _try(machine: Machine, chart: Chart, wired: list[Wired], scenario: Scenario) -> tuple[Ending, tuple[Broken, ...]]:
    # Until they differ both have the same outputs on: what the sequence does not keep, neither does the other.
    watch = RequirementWatch(chart) if chart.requirements else None
    ending = follow(machine, wired, scenario, watch=None if watch is None else watch.look)
    if watch is None:
        return ending, ()
    watch.judge(ending.ended_us)
    return ending, tuple(Broken(name, at_us, scenario.name) for name, at_us in watch.broken.items())


def _first_broken(runs: list[_Tried]) -> tuple[Broken, ...]:
    """For each requirement the break in the plainest run that has one, and there the earliest."""
    first: dict[str, Broken] = {}
    for run in sorted(runs, key=lambda run: len(run.scenario.stretched)):
        for broken in sorted(run.broken, key=lambda broken: broken.at_us):
            first.setdefault(broken.requirement, broken)
    return tuple(broken for _, broken in sorted(first.items()))


def _plainest(*differing: list[_Tried]) -> list[_Tried]:
    """For each stretch the run that shows a difference with the least besides it, and soonest; a run that
    stretches all that a plainer one does, and more, adds nothing. Those of the first list come first."""
    chosen: list[_Tried] = []
    for runs in differing:
        for run in sorted(runs, key=lambda run: (len(run.stretches), run.difference.at_us)):
            explained = any(plainer.stretches - {Stretch.NONE} <= run.stretches for plainer in chosen)
            if not explained:
                chosen.append(run)
    return chosen


def _needed(excused: list[_Tried], announced: frozenset[Assumption]) -> frozenset[Assumption]:
    """Announced assumptions enough to exclude every difference, those that alone exclude one taken first."""
    needs: frozenset[Assumption] = frozenset()
    for run in sorted(excused, key=lambda run: len(run.excused_by(announced))):
        possible = run.excused_by(announced)
        if not possible & needs:
            needs |= {min(possible, key=list(Assumption).index)}
    return needs


def _show(
    machine: Machine,
    chart: Chart,
    logics: tuple[Logic, Logic],
    wired: list[Wired],
    tried: _Tried,
    announced: frozenset[Assumption],
) -> Found:
    scenario, difference = shorten(machine, chart, wired, tried.scenario, tried.difference)
    run = simulate(machine, logics[0], scenario, shadow=logics[1], after_us=_AFTER_US)
    assert run.difference == difference  # the shortened run must show what it is said to show
    stretches = stretched_by(scenario, difference.at_us)
    return Found(
        run=run,
        stretches=stretches,
        excused_by=announced & {a for stretch in stretches for a in excuses(stretch)},
        beginning=_beginning(run, chart),
    )


def _beginning(run: Run, chart: Chart) -> Beginning:
    """Whether the other one switches something on when the sequence is at home or on its way there."""
    difference = run.difference
    if difference is None:
        return Beginning.NOTHING
    shape = shape_of(chart)
    past = [c for c in run.changes if c.at_us <= difference.at_us]
    own = [c for c in past if c.side is Side.SHADOW and c.role is Role.OUTPUT and c.signal == difference.output]
    inside = [c.signal for c in past if c.side is Side.DRIVER and c.role is Role.INSIDE and c.on]
    names = {step.name for step in chart.steps}  # counters are inside as well
    steps = [name for name in inside if name in names]
    switched_on = bool(own) and own[-1].on and own[-1].at_us == difference.at_us
    if not switched_on or not steps or steps[-1] not in shape.rest | shape.last:
        return Beginning.NOTHING
    return Beginning.ANOTHER_START if set(steps) - shape.rest - shape.fault else Beginning.START
