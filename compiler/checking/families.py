"""Families of runs: what people, parts, supplies and oil may do to a machine.

Each family is a function from the Trial to scenarios. All of them are worked by the careful operator, with
something done besides; all are plain lists of events at absolute times, the same whenever they are made. Strokes
take their greatest times unless the family is about strokes, so that an arrangement which relies on exact times is
not found at fault everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from random import Random

from compiler.checking.trial import (
    BRIEF_US,
    MOST_STEPS_TRIED,
    SOON_US,
    TAIL_US,
    Trial,
    early,
    middle,
    press,
    supply_off,
    thinned,
)
from compiler.checking.usual import leading
from compiler.machine import Actuator, InputKind, Machine, Travel
from compiler.simulation.run import Event, EventKind, Scenario, Stamp, Stretch, StrokeTimes, Swiftness, stroke_times

__all__ = ["FAMILIES", "Family", "free_inputs", "mixes", "start_let_go", "switch_names"]

Family = Callable[[Trial], Iterator[Scenario]]
"""What makes scenarios from a trial."""


# --- careful ----------------------------------------------------------------------------------------------------


def _careful(trial: Trial) -> Iterator[Scenario]:
    led = leading(trial.machine, trial.chart, trial.wired, trial.usual, strokes=trial.greatest)
    if led:
        yield trial.scenario("one cycle, sensors set for it", led)
    yield trial.scenario("one cycle")
    yield trial.scenario("three cycles", cycles=3, more_us=trial.length_us())
    start = trial.machine.start
    if start is None:
        return
    once = trial.scenario("START held a while")
    for step, begun, over in trial.spans():
        yield start_let_go(once, start, f"START held into step {step}, then let go", middle(begun, over))


def _start_held(trial: Trial) -> Iterator[Scenario]:
    start = trial.machine.start
    if start is None:
        return
    for cycles in (1, 3):
        once = trial.scenario("START held throughout", cycles=cycles, more_us=2 * trial.length_us())
        yield start_let_go(once, start, once.name, None)
    spans = trial.spans()
    if spans:
        once = trial.scenario("START held past the end of the cycle", more_us=trial.length_us())
        yield start_let_go(once, start, once.name, spans[-1][2] + BRIEF_US)


def start_let_go(scenario: Scenario, start: str, name: str, at_us: int | None) -> Scenario:
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
        moments = (early(begun, over), middle(begun, over), max(begun, over - BRIEF_US // 2))
        for moment in moments if begun < over else ():
            yield trial.scenario(f"START pressed in step {step}", press(start, moment), cycles=2)


def _start_too_soon(trial: Trial) -> Iterator[Scenario]:
    """START goes down before the machine is ready, and is still down as what was missing comes."""
    start, free = trial.machine.start, free_inputs(trial.machine)
    once = trial.scenario("START pressed before all is ready", cycles=2)
    pressed = next((e.at_us for e in once.events if e.device == start and e.on), 0)
    missing = [e for e in once.events if e.device in free and e.at_us < pressed]
    if start is not None and missing:
        too_soon = press(start, max(1, missing[0].at_us - BRIEF_US), 2 * BRIEF_US)
        events = sorted((*once.events, *too_soon), key=lambda e: e.at_us)
        yield once.model_copy(update={"events": tuple(events)})


def _stop(trial: Trial) -> Iterator[Scenario]:
    stop = trial.machine.stop
    if stop is None:
        return
    released = _released_us(trial)
    for step, begun, over in trial.spans():
        begun = max(begun, released)  # the careful operator never holds both
        for moment in (early(begun, over), middle(begun, over)) if begun < over else ():
            yield trial.scenario(f"STOP in step {step}, then started again", press(stop, moment), cycles=2)


def _released_us(trial: Trial) -> int:
    """When START is let go in the usual cycle, and a moment more."""
    start = trial.machine.start
    return max((e.at_us + SOON_US for e in trial.usual.events if e.device == start and not e.on), default=0)


def _start_with_stop(trial: Trial) -> Iterator[Scenario]:
    start, stop = trial.machine.start, trial.machine.stop
    if start is None or stop is None:
        return
    after = trial.length_us() + TAIL_US
    first = press(stop, after, 2 * BRIEF_US) + press(start, after + BRIEF_US, 2 * BRIEF_US)
    yield trial.scenario("START pressed while STOP is held, STOP let go first", first, more_us=trial.length_us())
    inside = press(stop, after, 3 * BRIEF_US) + press(start, after + BRIEF_US)
    yield trial.scenario("START pressed and let go while STOP is held", inside, more_us=trial.length_us())
    for step, begun, over in trial.spans():
        moment = middle(begun, over)
        held = start_let_go(trial.scenario("", press(stop, moment), cycles=1), start, "", None)
        yield held.model_copy(
            update={
                "name": f"START held, STOP tapped in step {step}",
                "duration_us": held.duration_us + trial.length_us(),
            }
        )


# --- the supply -------------------------------------------------------------------------------------------------


def _supply(trial: Trial) -> Iterator[Scenario]:
    for step, begun, over in trial.spans():
        moment = middle(begun, over)
        for away in (SOON_US, 1_000_000, trial.length_us()):
            name = f"supply lost in step {step}, back after {away / 1_000_000:g} s"
            yield trial.scenario(name, supply_off(moment, away), cycles=2)


def _supply_with_start(trial: Trial) -> Iterator[Scenario]:
    start = trial.machine.start
    if start is None:
        return
    for step, begun, over in trial.spans():
        moment = middle(begun, over)
        for away in (1_000_000, trial.length_us()):
            held = press(start, moment + away // 2, away // 2 + BRIEF_US)
            name = f"supply lost in step {step}, START held as it returns"
            yield trial.scenario(name, supply_off(moment, away) + held, more_us=trial.length_us())


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
    def any_of(travel: Travel) -> int:
        return random.randint(travel.least_us, travel.greatest_us)

    rapid = actuator.valve.rapid
    return StrokeTimes(
        actuator=actuator.name,
        extend_us=any_of(actuator.extend_time),
        retract_us=any_of(actuator.retract_time),
        rapid_us=None if rapid is None else any_of(rapid.time),
    )


def _jam(trial: Trial) -> Iterator[Scenario]:
    strokes = trial.usual.strokes
    every = max(1, -(-len(strokes) // MOST_STEPS_TRIED))
    for stroke in strokes[::every]:
        moment = middle(stroke.from_us, stroke.to_us)
        stuck = Event(at_us=moment, kind=EventKind.JAM, device=stroke.actuator, on=True)
        freed = stuck.model_copy(update={"at_us": moment + 2 * trial.length_us(), "on": False})
        soon = stuck.model_copy(update={"at_us": moment + 3_000_000, "on": False})
        yield trial.scenario(f"{stroke.actuator} jams and stays", (stuck,), more_us=trial.length_us())
        yield trial.scenario(f"{stroke.actuator} jams for 3 s", (stuck, soon), cycles=2)
        stop = trial.machine.stop
        if stop is not None:
            cleared = (stuck, *press(stop, freed.at_us - BRIEF_US), freed)
            yield trial.scenario(f"{stroke.actuator} jams, STOP, freed, started again", cleared, cycles=2)
        yield from _start_in_fault(trial, f"{stroke.actuator} jams", (stuck,))


def _switches(trial: Trial) -> Iterator[Scenario]:
    """A switch never makes, never lets go, or does either for a moment in a step."""
    spans = trial.spans()
    names = switch_names(trial.machine)
    for name in names:
        for kind, how in ((EventKind.STUCK_OPEN, "never makes"), (EventKind.STUCK_MADE, "is always made")):
            stuck = (Event(at_us=0, kind=kind, device=name, on=True),)
            once = trial.scenario(f"{name} {how}", stuck, cycles=2)
            yield once
            if trial.machine.start is not None:
                yield start_let_go(once, trial.machine.start, f"{name} {how}, START held throughout", None)
            yield from _start_in_fault(trial, f"{name} {how}", stuck)
    moments = [(name, span) for name in names for span in spans]
    for name, (step, begun, over) in thinned(moments, len(spans)):
        at_us = middle(begun, over)
        for kind, how in ((EventKind.STUCK_OPEN, "lets go"), (EventKind.STUCK_MADE, "is made")):
            flick = Event(at_us=at_us, kind=kind, device=name, on=True)
            back = flick.model_copy(update={"at_us": at_us + SOON_US, "on": False})
            yield trial.scenario(f"{name} {how} for a moment in step {step}", (flick, back), cycles=2)


def switch_names(machine: Machine) -> list[str]:
    return [s.name for a in machine.actuators for s in (*a.limit_switches, *a.pressure_switches)]


def _start_in_fault(trial: Trial, name: str, besides: tuple[Event, ...]) -> Iterator[Scenario]:
    """START tried while a fault is shown, before STOP has cleared it."""
    start = trial.machine.start
    fault = trial.fault_us(besides)
    if start is not None and fault is not None:
        tried = press(start, fault + BRIEF_US // 3, BRIEF_US // 3)
        yield trial.scenario(f"{name}, START pressed while the fault is shown", (*besides, *tried), cycles=2)


def _nothing_comes(trial: Trial) -> Iterator[Scenario]:
    """A sensor never sees its part, a selector or a button is left alone."""
    for name in free_inputs(trial.machine):
        yield trial.scenario(f"{name} left alone", leaves=frozenset({name}), cycles=2)


def _outside(trial: Trial) -> Iterator[Scenario]:
    names = free_inputs(trial.machine)
    for number in range(8 if names else 0):
        random = Random(f"outside {number}")
        flips = _random_flips(random, names, 3 * trial.length_us(), 3 + 2 * number)
        stamps = (Stamp(at_us=min(e.at_us for e in flips), stretch=Stretch.OUTSIDE),)
        yield trial.scenario("sensors and selectors at any moment", flips, cycles=3, stamps=stamps)


def free_inputs(machine: Machine) -> list[str]:
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
            presses += press(stop or "", moment, random.randrange(SOON_US, 2 * BRIEF_US))
        yield trial.scenario("STOP at random moments", presses, cycles=3)


def mixes(trial: Trial, seed: int) -> Iterator[Scenario]:
    """Everything at once, at random moments."""
    machine = trial.machine
    for number in range(12):
        random = Random(f"mix {seed} {number}")
        within = 3 * trial.length_us()
        done: list[Event] = []
        for device in (machine.start, machine.stop):
            for _ in range(random.randrange(4) if device is not None else 0):
                length = random.choice((SOON_US, BRIEF_US, within // 3))
                done += press(device or "", random.randrange(1, within), length)
        if random.random() < 0.4:
            done += supply_off(random.randrange(1, within), random.choice((SOON_US, 2_000_000)))
        if random.random() < 0.3 and machine.actuators:
            jammed = random.choice(machine.actuators).name
            moment = random.randrange(1, within)
            for at_us, on in ((moment, True), (moment + random.randrange(1, within), False)):
                done.append(Event(at_us=at_us, kind=EventKind.JAM, device=jammed, on=on))
        switches = switch_names(machine)
        if switches and random.random() < 0.3:
            kind = random.choice((EventKind.STUCK_MADE, EventKind.STUCK_OPEN))
            at_us = random.choice((0, random.randrange(1, within)))
            done.append(Event(at_us=at_us, kind=kind, device=random.choice(switches), on=True))
        stamps: tuple[Stamp, ...] = ()
        names = free_inputs(machine)
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
    _start_too_soon,
    _stop,
    _stop_at_random,
    _start_with_stop,
    _supply,
    _supply_with_start,
    _strokes,
    _jam,
    _switches,
    _nothing_comes,
    _outside,
)
"""Every family of runs, in the order they are tried; a seeded mix of everything comes after them."""
