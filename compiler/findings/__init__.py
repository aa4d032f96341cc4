"""What is questionable about a machine and its chart, though both make sense: one pass for each concern.

Each pass is a function of one Subject; PASSES is their order. Every finding has a code, a place, a reason and a
cure; ``compiler.faults`` holds what ``explain`` tells of it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from compiler.chart import Chart
from compiler.findings.devices import assumed_times, memory_valves, names_in_structured_text, unused_devices
from compiler.findings.reach import dead_ends, unreachable_steps
from compiler.findings.sizes import force_enough, odd_sizes, raised_pressure, too_fast
from compiler.findings.start_and_stop import (
    held_start,
    home_after_stop,
    no_stop,
    start_away_from_home,
    start_out_of_reach,
    stop_wired_open,
)
from compiler.findings.steps import both_solenoids, cycle_comes_back, faults_shown, missed_by_a_branch
from compiler.findings.stroke_times import limit_too_short, shared_pump, stated_otherwise
from compiler.findings.strokes import (
    already_there,
    no_feedback,
    no_time_limit,
    time_too_short,
    waits_at_wrong_end,
)
from compiler.findings.subject import Subject
from compiler.findings.valves import centred_valves, driven_at_rest, extends_without_supply, not_held, quick_strokes
from compiler.machine import Machine
from grammar.diagnostic import Diagnostic
from grammar.source import Span

__all__ = ["PASSES", "find"]

PASSES: tuple[Callable[[Subject], Iterable[Diagnostic]], ...] = (
    unreachable_steps,
    dead_ends,
    both_solenoids,
    waits_at_wrong_end,
    already_there,
    time_too_short,
    no_feedback,
    no_time_limit,
    cycle_comes_back,
    missed_by_a_branch,
    no_stop,
    stop_wired_open,
    held_start,
    start_away_from_home,
    start_out_of_reach,
    home_after_stop,
    memory_valves,
    centred_valves,
    not_held,
    driven_at_rest,
    extends_without_supply,
    quick_strokes,
    faults_shown,
    assumed_times,
    odd_sizes,
    force_enough,
    too_fast,
    raised_pressure,
    stated_otherwise,
    limit_too_short,
    shared_pump,
    unused_devices,
    names_in_structured_text,
)


def find(machine: Machine, chart: Chart, spans: dict[str, Span] | None = None) -> tuple[Diagnostic, ...]:
    """Every finding, in the order of PASSES. ``spans`` tells where devices were declared, for their places."""
    subject = Subject(machine, chart, spans or {})
    return tuple(finding for look in PASSES for finding in look(subject))
