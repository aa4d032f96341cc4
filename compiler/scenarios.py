"""The runs a machine is put through: what people, parts, supplies and oil may do to it.

Each family is a function from the Trial (the machine, its chart, and one cycle of a careful operator) to
scenarios. All of them are worked by the careful operator, with something done besides; all are plain lists of
events at absolute times, the same whenever they are made. Strokes take their greatest times unless the family is
about strokes, so that one which relies on exact times is not found at fault everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import chain
from random import Random

from compiler.bench import wire
from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.joint import Wired
from compiler.machine import Actuator, InputKind, Machine
from compiler.operating import Operated, operate
from compiler.run import (
    Event,
    EventKind,
    Scenario,
    Stamp,
    Stretch,
    StrokeTimes,
    Swiftness,
    stroke_times,
)
from compiler.stretch import stamped

__all__ = ["FAMILIES", "MOST_STEPS_TRIED", "Trial", "make_scenarios"]

MOST_STEPS_TRIED = 16
"""Families that do something in every step of a longer cycle take this many of its steps, evenly spread."""

_SOON_US = 20_000
_BRIEF_US = 300_000
_TAIL_US = 2_000_000


@dataclass(frozen=True, slots=True)
class Trial:
    """What scenarios are made from. ``usual`` is one cycle of the careful operator."""

    machine: Machine
    chart: Chart
    wired: Wired
    greatest: tuple[StrokeTimes, ...]
    usual: Operated

    def spans(self) -> list[tuple[str, int, int]]:
        """The stays in steps, rest left out: step, from, to. Thinned out where the cycle is long."""
        ends = [entry.at_us for entry in self.usual.entries[1:]] + [self.usual.ended_us]
        stays = [
            (entry.step, entry.at_us, end)
            for entry, end in zip(self.usual.entries, ends, strict=True)
            if entry.at_us > 0 and end > entry.at_us
        ]
        every = max(1, -(-len(stays) // MOST_STEPS_TRIED))
        return stays[::every]

    def length_us(self) -> int:
        """How long the careful operator's cycle takes, from the supply coming on."""
        return max(1, self.usual.ended_us)

    def scenario(
        self,
        name: str,
        besides: tuple[Event, ...] = (),
        *,
        cycles: int = 1,
        strokes: tuple[StrokeTimes, ...] = (),
        more_us: int = 0,
        stamps: tuple[Stamp, ...] = (),
        leaves: frozenset[str] = frozenset(),
    ) -> Scenario:
        """The operator works the machine for some cycles, ``besides`` happens too, and time runs on a while."""
        times = strokes or self.greatest
        worked = operate(
            self.machine,
            self.chart,
            self.wired,
            strokes=times,
            done_besides=besides,
            cycles=cycles,
            leaves=leaves,
        )
        last = max((event.at_us for event in worked.events), default=0)
        return Scenario(
            name=name,
            duration_us=max(worked.ended_us, last) + _TAIL_US + more_us,
            events=worked.events,
            strokes=times,
            stretched=stamps,
        )


Family = Callable[[Trial], Iterator[Scenario]]


def make_scenarios(machine: Machine, chart: Chart, *, seed: int = 1) -> tuple[Scenario, ...]:
    """Every scenario of every family for this machine, stamped with what it stretches; equal runs only once."""
    wired = wire(machine, chart_logic(chart))
    greatest = stroke_times(machine, Swiftness.GREATEST, Swiftness.GREATEST)
    trial = Trial(machine, chart, wired, greatest, operate(machine, chart, wired, strokes=greatest))
    made: dict[tuple[object, ...], Scenario] = {}
    mixes = _seeded(trial, seed)
    for scenario in chain(*(family(trial) for family in FAMILIES), mixes):
        made.setdefault((scenario.events, scenario.strokes), scenario)
    return tuple(stamped(machine, chart, wired, scenario) for scenario in made.values())


def _press(device: str, at_us: int, for_us: int = _BRIEF_US) -> tuple[Event, ...]:
    return (
        Event(at_us=at_us, kind=EventKind.INPUT, device=device, on=True),
        Event(at_us=at_us + for_us, kind=EventKind.INPUT, device=device, on=False),
    )


def _supply_off(at_us: int, for_us: int) -> tuple[Event, ...]:
    return (
        Event(at_us=at_us, kind=EventKind.SUPPLY, on=False),
        Event(at_us=at_us + for_us, kind=EventKind.SUPPLY, on=True),
    )


def _middle(start_us: int, end_us: int) -> int:
    return start_us + (end_us - start_us) // 2


