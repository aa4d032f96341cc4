"""Make a run that shows a difference as short and as plain as it can be made without much search."""

from __future__ import annotations

from compiler.chart import Chart
from compiler.checking.stretch import stamped, stretched_by
from compiler.machine import Machine
from compiler.simulation.joint import Wired
from compiler.simulation.run import Difference, Event, Scenario, Stretch
from compiler.simulation.simulate import follow

__all__ = ["shorten"]

_TAIL_US = 2_000_000


def shorten(
    machine: Machine, chart: Chart, wired: list[Wired], scenario: Scenario, difference: Difference
) -> tuple[Scenario, Difference]:
    """A scenario with no more events than are needed for a difference that stretches no more than the first one,
    ending soon after it. ``wired`` are the chart's logic and the one that differs from it."""
    short, found = _cut(scenario, difference), difference
    allowed = stretched_by(scenario, difference.at_us)
    k = 0
    while k < len(short.events):
        fewer = _without(short.events, k)
        tried = stamped(machine, chart, wired[0], short.model_copy(update={"events": fewer}))
        ending = follow(machine, wired, tried)
        if ending.difference is not None and _within(stretched_by(tried, ending.difference.at_us), allowed):
            short, found = _cut(tried, ending.difference), ending.difference
        else:
            k += 1
    return short, found


def _within(stretches: frozenset[Stretch], allowed: frozenset[Stretch]) -> bool:
    return stretches - {Stretch.NONE} <= allowed


def _cut(scenario: Scenario, difference: Difference) -> Scenario:
    until = difference.at_us + _TAIL_US
    return scenario.model_copy(
        update={
            "duration_us": min(scenario.duration_us, until),
            "events": tuple(e for e in scenario.events if e.at_us <= difference.at_us),
            "stretched": tuple(s for s in scenario.stretched if s.at_us <= difference.at_us),
        }
    )


def _without(events: tuple[Event, ...], k: int) -> tuple[Event, ...]:
    """The events without one, and without the release that belongs to it."""
    gone = events[k]
    partner = next(
        (j for j in range(k + 1, len(events)) if events[j].device == gone.device and events[j].kind is gone.kind),
        None,
    )
    undone = partner is not None and events[partner].on is not gone.on
    return tuple(e for j, e in enumerate(events) if j != k and not (undone and j == partner))
