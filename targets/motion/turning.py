"""Motors: which way each of them ran when, and the band that shows it. A motor has no place, so its band has no
stroke: the thick line stands at 0 while the motor stands, above while it runs, below while it runs in reverse."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from compiler.machine import LoadKind, Machine
from compiler.simulation.run import Role, Run, Side
from compiler.simulation.traces import Trace, traces
from targets.drawing.figure import Bent, Box, Item, Line, Text, text_width
from targets.motion.axis import Axis
from targets.motion.page import SIZES, Labels

__all__ = ["Turning", "TurningBand", "turning_line", "turnings"]

_HEAD, _LEVEL, _FOOT = 16.0, 24.0, 18.0


@dataclass(frozen=True, slots=True)
class Turning:
    """A motor: moments and the way it ran from then on, 1 forward, -1 in reverse, 0 not at all. ``both``: it can run
    either way."""

    name: str
    both: bool
    ways: tuple[tuple[int, int], ...]

    def at(self, at_us: int) -> int:
        """Which way it ran just after a moment."""
        return next((way for at, way in reversed(self.ways) if at <= at_us), 0)


def turnings(run: Run, machine: Machine) -> tuple[Turning, ...]:
    """Every motor of the machine, run or not: those of two ways, then those that are only switched on and off."""
    on = {t.name: t for t in traces(run) if t.side is Side.DRIVER and t.role is Role.OUTPUT}
    paired = {name for motor in machine.motors for name in (motor.forward, motor.reverse)}
    motors = [(m.name, m.forward, m.reverse) for m in machine.motors]
    motors += [(x.name, x.name, "") for x in machine.loads if x.kind is LoadKind.MOTOR and x.name not in paired]
    found = []
    for name, forward, reverse in motors:
        both = [on[output] for output in (forward, reverse) if output in on]
        moments = sorted({0, *(at_us for trace in both for at_us, _ in trace.edges)})
        ways = [(at_us, _on(on, forward, at_us) - _on(on, reverse, at_us)) for at_us in moments]
        kept = tuple(way for k, way in enumerate(ways) if k == 0 or way[1] != ways[k - 1][1])
        found.append(Turning(name, bool(reverse), kept))
    return tuple(found)


def _on(traced: dict[str, Trace], name: str, at_us: int) -> int:
    trace = traced.get(name)
    return int(trace is not None and trace.on(at_us))


@dataclass(frozen=True, slots=True)
class TurningBand:
    """Where the band of a motor is."""

    turning: Turning
    top: float

    def y(self, way: float) -> float:
        """How high a way stands."""
        return self.top + _HEAD + _LEVEL * (1 - way)

    @property
    def middle(self) -> float:
        """Where its name stands, halfway between what it may be, in pixels from above."""
        return (self.y(1) + self.y(-1 if self.turning.both else 0)) / 2

    @property
    def height(self) -> float:
        """How much room it takes, in pixels."""
        return _HEAD + _LEVEL * (2 if self.turning.both else 1) + _FOOT

    @property
    def beyond(self) -> float:
        """How far left of its axis its name ends, clear of what its levels are called."""
        return 12 + max(text_width(called, size=SIZES["tick"]) for _, called in self._called())

    def _called(self) -> tuple[tuple[int, str], ...]:
        return ((1, "forward"), (0, "0"), (-1, "reverse")) if self.turning.both else ((1, "runs"), (0, "0"))

    def levels(self, left: float, right: float, labels: Labels) -> Iterator[Item]:
        """Its ground, its levels and what they are called."""
        called = self._called()
        yield Box(left, self.y(1), right - left, self.y(called[-1][0]) - self.y(1), "band")
        for way, said in called:
            yield Line(left, self.y(way), right, self.y(way), "grid")
            labels.put(Text(left - 5, self.y(way) + 3.5, said, "tick", "end"))


def turning_line(band: TurningBand, axis: Axis) -> Bent:
    """How a motor ran."""
    points: list[tuple[int, float]] = [(0, band.y(0))]
    for at_us, way in band.turning.ways:
        points += [(at_us, points[-1][1]), (at_us, band.y(way))]
    points.append((axis.end_us, points[-1][1]))
    return Bent(tuple((axis.x(at_us), y) for at_us, y in points), "rod")
