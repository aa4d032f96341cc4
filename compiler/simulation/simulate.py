"""Run a machine: one logic driving its plant, perhaps another one shadowing it, and the world outside.

The cost of a run depends on how much happens in it, not on how long it lasts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import groupby

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.simulation.bench import Bench, wire
from compiler.simulation.joint import Wired, differing
from compiler.simulation.recorder import Recorder
from compiler.simulation.run import Difference, Event, Outcome, Run, Scenario

__all__ = ["MOST_EVENTS", "Ending", "follow", "replay", "simulate"]

MOST_EVENTS = 100_000
"""A run with more instants than this is given up: something in it goes round too fast to be meant."""


@dataclass(frozen=True, slots=True)
class Ending:
    """How a run ended, when, and after how many instants."""

    outcome: Outcome
    ended_us: int
    instants: int
    difference: Difference | None = None
    loop: tuple[str, ...] = ()


Watch = Callable[[Bench, tuple[Event, ...]], None]


def simulate(
    machine: Machine, driver: Logic, scenario: Scenario, *, shadow: Logic | None = None, after_us: int = 0
) -> Run:
    """The record of a run. With a ``shadow`` it stops ``after_us`` past the first lasting difference.

    Raises KeyError when a logic or an event names a device the machine does not have.
    """
    wired = [wire(machine, logic) for logic in (driver, shadow) if logic is not None]
    recorder = Recorder(machine, wired)
    ending = follow(machine, wired, scenario, watch=recorder.look, after_us=after_us)
    return Run(
        machine=machine.title,
        driver=driver.name,
        shadow="" if shadow is None else shadow.name,
        scenario=scenario,
        changes=tuple(recorder.changes),
        moves=tuple(recorder.moves),
        clocks=recorder.clocks(ending.ended_us),
        ended_us=ending.ended_us,
        outcome=ending.outcome,
        difference=ending.difference,
        loop=ending.loop,
    )


def replay(run: Run, machine: Machine, driver: Logic, *, shadow: Logic | None = None, after_us: int = 0) -> Run:
    """The same run again, from its scenario: equal to ``run`` with the machine and logics it was made with."""
    return simulate(machine, driver, run.scenario, shadow=shadow, after_us=after_us)


def follow(
    machine: Machine,
    wired: list[Wired],
    scenario: Scenario,
    *,
    watch: Watch | None = None,
    after_us: int = 0,
) -> Ending:
    """Run a scenario to its end, or to ``after_us`` past the first lasting difference between the first two logics.

    ``watch`` looks at the bench after every instant, with the events that were applied.
    """
    bench = Bench(machine, wired, scenario.strokes, scenario.paces)
    end_us, instants, difference = scenario.duration_us, 0, None
    for at_us, events in _instants(bench, scenario.events):
        if at_us > end_us:
            break
        if instants == MOST_EVENTS:
            return Ending(Outcome.TOO_MANY_EVENTS, bench.now_us, instants, difference)
        instants += 1
        bench.step(at_us, events)
        if watch is not None:
            watch(bench, events)
        if 0 in bench.chattering:
            return Ending(Outcome.CHATTERING, at_us, instants, difference, bench.chattering[0].loop)
        # Nothing more happens before the next instant, so a difference lasts if there is any time left for it.
        if difference is None and at_us < end_us:
            difference = _difference(bench)
            if difference is not None:
                end_us = min(end_us, at_us + after_us)
    outcome = Outcome.COMPLETED if difference is None else Outcome.DIFFERENCE
    return Ending(outcome, end_us, instants, difference)


def _instants(bench: Bench, events: tuple[Event, ...]) -> Iterator[tuple[int, tuple[Event, ...]]]:
    """Every instant at which something happens, and the outside events of it; begins with 0."""
    ordered = sorted(events, key=lambda event: event.at_us)
    groups = [(at_us, tuple(group)) for at_us, group in groupby(ordered, key=lambda event: event.at_us)]
    if not groups or groups[0][0] != 0:
        groups.insert(0, (0, ()))
    for at_us, group in groups:
        while bench.now_us >= 0 and (due := bench.due_us()) is not None and due < at_us:
            yield due, ()
        yield at_us, group
    while (due := bench.due_us()) is not None:
        yield due, ()


def _difference(bench: Bench) -> Difference | None:
    if len(bench.wired) < 2:
        return None
    if 1 in bench.chattering:
        loop = bench.chattering[1].loop
        return Difference(at_us=bench.now_us, output="", driver_on=False, shadow_on=False, loop=loop)
    place = differing(bench.outputs[0], bench.outputs[1])
    if place is None:
        return None
    return Difference(
        at_us=bench.now_us,
        output=bench.machine.loads[place].name,
        driver_on=bench.outputs[0][place],
        shadow_on=bench.outputs[1][place],
    )
