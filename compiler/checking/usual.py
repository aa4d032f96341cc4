"""The usual cycle of a machine: which way it goes where it has a choice."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.chart import Chart, Transition
from compiler.checking.operating import Operated, operate
from compiler.condition import And, Signal
from compiler.machine import InputKind, Machine
from compiler.shape import shape_of
from compiler.simulation.joint import Wired
from compiler.simulation.run import Event, EventKind, StrokeTimes

__all__ = ["leading"]


def leading(
    machine: Machine, chart: Chart, wired: Wired, plain: Operated, *, strokes: tuple[StrokeTimes, ...]
) -> tuple[Event, ...]:
    """What makes the choices of a cycle go the way that is written first, as far as sensors and selectors decide
    them: these are made from the beginning. Empty where that leads to no whole cycle, or to no more of those ways
    than the ``plain`` cycle takes, in which they are left as they are until the chart waits for them. ``wired`` is
    the chart's own logic."""
    firsts = tuple(_first_ways(chart))
    outside = {i.name for i in machine.inputs if i.kind in (InputKind.SENSOR, InputKind.SELECTOR)}
    asked = dict.fromkeys(name for way in firsts for name in _made(way) if name in outside)
    if not asked:
        return ()
    made = tuple(Event(at_us=0, kind=EventKind.INPUT, device=name, on=True) for name in asked)
    led = operate(machine, chart, wired, strokes=strokes, done_besides=made)
    return made if _rests(chart, led) and _taken(firsts, led) > _taken(firsts, plain) else ()


def _first_ways(chart: Chart) -> Iterator[Transition]:
    """Of every step with several ways on in an undisturbed cycle, the one that is written first."""
    met: dict[tuple[str, ...], list[Transition]] = {}
    for way in shape_of(chart).ways:
        met.setdefault(way.sources, []).append(way)
    yield from (ways[0] for ways in met.values() if len(ways) > 1)


def _made(way: Transition) -> Iterator[str]:
    """The inputs that a way asks for as made."""
    parts = way.condition.of if isinstance(way.condition, And) else (way.condition,)
    yield from (part.device for part in parts if isinstance(part, Signal))


def _taken(ways: tuple[Transition, ...], run: Operated) -> int:
    met = {entry.step for entry in run.entries}
    return sum(1 for way in ways if met.issuperset(way.targets))


def _rests(chart: Chart, run: Operated) -> bool:
    """Whether a cycle began and the machine came to rest again, with no fault shown."""
    shape = shape_of(chart)
    faults = any(entry.step in shape.fault for entry in run.entries)
    return run.cycles >= 1 and not faults and any(entry.step in shape.rest for entry in run.entries[1:])
