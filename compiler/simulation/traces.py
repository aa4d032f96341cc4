"""A run as traces: when each signal was on, and where each rod was. Microseconds and micrometres."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from compiler.machine import Actuator, End, Machine
from compiler.simulation.run import Change, Move, Role, Run, Side, StrokeTimes, Swiftness, stroke_times

__all__ = ["Number", "Rod", "Trace", "numbers", "rods", "traces"]


@dataclass(frozen=True, slots=True)
class Trace:
    """One signal of a run: the moments it changed, and to what. It was off before the first."""

    name: str
    side: Side
    role: Role
    edges: tuple[tuple[int, bool], ...]

    def on(self, at_us: int) -> bool:
        """Whether it is on just after a moment."""
        place = bisect_right(self.edges, at_us, key=lambda edge: edge[0])
        return place > 0 and self.edges[place - 1][1]

    def spans(self, end_us: int) -> tuple[tuple[int, int], ...]:
        """From when until when it was on."""
        stops = [at_us for at_us, _ in self.edges[1:]] + [end_us]
        return tuple((at, stop) for (at, on), stop in zip(self.edges, stops, strict=False) if on)


@dataclass(frozen=True, slots=True)
class Rod:
    """Where the rod of an actuator was: moments and micrometres from home, straight in between."""

    actuator: Actuator
    points: tuple[tuple[int, int], ...]

    @property
    def name(self) -> str:
        return self.actuator.name

    def at(self, at_us: int) -> float:
        """Its distance from home at a moment, in micrometres."""
        place = min(max(bisect_right(self.points, at_us, key=lambda point: point[0]) - 1, 0), len(self.points) - 1)
        from_us, from_um = self.points[place]
        if place + 1 == len(self.points) or at_us <= from_us:
            return from_um
        to_us, to_um = self.points[place + 1]
        return from_um + (to_um - from_um) * (at_us - from_us) / (to_us - from_us)


def traces(run: Run) -> tuple[Trace, ...]:
    """Every signal that was ever on in a run, in the order in which they were first on."""
    found: dict[tuple[Side, Role, str], list[Change]] = {}
    for change in run.changes:
        found.setdefault((change.side, change.role, change.signal), []).append(change)
    return tuple(
        Trace(name, side, role, tuple((c.at_us, c.on) for c in changes))
        for (side, role, name), changes in found.items()
    )


@dataclass(frozen=True, slots=True)
class Number:
    """A number inside a logic, such as how far a counter has got: the moments it came to a value."""

    name: str
    side: Side
    values: tuple[tuple[int, int], ...]

    def at(self, at_us: int) -> int:
        """What it is just after a moment; 0 before its first."""
        place = bisect_right(self.values, at_us, key=lambda value: value[0])
        return self.values[place - 1][1] if place else 0


def numbers(signals: Sequence[Trace]) -> tuple[tuple[Number, ...], tuple[Trace, ...]]:
    """The numbers that some signals are the values of ("count = 2"), and the signals that are none."""
    values: dict[tuple[Side, str], list[tuple[int, int]]] = {}
    rest = []
    for trace in signals:
        name, _, value = trace.name.rpartition(" = ")
        if trace.role is Role.INSIDE and name and value.isdecimal():
            entries = values.setdefault((trace.side, name), [])
            entries += [(at_us, int(value)) for at_us, on in trace.edges if on]
        else:
            rest.append(trace)
    found = tuple(Number(name, side, tuple(sorted(entries))) for (side, name), entries in values.items())
    return found, tuple(rest)


def rods(run: Run, machine: Machine) -> tuple[Rod, ...]:
    """The rod of every actuator of the machine, moved or not."""
    times = {t.actuator: t for t in run.scenario.strokes or stroke_times(machine, Swiftness.USUAL, Swiftness.USUAL)}
    found = []
    for actuator in machine.actuators:
        moves = [m for m in run.moves if m.actuator == actuator.name]
        resting = actuator.stroke_um if actuator.rest is End.END else 0
        points = {0: resting} | {m.at_us: m.position_um for m in moves}
        points |= {p.by_us: p.at_um for p in run.scenario.paces if _paced(p.actuator, p.by_us, actuator.name, moves)}
        if moves and run.ended_us > moves[-1].at_us:
            points[run.ended_us] = _at_end(run, actuator, moves[-1], times[actuator.name], points)
        else:
            points.setdefault(run.ended_us, resting)
        found.append(Rod(actuator, tuple(sorted((at, um) for at, um in points.items() if at <= run.ended_us))))
    return tuple(found)


def _at_end(run: Run, actuator: Actuator, last: Move, time: StrokeTimes, points: Mapping[int, int]) -> int:
    """How far from home a rod is as its run ends, from its last move and the last place that is known of it."""
    if not last.way:
        return last.position_um
    from_us = max(at_us for at_us in points if at_us < run.ended_us)
    left_us, from_um = run.ended_us - from_us, points[from_us]
    for pace in run.scenario.paces:
        if (pace.actuator, pace.from_us) == (actuator.name, from_us) and pace.by_us > run.ended_us:
            return from_um + (pace.at_um - from_um) * left_us // (pace.by_us - from_us)
    takes = time.extend_us if last.way > 0 else time.retract_us
    if last.way > 0 and time.rapid_us is not None and _rapid(run, actuator, last.at_us):
        takes = time.rapid_us
    return min(actuator.stroke_um, max(0, from_um + last.way * actuator.stroke_um * left_us // takes))


def _paced(actuator: str, by_us: int, name: str, moves: Sequence[Move]) -> bool:
    """Whether a rod was still on its way at the moment by which it was to be somewhere."""
    before = [m for m in moves if m.at_us < by_us]
    return actuator == name and bool(before) and before[-1].way != 0 and all(m.at_us != by_us for m in moves)


def _rapid(run: Run, actuator: Actuator, at_us: int) -> bool:
    quick = actuator.valve.rapid
    return quick is not None and any(
        t.on(at_us)
        for t in traces(run)
        if t.side is Side.DRIVER and t.role is Role.OUTPUT and t.name == quick.solenoid
    )
