"""Whether a rod crosses quicker than it can in a run: what a proof then tells need not be so.

A rod that is turned round on its way may be anywhere, as far as the proof knows, between what it passed last and what
it would have passed next (see ``compiler.proof.rods``). Turned round twice it may so cross in no time. That can only
make two logics seem to differ that do not, never seem the same.
"""

from __future__ import annotations

from compiler.logic import Logic
from compiler.machine import Actuator, Machine
from compiler.simulation.bench import Bench, wire
from compiler.simulation.run import Event, Scenario
from compiler.simulation.simulate import follow

__all__ = ["too_quick"]

_SLACK = 1.02
_SLACK_US = 500
"""A path is told in whole microseconds, and its strokes may be some of them quicker than they should."""


def too_quick(machine: Machine, driver: Logic, scenario: Scenario, *, until_us: int) -> tuple[str, ...]:
    """The actuators that, up to a moment of a run, somewhere move faster than in their least time."""
    if not scenario.paces:
        return ()
    found: dict[str, None] = {}
    were: dict[str, int] = {}
    since_us = 0

    def look(bench: Bench, events: tuple[Event, ...]) -> None:
        nonlocal since_us
        passed_us = bench.now_us - since_us
        for name, (at_um, _) in bench.plant.motion(bench.now_us).items():
            actuator, way_um = machine.actuator(name), at_um - were.get(name, at_um)
            sure_um = max(0, abs(way_um) - _unsure_um(actuator))
            needs_us = _least_us(actuator, out=way_um > 0) * sure_um / actuator.stroke_um
            if bench.now_us <= until_us and needs_us > passed_us * _SLACK + _SLACK_US:
                found[name] = None
            were[name] = at_um
        since_us = bench.now_us

    follow(machine, [wire(machine, driver)], scenario, watch=look)
    return tuple(found)


def _unsure_um(actuator: Actuator) -> int:
    """How far short of where a path tells it a rod may be: a switch lets go anywhere within its reset travel, and is
    told as letting go at the end of it."""
    return max((switch.reset_um for switch in actuator.limit_switches), default=0)


def _least_us(actuator: Actuator, *, out: bool) -> int:
    """The least time of a whole stroke, quick or not."""
    if not out:
        return actuator.retract_time.least_us
    rapid = actuator.valve.rapid
    times = [actuator.extend_time.least_us, *([rapid.time.least_us] if rapid is not None else [])]
    return min(times)
