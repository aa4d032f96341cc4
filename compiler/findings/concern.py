"""Which cylinders each step has charge of: those of its station and, in parallel work, of its branch."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from compiler.chart import Chart, Transition
from compiler.condition import Signal, walk
from compiler.machine import Machine
from compiler.shape import Shape

__all__ = ["concerns"]


def concerns(machine: Machine, chart: Chart, shape: Shape) -> dict[str, frozenset[str]]:
    """For every step the cylinders it has charge of. One that several parts of the work might have charge of belongs
    to the one that drives it, else to the one that looks at its switches, else to the first."""
    everything = frozenset(a.name for a in machine.actuators)
    own = {step.name: everything for step in chart.steps}
    mentions = _Mentions(machine, chart)
    leaving: dict[str, list[Transition]] = {}
    for t in shape.ways:
        for name in t.sources:
            leaving.setdefault(name, []).append(t)
    side_by_side = [[_reached(rest, leaving) for rest in shape.stations]]
    forks = dict.fromkeys(t.targets for t in shape.ways if len(t.targets) > 1)
    side_by_side += [[_reached((target,), leaving) for target in targets] for targets in forks]
    for parts in side_by_side:
        owned = mentions.share(parts)
        for k, part in enumerate(parts):
            others = frozenset(name for j, mine in enumerate(owned) if j != k for name in mine)
            for step in part if others else ():
                own[step] -= others
    return own


def _reached(begin: Iterable[str], leaving: Mapping[str, list[Transition]]) -> frozenset[str]:
    """The steps that follow from some, as far as nothing else has to join them."""
    reached, waiting = set(begin), list(begin)
    while waiting:
        for t in leaving.get(waiting.pop(), ()):
            if reached.issuperset(t.sources):
                for name in t.targets:
                    if name not in reached:
                        reached.add(name)
                        waiting.append(name)
    return frozenset(reached)


class _Mentions:
    """Which cylinders each step drives, and which it looks at."""

    def __init__(self, machine: Machine, chart: Chart) -> None:
        drives = {name: a.name for a in machine.actuators for name in a.valve.solenoids}
        sees = {s.name: a.name for a in machine.actuators for s in (*a.limit_switches, *a.pressure_switches)}
        self.names = tuple(a.name for a in machine.actuators)
        self.driven = {
            step.name: frozenset(drives[action.output] for action in step.actions if action.output in drives)
            for step in chart.steps
        }
        self.seen: dict[str, set[str]] = {step.name: set() for step in chart.steps}
        for t in chart.transitions:
            looked_at = {sees[p.device] for p in walk(t.condition) if isinstance(p, Signal) and p.device in sees}
            for name in t.sources if looked_at else ():
                self.seen[name] |= looked_at

    def share(self, parts: list[frozenset[str]]) -> list[frozenset[str]]:
        """The cylinders of each of several parts that go on side by side."""
        owner: dict[str, int] = {}
        for of in (self.driven, self.seen):
            for k, part in enumerate(parts):
                for name in frozenset(name for step in part for name in of[step]):
                    owner.setdefault(name, k)
        return [frozenset(name for name in self.names if owner.get(name, 0) == k) for k in range(len(parts))]
