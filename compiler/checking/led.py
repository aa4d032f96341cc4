"""The station the careful operator leads: whose cycles it begins and counts."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.chart import Chart, Transition
from compiler.condition import Rise, Signal, walk
from compiler.shape import Shape

__all__ = ["Led", "led_by", "steps_from"]


@dataclass(frozen=True, slots=True)
class Led:
    """A station: its steps, those in which it rests, and those that begin its cycle."""

    steps: frozenset[str]
    rest: frozenset[str]
    first: frozenset[str]


def led_by(chart: Chart, shape: Shape, start: str | None) -> Led:
    """The first station that START starts, or the first of all."""

    def triggers(rest: frozenset[str]) -> list[Transition]:
        return [t for t in chart.transitions if rest & set(t.sources)]

    def started(rest: frozenset[str]) -> bool:
        parts = (part for t in triggers(rest) for part in walk(t.condition))
        return any(isinstance(part, Signal | Rise) and part.device == start for part in parts)

    rest = next((each for each in shape.stations if started(each)), shape.stations[0])
    first = frozenset(name for t in triggers(rest) for name in t.targets) - rest
    return Led(steps_from(chart, rest), rest, first & shape.first)


def steps_from(chart: Chart, rest: frozenset[str]) -> frozenset[str]:
    """Every step of the station that rests there."""
    onward: dict[str, list[Transition]] = {}
    for t in chart.transitions:
        for name in t.sources:
            onward.setdefault(name, []).append(t)
    steps, waiting = set(rest), list(rest)
    while waiting:
        for t in onward.get(waiting.pop(), ()):
            for name in t.targets:
                if name not in steps:
                    steps.add(name)
                    waiting.append(name)
    return frozenset(steps)