def _early(start_us: int, end_us: int) -> int:
    return start_us + min(_SOON_US, (end_us - start_us) // 2)


# --- careful ----------------------------------------------------------------------------------------------------


def _careful(trial: Trial) -> Iterator[Scenario]:
    yield trial.scenario("one cycle", more_us=trial.length_us())
    yield trial.scenario("three cycles", cycles=3)
    start = trial.machine.start
    if start is None:
        return
    once = trial.scenario("START held a while")
    for step, begun, over in trial.spans():
        yield _start_let_go(once, start, f"START held into step {step}, then let go", _middle(begun, over))


def _start_held(trial: Trial) -> Iterator[Scenario]:
    start = trial.machine.start
    if start is None:
        return
    for cycles in (1, 3):
        once = trial.scenario("START held throughout", cycles=cycles, more_us=2 * trial.length_us())
        yield _start_let_go(once, start, once.name, None)
    spans = trial.spans()
    if spans:
        once = trial.scenario("START held past the end of the cycle", more_us=trial.length_us())
        yield _start_let_go(once, start, once.name, spans[-1][2] + _BRIEF_US)


def _start_let_go(scenario: Scenario, start: str, name: str, at_us: int | None) -> Scenario:
    """The same events, but START, once pressed, stays down until ``at_us`` (None: for good)."""
    events = [e for e in scenario.events if e.device != start]
    first = next((e for e in scenario.events if e.device == start and e.on), None)
    if first is not None:
        events.append(first)
        if at_us is not None and at_us > first.at_us:
            events.append(first.model_copy(update={"at_us": at_us, "on": False}))
    return scenario.model_copy(update={"name": name, "events": tuple(sorted(events, key=lambda e: e.at_us))})


# --- START and STOP ---------------------------------------------------------------------------------------------


def _start_early(trial: Trial) -> Iterator[Scenario]:
    start = trial.machine.start
    if start is None:
        return
    released = _released_us(trial)
    for step, begun, over in trial.spans():
        begun = max(begun, released)
        moments = (_early(begun, over), _middle(begun, over), max(begun, over - _BRIEF_US // 2))
        for moment in moments if begun < over else ():
            yield trial.scenario(f"START pressed in step {step}", _press(start, moment), cycles=2)


def _stop(trial: Trial) -> Iterator[Scenario]:
    stop = trial.machine.stop
    if stop is None:
        return
    released = _released_us(trial)
    for step, begun, over in trial.spans():
        begun = max(begun, released)  # the careful operator never holds both
        for moment in (_early(begun, over), _middle(begun, over)) if begun < over else ():
            yield trial.scenario(f"STOP in step {step}, then started again", _press(stop, moment), cycles=2)


def _released_us(trial: Trial) -> int:
    """When START is let go in the usual cycle, and a moment more."""
    start = trial.machine.start
    return max((e.at_us + _SOON_US for e in trial.usual.events if e.device == start and not e.on), default=0)


def _start_with_stop(trial: Trial) -> Iterator[Scenario]:
    start, stop = trial.machine.start, trial.machine.stop
    if start is None or stop is None:
        return
    after = trial.length_us() + _TAIL_US
    first = _press(stop, after, 2 * _BRIEF_US) + _press(start, after + _BRIEF_US, 2 * _BRIEF_US)
    yield trial.scenario("START pressed while STOP is held, STOP let go first", first, more_us=trial.length_us())
    inside = _press(stop, after, 3 * _BRIEF_US) + _press(start, after + _BRIEF_US)
    yield trial.scenario("START pressed and let go while STOP is held", inside, more_us=trial.length_us())
    for step, begun, over in trial.spans():
        moment = _middle(begun, over)
        held = _start_let_go(trial.scenario("", _press(stop, moment), cycles=1), start, "", None)
        yield held.model_copy(
            update={
                "name": f"START held, STOP tapped in step {step}",
                "duration_us": held.duration_us + trial.length_us(),
            }
        )


# --- the supply -------------------------------------------------------------------------------------------------


def _supply(trial: Trial) -> Iterator[Scenario]:
    for step, begun, over in trial.spans():
        moment = _middle(begun, over)
        for away in (_SOON_US, 1_000_000, trial.length_us()):
            name = f"supply lost in step {step}, back after {away / 1_000_000:g} s"
            yield trial.scenario(name, _supply_off(moment, away), cycles=2)


def _supply_with_start(trial: Trial) -> Iterator[Scenario]:
    start = trial.machine.start
    if start is None:
        return
    for step, begun, over in trial.spans():
        moment = _middle(begun, over)
        for away in (1_000_000, trial.length_us()):
            held = _press(start, moment + away // 2, away // 2 + _BRIEF_US)
            name = f"supply lost in step {step}, START held as it returns"
            yield trial.scenario(name, _supply_off(moment, away) + held, more_us=trial.length_us())


# --- strokes and sensors ----------------------------------------------------------------------------------------


def _strokes(trial: Trial) -> Iterator[Scenario]:
    for extending in Swiftness:
        for retracting in Swiftness:
            times = stroke_times(trial.machine, extending, retracting)
            yield trial.scenario(f"extending {extending}, retracting {retracting} times", strokes=times, cycles=2)
    for number in range(6):
        random = Random(f"strokes {number}")
        times = tuple(_any_times(random, actuator) for actuator in trial.machine.actuators)
        yield trial.scenario("strokes of any allowed times", strokes=times, cycles=2)


def _any_times(random: Random, actuator: Actuator) -> StrokeTimes:
    extend, retract = actuator.extend_time, actuator.retract_time
    return StrokeTimes(
        actuator=actuator.name,
        extend_us=random.randint(extend.least_us, extend.greatest_us),
        retract_us=random.randint(retract.least_us, retract.greatest_us),
    )


def _jam(trial: Trial) -> Iterator[Scenario]:
    strokes = trial.usual.strokes
    every = max(1, -(-len(strokes) // MOST_STEPS_TRIED))
    for stroke in strokes[::every]:
        moment = _middle(stroke.from_us, stroke.to_us)
        stuck = Event(at_us=moment, kind=EventKind.JAM, device=stroke.actuator, on=True)
        freed = stuck.model_copy(update={"at_us": moment + 2 * trial.length_us(), "on": False})
        soon = stuck.model_copy(update={"at_us": moment + 3_000_000, "on": False})
        yield trial.scenario(f"{stroke.actuator} jams and stays", (stuck,), more_us=trial.length_us())
        yield trial.scenario(f"{stroke.actuator} jams for 3 s", (stuck, soon), cycles=2)
        stop = trial.machine.stop
        if stop is not None:
            cleared = (stuck, *_press(stop, freed.at_us - _BRIEF_US), freed)
            yield trial.scenario(f"{stroke.actuator} jams, STOP, freed, started again", cleared, cycles=2)


def _nothing_comes(trial: Trial) -> Iterator[Scenario]:
    """A sensor never sees its part, a selector or a button is left alone."""
    for name in _free_inputs(trial.machine):
        yield trial.scenario(f"{name} left alone", leaves=frozenset({name}), cycles=2)


def _outside(trial: Trial) -> Iterator[Scenario]:
    names = _free_inputs(trial.machine)
    for number in range(8 if names else 0):
        random = Random(f"outside {number}")
        flips = _random_flips(random, names, 3 * trial.length_us(), 3 + 2 * number)
        stamps = (Stamp(at_us=min(e.at_us for e in flips), stretch=Stretch.OUTSIDE),)
        yield trial.scenario("sensors and selectors at any moment", flips, cycles=3, stamps=stamps)


def _free_inputs(machine: Machine) -> list[str]:
    free = (InputKind.SENSOR, InputKind.SELECTOR, InputKind.PUSHBUTTON)
    return [i.name for i in machine.inputs if i.kind in free and i.name not in (machine.start, machine.stop)]


def _random_flips(random: Random, names: list[str], within_us: int, count: int) -> tuple[Event, ...]:
    on = dict.fromkeys(names, False)
    flips = []
    for at_us in sorted(random.randrange(1, within_us) for _ in range(count)):
        name = random.choice(names)
        on[name] = not on[name]
        flips.append(Event(at_us=at_us, kind=EventKind.INPUT, device=name, on=on[name]))
    return tuple(flips)


# --- at random --------------------------------------------------------------------------------------------------


def _stop_at_random(trial: Trial) -> Iterator[Scenario]:
    stop = trial.machine.stop
    for number in range(10 if stop is not None else 0):
        random = Random(f"stop {number}")
        presses: tuple[Event, ...] = ()
        for _ in range(1 + number % 3):
            moment = random.randrange(1, 2 * trial.length_us())
            presses += _press(stop or "", moment, random.randrange(_SOON_US, 2 * _BRIEF_US))
        yield trial.scenario("STOP at random moments", presses, cycles=3)


def _seeded(trial: Trial, seed: int) -> Iterator[Scenario]:
    """Everything at once, at random moments."""
    machine = trial.machine
    for number in range(12):
        random = Random(f"mix {seed} {number}")
        within = 3 * trial.length_us()
        done: list[Event] = []
        for device in (machine.start, machine.stop):
            for _ in range(random.randrange(4) if device is not None else 0):
                length = random.choice((_SOON_US, _BRIEF_US, within // 3))
                done += _press(device or "", random.randrange(1, within), length)
        if random.random() < 0.4:
            done += _supply_off(random.randrange(1, within), random.choice((_SOON_US, 2_000_000)))
        if random.random() < 0.3 and machine.actuators:
            jammed = random.choice(machine.actuators).name
            moment = random.randrange(1, within)
            for at_us, on in ((moment, True), (moment + random.randrange(1, within), False)):
                done.append(Event(at_us=at_us, kind=EventKind.JAM, device=jammed, on=on))
        stamps: tuple[Stamp, ...] = ()
        names = _free_inputs(machine)
        if names and random.random() < 0.5:
            flips = _random_flips(random, names, within, 4)
            done += flips
            stamps = (Stamp(at_us=flips[0].at_us, stretch=Stretch.OUTSIDE),)
        times = tuple(_any_times(random, actuator) for actuator in machine.actuators)
        strokes = random.choice((times, trial.greatest))
        yield trial.scenario("a mix of everything", tuple(done), cycles=2, strokes=strokes, stamps=stamps)


FAMILIES: tuple[Family, ...] = (
    _careful,
    _start_held,
    _start_early,
    _stop,
    _stop_at_random,
    _start_with_stop,
    _supply,
    _supply_with_start,
    _strokes,
    _jam,
    _nothing_comes,
    _outside,
)
"""Every family of runs, in the order they are tried; a seeded mix of everything comes after them."""
