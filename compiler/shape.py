"""The parts the steps of a chart play: where a cycle begins, where it ends, where the machine rests."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from compiler.chart import Chart, Transition
from compiler.condition import Active, And, Condition

__all__ = ["Shape", "shape_of"]


@dataclass(frozen=True, slots=True)
class Shape:
    """The steps of a chart by the part they play. ``first`` begin a cycle, in ``rest`` it has not begun or is
    over, from ``last`` it ends; ``fault`` show a fault. ``stations`` are the rest steps of each station. ``ways`` are
    the transitions of cycles that nothing disturbs: no fault, no STOP.

    The two steps of a ``memory``, a chart beside the stations that only remembers something, are in no other set.
    """

    steps: frozenset[str]
    initial: frozenset[str]
    first: frozenset[str]
    rest: frozenset[str]
    last: frozenset[str]
    fault: frozenset[str]
    stations: tuple[frozenset[str], ...]
    memory: frozenset[str]
    ways: tuple[Transition, ...]

    def resting(self, active: Iterable[str]) -> bool:
        """Whether every station is at rest."""
        now = frozenset(active)
        return all(now & rest for rest in self.stations)


def shape_of(chart: Chart) -> Shape:
    """The parts steps play, from the transitions alone."""
    memory = _memory(chart)
    steps = frozenset(s.name for s in chart.steps) - memory
    initial = frozenset(s.name for s in chart.steps if s.initial) - memory
    fault = frozenset(s.name for s in chart.steps if s.fault)
    normal = [t for t in chart.transitions if not fault & {*t.sources, *t.targets} and not memory & set(t.sources)]
    reached = _reached(initial, normal)
    normal = [t for t in normal if reached.issuperset(t.sources)]
    first = frozenset(name for t in normal if initial & set(t.sources) for name in t.targets) - initial
    stations = tuple(_rest(name, normal) for name in sorted(initial, key=[s.name for s in chart.steps].index))
    rest = frozenset(name for station in stations for name in station)
    ways = tuple(t for t in normal if not _asked(t.condition, memory))
    last = frozenset(name for t in ways if rest & set(t.targets) for name in t.sources) - rest
    return Shape(steps, initial, first, rest, last, fault, stations, memory, ways)


def _rest(initial: str, normal: list[Transition]) -> frozenset[str]:
    """The rest steps of a station: those left just as its initial one is."""
    begun = {(t.targets, t.condition) for t in normal if t.sources == (initial,)}
    return frozenset(t.sources[0] for t in normal if len(t.sources) == 1 and (t.targets, t.condition) in begun) | {
        initial
    }


def _reached(initial: frozenset[str], normal: list[Transition]) -> frozenset[str]:
    """The steps that cycles come to; the way home after a STOP is not among them."""
    onward: dict[str, list[Transition]] = {}
    for t in normal:
        for name in t.sources:
            onward.setdefault(name, []).append(t)
    reached, waiting = set(initial), list(initial)
    while waiting:
        for t in onward.get(waiting.pop(), ()):
            for name in t.targets:
                if name not in reached:
                    reached.add(name)
                    waiting.append(name)
    return frozenset(reached)


def _memory(chart: Chart) -> frozenset[str]:
    """The steps of every chart of two steps, beside others, that switch and count nothing."""
    parent = {step.name: step.name for step in chart.steps}

    def root(name: str) -> str:
        while parent[name] != name:
            parent[name] = parent[parent[name]]
            name = parent[name]
        return name

    for t in chart.transitions:
        for name in (*t.sources, *t.targets, *t.aborts):
            parent[root(name)] = root(t.sources[0])
    parts: dict[str, list[str]] = {}
    for step in chart.steps:
        parts.setdefault(root(step.name), []).append(step.name)
    idle = {step.name for step in chart.steps if not (step.actions or step.counting or step.fault)}
    small = [part for part in parts.values() if len(part) == 2 and idle.issuperset(part)]
    return frozenset(name for part in small for name in part) if len(small) < len(parts) else frozenset()


def _asked(condition: Condition, memory: frozenset[str]) -> bool:
    """Whether a way is open only while something is remembered: what a STOP asked for, say."""
    parts = condition.of if isinstance(condition, And) else (condition,)
    return any(isinstance(part, Active) and part.step in memory for part in parts)
