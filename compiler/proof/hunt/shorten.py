"""A run that differs, made plainer: what need not be done is left out, and nobody waits longer than he must.

Source: A. Zeller and R. Hildebrandt, "Simplifying and isolating failure-inducing input", IEEE TSE 28(2), 2002 (from
memory), for leaving out parts, halves first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from compiler.machine import Machine
from compiler.proof.hunt.apart import Apart
from compiler.proof.natural import keeps
from compiler.proof.world import Assumed, World
from compiler.simulation.joint import Wired
from compiler.simulation.run import Event, EventKind, Run, Scenario, Swiftness, stroke_times
from compiler.simulation.simulate import follow, simulate

__all__ = ["MOST_INSTANTS", "Shortened", "shortened"]

AFTER_US = 2_000_000
"""How long a run goes on after what it shows."""

_PAUSE_US = 500_000
MOST_INSTANTS = 40_000
"""So many instants are run in all; what is found by then will do."""


@dataclass(frozen=True, slots=True)
class Shortened:
    """A run with a difference, and what it goes ``beyond``."""

    run: Run
    beyond: tuple[Assumed, ...]


def shortened(
    machine: Machine, wired: Sequence[Wired], scenario: Scenario, *, most: int = MOST_INSTANTS
) -> Shortened | None:
    """The scenario made plainer, and run; None where it does not show a difference at a moment of its own."""
    plainer = _Plainer(machine, wired, most)
    first = plainer.tried(scenario)
    if first is None:
        return None
    best = plainer.with_slow_strokes(first)
    return plainer.closed_up(plainer.without_needless(best))


class _Plainer:
    """Tries scenarios, for so many instants at most."""

    def __init__(self, machine: Machine, wired: Sequence[Wired], most: int) -> None:
        self.machine, self.wired, self.left = machine, wired, most

    def tried(self, scenario: Scenario, beyond: Sequence[Assumed] | None = None) -> Shortened | None:
        """The run of a scenario up to its difference; None where there is none, where not one thing happens after
        another, or where it goes beyond more than that."""
        if self.left <= 0:
            return None
        apart = Apart(self.machine)
        ending = follow(self.machine, list(self.wired), scenario, watch=apart.look)
        self.left -= ending.instants
        if ending.difference is None or not apart.kept:
            return None
        at_us = ending.difference.at_us
        events = tuple(event for event in scenario.events if event.at_us <= at_us)
        cut = scenario.model_copy(update={"events": events, "duration_us": at_us + AFTER_US})
        driver, shadow = (each.logic for each in self.wired)
        run = simulate(self.machine, driver, cut, shadow=shadow, after_us=AFTER_US)
        if run.difference is None:
            return None
        found = Shortened(run, tuple(_beyond(run, self.machine)))
        return found if beyond is None or set(found.beyond) <= set(beyond) else None

    def with_slow_strokes(self, best: Shortened) -> Shortened:
        """Let every stroke take exactly its greatest time, if that shows it."""
        if Assumed.EXACT not in best.beyond:
            return best
        greatest = stroke_times(self.machine, Swiftness.GREATEST, Swiftness.GREATEST)
        scenario = best.run.scenario.model_copy(update={"strokes": greatest})
        return self.tried(scenario, [a for a in best.beyond if a is not Assumed.EXACT]) or best

    def without_needless(self, best: Shortened) -> Shortened:
        """Leave out what is done: all that is done to a device, then as much at a time as can be."""
        for device in dict.fromkeys(event.device for event in best.run.scenario.events):
            others = tuple(event for event in best.run.scenario.events if event.device != device)
            best = self.tried(_with(best, others), best.beyond) or best
        size = len(best.run.scenario.events)
        while size:
            start = 0
            while start < len(best.run.scenario.events):
                events = best.run.scenario.events
                fewer = self.tried(_with(best, (*events[:start], *events[start + size :])), best.beyond)
                if fewer is None:
                    start += size
                else:
                    best = fewer
            size //= 2
        return best

    def closed_up(self, best: Shortened) -> Shortened:
        """Let nobody wait for longer than a person would."""
        for k in range(len(best.run.scenario.events)):
            events = best.run.scenario.events
            if k >= len(events):
                break
            before = events[k - 1].at_us if k else 0
            for gain in _gains(events[k].at_us - before):
                sooner = tuple(e.model_copy(update={"at_us": e.at_us - gain}) for e in events[k:])
                closer = self.tried(_with(best, (*events[:k], *sooner)), best.beyond)
                if closer is not None:
                    best = closer
                    break
        return best


def _gains(gap_us: int) -> Iterator[int]:
    """By how much sooner something may be done, the most first."""
    most = gap_us - _PAUSE_US
    while most > _PAUSE_US:
        yield most
        most //= 2


def _with(found: Shortened, events: tuple[Event, ...]) -> Scenario:
    scenario = found.run.scenario
    return scenario.model_copy(update={"events": events})


def _beyond(run: Run, machine: Machine) -> Iterator[Assumed]:
    """What a run goes beyond, in the published order."""
    kinds = {event.kind for event in run.scenario.events}
    if not keeps(run, machine, World(careful=True)):
        yield Assumed.CAREFUL if keeps(run, machine, World(apart=True)) else Assumed.APART
    if run.scenario.strokes != stroke_times(machine, Swiftness.GREATEST, Swiftness.GREATEST):
        yield Assumed.EXACT
    if EventKind.JAM in kinds:
        yield Assumed.NO_JAM
    if EventKind.SUPPLY in kinds:
        yield Assumed.SUPPLIED
    if kinds & {EventKind.STUCK_MADE, EventKind.STUCK_OPEN}:
        yield Assumed.SWITCHES
