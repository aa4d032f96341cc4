"""A walk-through as a page of its own, with the timing chart that its moments link to."""

from __future__ import annotations

from markupsafe import Markup

from compiler.chart import Chart
from compiler.checking.scenarios import usual_cycle
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.simulation.causes import causes
from compiler.simulation.simulate import simulate
from compiler.walk.by_contacts import by_contacts
from targets.anchors import moment_anchor
from targets.isolated import isolated
from targets.motion import timing_chart
from targets.sheet_set.inline import inline, style_kinds, style_sheet
from targets.walkthrough import Told, as_page

__all__ = ["told_page"]

_AFTER_US = 2_000_000
_PREFIX = "told-"


def told_page(machine: Machine, chart: Chart, logic: Logic, told: Told) -> str:
    """The walk-through of a logic and, below it, the cycle that it tells, drawn."""
    run = simulate(machine, logic, usual_cycle(machine, chart), after_us=_AFTER_US)
    why = by_contacts(causes(run, machine, logic), run, machine, logic)
    moments = {p.at_us for section in told.sections for p in section.passages if p.at_us is not None}
    svg = timing_chart(run, machine, why=why, chart=chart, told=moments)
    kinds = style_kinds([svg])
    drawn = inline([(svg, "")], f"timing chart of a cycle of the {logic.name}", kinds, prefix=_PREFIX)
    if not {moment_anchor(at_us, _PREFIX) for at_us in moments} <= drawn.names:
        return isolated(as_page(told))
    return isolated(as_page(told, drawn=drawn.markup, styles=Markup(style_sheet(kinds)), prefix=_PREFIX))
