"""A chart and what was printed of it, led through what can happen, one event after the other.

Untimed: a timer that runs may run out at any moment. That is enough, for both sides must run and start the same
times: then the clocks of both agree for ever, whatever they show.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from random import Random

from compiler.chart import Chart
from compiler.chart_logic import ChartLogic, chart_logic
from compiler.logic import Bits, Chattering, Logic, Reaction

__all__ = ["parting", "visited"]

Event = tuple[Bits, frozenset[int]]


def parting(chart: Chart, logic: Logic, most: int = 3000) -> str:
    """What the two differ in first, in words; empty where nothing was found in so many events.

    Timers are paired in the order in which both name them. Raises AssertionError where there are not as many.
    """
    return next(filter(None, _walk(chart, logic, most, set())), "")


def visited(chart: Chart, logic: Logic, most: int = 3000) -> set[str]:
    """The steps that were active in some situation looked at."""
    seen: set[str] = set()
    for _ in _walk(chart, logic, most, seen):
        pass
    return seen


def _walk(chart: Chart, logic: Logic, most: int, lit: set[str]) -> Iterator[str]:
    """A walk with some purpose: mostly on to what changes the steps that are active, and afresh now and then."""
    ours = chart_logic(chart)
    assert [t.preset_us for t in ours.timers] == [t.preset_us for t in logic.timers]
    random = Random(0)
    now: tuple[Reaction, Reaction, Bits] | None = None
    for _ in range(most):
        if now is None or random.random() < 0.01:
            now, event = None, (tuple(random.random() < 0.3 for _ in chart.inputs), frozenset[int]())
        else:
            event = _next(ours, now[0], now[2], random)
        left = _answer(ours, None if now is None else now[0].state, event)
        right = _answer(logic, None if now is None else now[1].state, event)
        if left is None or right is None:
            yield "" if left is right else f"only one settles, at {event}"
            now = None
            continue
        for what in ("outputs", "running", "started"):
            if getattr(left, what) != getattr(right, what):
                yield f"{what} differ: {getattr(left, what)} and {getattr(right, what)}, at {event}"
        lit.update(ours.lit(left.state))
        now = left, right, event[0]


def _answer(logic: Logic, state: object, event: Event) -> Reaction | None:
    """What a logic does at an event, from power-up where there is no state; None where it never settles."""
    try:
        return logic.power_up(event[0]) if state is None else logic.react(state, *event)
    except Chattering:
        return None


def _next(logic: ChartLogic, now: Reaction, inputs: Bits, random: Random) -> Event:
    events = list(_events(now, inputs))
    random.shuffle(events)
    if random.random() < 0.6:
        before = logic.lit(now.state)
        for event in events[:6]:
            after = _answer(logic, now.state, event)
            if after is not None and logic.lit(after.state) != before:
                return event
    return events[0]


def _events(now: Reaction, inputs: Bits) -> Iterator[Event]:
    """Inputs change, alone or two at once; a timer runs out, or all of them; both."""
    places = range(len(inputs))
    changes = [_flipped(inputs, k) for k in places]
    changes += [_flipped(changes[j], k) for j, k in combinations(places, 2)]
    yield from ((bits, frozenset()) for bits in changes)
    for timers in {*(frozenset([timer]) for timer in now.running), now.running} - {frozenset()}:
        yield from ((bits, timers) for bits in (inputs, inputs, *changes[: len(inputs)]))


def _flipped(inputs: Bits, k: int) -> Bits:
    return (*inputs[:k], not inputs[k], *inputs[k + 1 :])
