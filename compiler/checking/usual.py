"""The usual cycle of a machine: which way it goes where it has a choice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import combinations

from compiler.chart import Chart, Transition
from compiler.checking.led import steps_from
from compiler.checking.operating import Operated, operate
from compiler.checking.swept import swept
from compiler.condition import And, Condition, Signal, walk
from compiler.machine import InputKind, Machine
from compiler.shape import shape_of
from compiler.simulation.joint import Wired
from compiler.simulation.run import Event, EventKind, StrokeTimes

__all__ = ["leading"]

_MOST_ASKED = 4  # sensors and selectors tried together


def leading(
    machine: Machine, chart: Chart, wired: Wired, plain: Operated, *, strokes: tuple[StrokeTimes, ...]
) -> tuple[Event, ...]:
    """What is done besides the operator's work so that a cycle shows what the machine is for: its choices go the way
    that is written first, interlocks are let on from the beginning, and sensors let go as motors run away from them.
    Empty where nothing is to be done, or where it leads to no whole cycle. ``wired`` is the chart's own logic, in the
    ``plain`` cycle sensors are left as they are until the chart waits for them."""
    chosen = _chosen(machine, chart, wired, plain, strokes=strokes)
    let_on = tuple(_on(name) for name in _interlocking(machine, chart) if name not in {e.device for e in chosen})
    full = swept(machine, chart, wired, (*chosen, *let_on), strokes=strokes)
    if full == chosen:
        return chosen
    led = operate(machine, chart, wired, strokes=strokes, done_besides=full)
    known = operate(machine, chart, wired, strokes=strokes, done_besides=chosen) if chosen else plain
    return full if _rests(chart, led) and _met(known) <= _met(led) else chosen


def _chosen(
    machine: Machine, chart: Chart, wired: Wired, plain: Operated, *, strokes: tuple[StrokeTimes, ...]
) -> tuple[Event, ...]:
    """What makes the choices of a cycle go the way that is written first, as far as sensors and selectors decide
    them: these are made from the beginning. Empty where that leads to no whole cycle, or to no more of those ways
    than the ``plain`` cycle takes."""
    firsts = tuple(_first_ways(chart))
    if not _rests(chart, plain):
        return _ending(machine, chart, wired, strokes=strokes)
    outside = {i.name for i in machine.inputs if i.kind in (InputKind.SENSOR, InputKind.SELECTOR)}
    asked = dict.fromkeys(name for way in firsts for name in _made(way) if name in outside)
    if not asked:
        return ()
    made = tuple(_on(name) for name in asked)
    led = operate(machine, chart, wired, strokes=strokes, done_besides=made)
    return made if _rests(chart, led) and _taken(firsts, led) > _taken(firsts, plain) else ()


def _ending(machine: Machine, chart: Chart, wired: Wired, *, strokes: tuple[StrokeTimes, ...]) -> tuple[Event, ...]:
    """What lets a cycle come to its end that goes round for ever while all is left as it is: the fewest of the
    sensors and selectors that its choices look at, made from the beginning. Empty where nothing does."""
    outside = {i.name for i in machine.inputs if i.kind in (InputKind.SENSOR, InputKind.SELECTOR)}
    looked_at = (part.device for way in _choices(chart) for part in walk(way.condition) if isinstance(part, Signal))
    asked = [name for name in dict.fromkeys(looked_at) if name in outside][:_MOST_ASKED]
    for number in range(1, len(asked) + 1):
        for names in combinations(asked, number):
            made = tuple(_on(name) for name in names)
            if _rests(chart, operate(machine, chart, wired, strokes=strokes, done_besides=made)):
                return made
    return ()


def _interlocking(machine: Machine, chart: Chart) -> tuple[str, ...]:
    """The sensors that interlocks want to be made: a guard, say, is shut before anybody presses START."""
    sensors = {i.name for i in machine.inputs if i.kind is InputKind.SENSOR}
    parts = (part for i in chart.interlocks for part in _parts(i.only_while) if isinstance(part, Signal))
    return tuple(dict.fromkeys(part.device for part in parts if part.device in sensors))


def _on(name: str) -> Event:
    return Event(at_us=0, kind=EventKind.INPUT, device=name, on=True)


def _parts(condition: Condition) -> tuple[Condition, ...]:
    return condition.of if isinstance(condition, And) else (condition,)


def _met(run: Operated) -> frozenset[str]:
    return frozenset(entry.step for entry in run.entries)


def _first_ways(chart: Chart) -> Iterator[Transition]:
    """Of every step with several ways on in an undisturbed cycle, the one that is written first."""
    yield from {way.sources: way for way in reversed(_choices(chart))}.values()


def _choices(chart: Chart) -> tuple[Transition, ...]:
    """The ways on from every step that has several in an undisturbed cycle."""
    ways = shape_of(chart).ways
    number = Counter(way.sources for way in ways)
    return tuple(way for way in ways if number[way.sources] > 1)


def _made(way: Transition) -> Iterator[str]:
    """The inputs that a way asks for as made."""
    yield from (part.device for part in _parts(way.condition) if isinstance(part, Signal))


def _taken(ways: tuple[Transition, ...], run: Operated) -> int:
    return sum(1 for way in ways if _met(run).issuperset(way.targets))


def _rests(chart: Chart, run: Operated) -> bool:
    """Whether a cycle began and every station that left its rest came back to it, with no fault shown."""
    shape = shape_of(chart)
    met = [entry.step for entry in run.entries]
    if run.cycles < 1 or not shape.fault.isdisjoint(met):
        return False
    return all(_comes_back(rest, steps_from(chart, rest) - rest, met) for rest in shape.stations)


def _comes_back(rest: frozenset[str], work: frozenset[str], met: Sequence[str]) -> bool:
    """Whether a station that ``met`` steps of its work met a step of its rest after the first of them."""
    left = next((k for k, name in enumerate(met) if name in work), None)
    return left is None or not rest.isdisjoint(met[left:])
