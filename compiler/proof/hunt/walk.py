"""One run at random of a machine and the logics that work it. It prefers what moves something, and of that what has
seldom come about: so it gets through a sequence, down every way of a choice, and round again until a counter is full.

One thing happens after another, as in the proof: a run is given up where two inputs would change at one instant, or
one would as a time runs out.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from copy import copy

from compiler.machine import Actuator, InputKind, Machine
from compiler.proof.hunt.apart import FAILURES, Apart, owners
from compiler.proof.hunt.manner import Manner, quicker_us
from compiler.simulation.bench import Bench
from compiler.simulation.joint import Wired
from compiler.simulation.run import Event, EventKind, Scenario, StrokeTimes, Swiftness, stroke_times

__all__ = ["Jams", "Seen", "Walk"]

Seen = Callable[[Bench], bool]
"""Whether what is looked for is there; asked after every instant, and more time always passes before the next."""

Jams = set[tuple[tuple[str, ...], str]]
"""What was on inside as a rod jammed, and which."""

_PAUSE_US = 500_000
_PRESS_US = 200_000
_TAIL_US = 2_000_000
_JAM_US = 2
_AFTERWARDS = 60
"""A run with a rod or a switch that has failed is over after so many instants more."""

_MOVES, _SELDOM, _RELEASE = 10.0, 0.1, 5.0
"""How much likelier something is done that moves something inside; that is drastic; or that lets go what is held."""


class Walk:
    """A run at random. ``visits`` counts how often each set of what is on inside came about, over all runs."""

    def __init__(
        self,
        machine: Machine,
        wired: Sequence[Wired],
        manner: Manner,
        rng: random.Random,
        visits: Counter[tuple[str, ...]],
    ) -> None:
        self.machine, self.manner, self.rng, self.visits = machine, manner, rng, visits
        self.strokes = tuple(_strokes(machine, manner, rng))
        self.bench = Bench(machine, wired, self.strokes)
        self.events: list[Event] = []
        self.instants = 0
        self.most = 0
        self.apart = Apart(machine)
        own = owners(machine)
        read = {name for w in wired for name in getattr(w.logic, "reads", w.logic.inputs)}
        self._free = tuple(i.name for i in machine.inputs if i.name in read and i.name not in own)
        self._switches = tuple(name for name in own if name in read)
        self._buttons = {i.name for i in machine.inputs if i.kind is InputKind.PUSHBUTTON and not i.maintained}

    def go(self, most: int, seen: Seen, jams: Jams | None = None) -> Walk | None:
        """Go on for so many instants at most, until what is looked for is seen: the run that shows it. None where the
        run ends before. With ``jams`` every rod that moves jams once where no run has tried that yet, and what comes
        of it by itself is looked at as well."""
        self.most = most
        if not self._step(0):
            return None
        while not seen(self.bench):
            for twin in self._jammed(jams) if jams is not None else ():
                if twin._let_go_on(seen):
                    return twin
            if self.instants >= self.most or self.bench.chattering or not self._go_on(seen):
                return None
        return self

    def scenario(self, name: str) -> Scenario:
        """The run as it can be replayed, and a while longer."""
        return Scenario(
            name=name,
            duration_us=self.bench.now_us + _TAIL_US,
            events=tuple(self.events),
            strokes=self.strokes,
        )

    # --- jams -----------------------------------------------------------------------------------------------

    def _jammed(self, tried: Jams) -> Iterator[Walk]:
        """For each rod that moves, the run as it is when that rod jams."""
        now, due, lit = self.bench.now_us, self.bench.due_us(), self.bench.lit()
        if due is None or due - now < _JAM_US or self.bench.jammed or self.bench.stuck:
            return
        for name, (_, way) in self.bench.plant.motion(now).items():
            if way and (lit, name) not in tried:
                tried.add((lit, name))
                twin = copy(self)
                twin.bench, twin.events, twin.apart = self.bench.copy(), list(self.events), self.apart.twin()
                if twin._step(now + 1, Event(at_us=now + 1, kind=EventKind.JAM, device=name, on=True)):
                    yield twin

    def _let_go_on(self, seen: Seen) -> bool:
        """Go on with nothing done, until what is looked for is seen."""
        while not seen(self.bench):
            due = self.bench.due_us()
            if due is None or self.instants >= self.most or self.bench.chattering or not self._step(due):
                return False
        return True

    # --- from instant to instant ----------------------------------------------------------------------------

    def _go_on(self, seen: Seen) -> bool:
        """To the next instant: something that comes by itself, or something done before it. False at an end."""
        now, due = self.bench.now_us, self.bench.due_us()
        if due is None or (due - now > 1 and self.rng.random() < self.manner.haste):
            latest = now + _PAUSE_US if due is None else min(due - 1, now + _PAUSE_US)
            at_us = self.rng.randint(now + 1, latest)
            chosen = self._chosen(at_us, seen)
            if chosen is not None:
                return self._do(at_us, chosen)
        return due is not None and self._step(due)

    def _do(self, at_us: int, event: Event) -> bool:
        """Do something, and let START go again where the operator is careful."""
        if not self._step(at_us, event):
            return False
        if not (self.manner.careful and event.on and event.device == self.machine.start):
            return True
        due = self.bench.due_us()
        later = at_us + (_PRESS_US if due is None else min(_PRESS_US, (due - at_us) // 2))
        return self._step(later, event.model_copy(update={"at_us": later, "on": False}))

    def _step(self, at_us: int, event: Event | None = None) -> bool:
        """Go to an instant. False where more than one thing happens at it."""
        events = () if event is None else (event,)
        self.bench.step(at_us, events)
        self.events += events
        if event is not None and event.kind in FAILURES:
            self.most = min(self.most, self.instants + _AFTERWARDS)
        self.instants += 1
        self.visits[self.bench.lit()] += 1
        self.apart.look(self.bench, events)
        return self.apart.kept

    # --- what to do -----------------------------------------------------------------------------------------

    def _chosen(self, at_us: int, seen: Seen) -> Event | None:
        """Something to do at a moment. What shows what is looked for is done at once."""
        lit, events, weights = self.bench.lit(), list[Event](), list[float]()
        for event, weight in self._possible(at_us):
            twin = self.bench.copy()
            twin.step(at_us, (event,))
            if not self._allowed(event, twin):
                continue
            if seen(twin):
                return event
            moves = twin.lit() != lit and not twin.chattering
            events.append(event)
            weights.append(weight * (1 + _MOVES / (1 + self.visits[twin.lit()]) + _MOVES / 5) if moves else weight)
        return self.rng.choices(events, weights)[0] if events else None

    def _possible(self, at_us: int) -> Iterator[tuple[Event, float]]:
        manner, bench = self.manner, self.bench

        def event(kind: EventKind, device: str, *, on: bool) -> Event:
            return Event(at_us=at_us, kind=kind, device=device, on=on)

        for name in self._free:
            down = bench.is_actuated(name)
            if name == self.machine.stop and not manner.stops:
                continue
            weight = _RELEASE if down and name in self._buttons else _SELDOM if name == self.machine.stop else 1.0
            yield event(EventKind.INPUT, name, on=not down), weight
        if manner.supply:
            yield event(EventKind.SUPPLY, "", on=not bench.supply), _SELDOM if bench.supply else _RELEASE
        if bench.jammed or bench.stuck:
            return
        for name, (_, way) in bench.plant.motion(bench.now_us).items() if manner.jams else ():
            if way:
                yield event(EventKind.JAM, name, on=True), 1.0
        for name in self._switches if manner.sticks else ():
            kind = EventKind.STUCK_OPEN if bench.is_actuated(name) else EventKind.STUCK_MADE
            yield event(kind, name, on=True), _SELDOM

    def _allowed(self, event: Event, after: Bench) -> bool:
        """Whether a careful operator does it, who lets START go before anything further happens."""
        if not self.manner.careful or not (event.on and event.device == self.machine.start):
            return True
        bench, stop = self.bench, self.machine.stop
        stands = not bench.plant.moving(event.at_us)
        stopped = stop is not None and bench.is_actuated(stop)
        due = after.due_us()
        begins = after.lit() != bench.lit() and (due is None or due - event.at_us > 1)
        return bench.supply and stands and not stopped and begins


def _strokes(machine: Machine, manner: Manner, rng: random.Random) -> Iterator[StrokeTimes]:
    """The times of one run."""
    if manner.exact:
        for greatest in stroke_times(machine, Swiftness.GREATEST, Swiftness.GREATEST):
            rapid = greatest.rapid_us
            yield StrokeTimes(
                actuator=greatest.actuator,
                extend_us=_quicker(greatest.extend_us, rng),
                retract_us=_quicker(greatest.retract_us, rng),
                rapid_us=None if rapid is None else _quicker(rapid, rng),
            )
        return
    for actuator in machine.actuators:
        yield _any_times(actuator, rng)


def _any_times(actuator: Actuator, rng: random.Random) -> StrokeTimes:
    out, back, rapid = actuator.extend_time, actuator.retract_time, actuator.valve.rapid
    return StrokeTimes(
        actuator=actuator.name,
        extend_us=rng.randint(out.least_us, out.greatest_us),
        retract_us=rng.randint(back.least_us, back.greatest_us),
        rapid_us=None if rapid is None else rng.randint(rapid.time.least_us, rapid.time.greatest_us),
    )


def _quicker(time_us: int, rng: random.Random) -> int:
    return max(1, time_us - rng.randrange(quicker_us(time_us)))
