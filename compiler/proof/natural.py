"""A run as a person would do it: the same things done, with time to do them in."""

from __future__ import annotations

from itertools import groupby

from compiler.machine import Machine
from compiler.proof.world import World
from compiler.simulation.run import Change, Event, EventKind, Role, Run, Scenario, Side, Swiftness, stroke_times

__all__ = ["keeps", "natural"]

_PAUSE_US = 500_000
_PRESS_US = 400_000
_SLACK_US = 10_000_000


def natural(machine: Machine, scenario: Scenario, world: World) -> Scenario:
    """The same outside events, a human pause apart at least, with even strokes and time enough.

    Whether it still shows what it is to show, and keeps to what the world assumes, only running it tells.
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
    swiftness = Swiftness.GREATEST if world.exact else Swiftness.USUAL
    return scenario.model_copy(
        update={
            "events": tuple(events),
            "paces": (),
            "strokes": stroke_times(machine, swiftness, swiftness),
            "duration_us": 2 * (scenario.duration_us + later_us) + _SLACK_US,
        }
    )


def keeps(run: Run, machine: Machine, world: World) -> bool:
    """Whether a run with even strokes keeps to what a world assumes, up to its difference. Says no where it cannot be
    seen in the record, as with times that begin inside."""
    jams = any(event.kind is EventKind.JAM for event in run.scenario.events)
    if world.no_jam and jams:
        return False
    if not (world.careful or world.apart):
        return True
    hand = _Hand(machine, run, careful=world.careful)
    until_us = run.ended_us if run.difference is None else run.difference.at_us
    instants = groupby((c for c in run.changes if c.at_us <= until_us), key=lambda c: c.at_us)
    return all(hand.allows(at_us, list(changes)) for at_us, changes in instants)


class _Hand:
    """The hand on START and STOP, followed from instant to instant."""

    def __init__(self, machine: Machine, run: Run, *, careful: bool) -> None:
        self._machine, self._run, self._careful = machine, run, careful
        self._start = self._stop = self._begun = False

    def allows(self, at_us: int, changes: list[Change]) -> bool:
        """Whether what is done at this instant is allowed; then it is."""
        world = {c.signal: c.on for c in changes if c.side is Side.WORLD and c.role is not Role.JAM}
        presses, was_down = world.get(self._machine.start or "") is True, self._start
        self._start = world.get(self._machine.start or "", self._start)
        self._stop = world.get(self._machine.stop or "", self._stop)
        self._begun = self._begun and self._start
        if self._start and self._stop:
            return False
        if not self._careful or not self._start:
            return True
        lights = any(c.side is Side.DRIVER and c.role is Role.INSIDE for c in changes)
        made = any(on for name, on in world.items() if name != self._machine.start)
        if presses:
            self._begun = lights
            return lights and not was_down and not self._moving(at_us)
        if self._begun and (lights or made):
            return False
        self._begun = self._begun or lights
        return True

    def _moving(self, at_us: int) -> bool:
        ways = {m.actuator: m.way for m in self._run.moves if m.at_us < at_us}
        return any(ways.values())
