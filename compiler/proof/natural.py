"""A run as a person would do it: the same things done, with time to do them in."""

from __future__ import annotations

from compiler.machine import Machine
from compiler.simulation.run import Event, Scenario, Swiftness, stroke_times

__all__ = ["natural"]

_PAUSE_US = 500_000
_PRESS_US = 400_000
_SLACK_US = 10_000_000


def natural(machine: Machine, scenario: Scenario) -> Scenario:
    """The same outside events, a human pause apart at least, with even strokes of the usual time, and time enough.

    Whether it still shows what it is to show, only running it tells.
    """
    events: list[Event] = []
    later_us = 0
    for event in scenario.events:
        at_us = event.at_us + later_us
        if events:
            pause = _PAUSE_US if event.on else _PRESS_US
            later_us += max(0, events[-1].at_us + pause - at_us)
            at_us = event.at_us + later_us
        events.append(event.model_copy(update={"at_us": at_us}))
    return scenario.model_copy(
        update={
            "events": tuple(events),
            "paces": (),
            "strokes": stroke_times(machine, Swiftness.USUAL, Swiftness.USUAL),
            "duration_us": 2 * (scenario.duration_us + later_us) + _SLACK_US,
        }
    )
