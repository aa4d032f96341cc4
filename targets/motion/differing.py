"""The drawing of a difference: both logics in one timing chart, what differs shaded and hatched."""

from __future__ import annotations

from compiler.chart import Chart
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.simulation.causes import causes
from compiler.simulation.run import Run
from compiler.simulation.simulate import simulate
from compiler.walk.by_contacts import by_contacts
from targets.motion.timing import timing_chart

__all__ = ["difference_chart"]

_MORE = 20  # a twentieth


def difference_chart(
    run: Run, machine: Machine, driver: Logic, shadow: Logic, *, chart: Chart | None = None, said: str = ""
) -> str:
    """The SVG of a run in which two logics differ, those it was made with; ``said`` is the difference in a sentence.
    ``chart`` as in ``timing_chart``. Raises KeyError as ``compiler.simulation.simulate``."""
    run = _going_on(run, machine, driver, shadow)
    why = by_contacts(causes(run, machine, driver, shadow=shadow), run, machine, driver)
    return timing_chart(run, machine, why=why, chart=chart, note=said)


def _going_on(run: Run, machine: Machine, driver: Logic, shadow: Logic) -> Run:
    """The run, made a little longer where its last change is at its end, so that what that led to is seen."""
    if run.difference is None or all(change.at_us < run.ended_us for change in run.changes):
        return run
    until_us = run.ended_us + run.ended_us // _MORE
    scenario = run.scenario.model_copy(update={"duration_us": until_us})
    return simulate(machine, driver, scenario, shadow=shadow, after_us=until_us - run.difference.at_us)
