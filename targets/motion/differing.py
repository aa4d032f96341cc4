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

_FURTHER = 10  # a tenth of the time before it is drawn after a difference, so that what came on is seen,
_LEAST_US = 300_000  # and no less than this


def difference_chart(
    run: Run, machine: Machine, driver: Logic, shadow: Logic, *, chart: Chart | None = None, said: str = ""
) -> str:
    """The SVG of a run in which two logics differ, those it was made with; ``said`` is the difference in a sentence.
    ``chart`` as in ``timing_chart``. Raises KeyError as ``compiler.simulation.simulate``."""
    run = _ended(run, machine, driver, shadow)
    why = by_contacts(causes(run, machine, driver, shadow=shadow), run, machine, driver)
    return timing_chart(run, machine, why=why, chart=chart, note=said)


def _ended(run: Run, machine: Machine, driver: Logic, shadow: Logic) -> Run:
    """The same run, ended soon after the difference: from there on the machine goes as one of the two drives it, and
    what the other makes of that is nothing that its own machine would bring about."""
    if run.difference is None:
        return run
    after_us = max(run.difference.at_us // _FURTHER, _LEAST_US)
    scenario = run.scenario.model_copy(update={"duration_us": run.difference.at_us + after_us})
    return simulate(machine, driver, scenario, shadow=shadow, after_us=after_us)
