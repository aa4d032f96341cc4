"""The drawing of a difference: both logics in one timing chart, what differs shaded and hatched."""

from __future__ import annotations

from compiler.chart import Chart
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.simulation.causes import causes
from compiler.simulation.run import Run
from compiler.walk.by_contacts import by_contacts
from targets.motion.timing import timing_chart

__all__ = ["difference_chart"]


def difference_chart(
    run: Run, machine: Machine, driver: Logic, shadow: Logic, *, chart: Chart | None = None, said: str = ""
) -> str:
    """The SVG of a run in which two logics differ, those it was made with; ``said`` is the difference in a sentence.
    ``chart`` as in ``timing_chart``. Raises KeyError as ``compiler.simulation.simulate``."""
    why = by_contacts(causes(run, machine, driver, shadow=shadow), run, machine, driver)
    return timing_chart(run, machine, why=why, chart=chart, note=said)
