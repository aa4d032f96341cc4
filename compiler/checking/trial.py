"""What scenarios are made from: a machine, its chart, and a careful operator working it while more is done to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import gcd
from typing import TypeVar

from compiler.chart import Chart
from compiler.checking.operating import Operated, operate
from compiler.machine import Machine
from compiler.simulation.joint import Wired
from compiler.simulation.run import Event, EventKind, Scenario, Stamp, StrokeTimes

__all__ = [
    "BRIEF_US",
    "MOST_MOMENTS",
    "MOST_STEPS_TRIED",
    "SOON_US",
    "TAIL_US",
    "Trial",
    "early",
    "middle",
    "press",
    "supply_off",
    "thinned",
]

MOST_STEPS_TRIED = 16
"""Families that do something in every step of a longer cycle take this many of its steps, evenly spread."""

MOST_MOMENTS = 24
"""A switch misbehaves for a moment at this many places at most, counted over all switches and steps."""

SOON_US = 20_000
BRIEF_US = 300_000
TAIL_US = 2_000_000


_T = TypeVar("_T")


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

    def fault_us(self, besides: tuple[Event, ...]) -> int | None:
        """When a fault is first shown in a run in which ``besides`` happens, or None."""
        worked = operate(self.machine, self.chart, self.wired, strokes=self.greatest, done_besides=besides)
        faults = {step.name for step in self.chart.steps if step.fault}
        return next((entry.at_us for entry in worked.entries if entry.step in faults), None)

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
            duration_us=max(worked.ended_us, last) + TAIL_US + more_us,
            events=worked.events,
            strokes=times,
            stretched=stamps,
        )


def press(device: str, at_us: int, for_us: int = BRIEF_US) -> tuple[Event, ...]:
    return (
        Event(at_us=at_us, kind=EventKind.INPUT, device=device, on=True),
        Event(at_us=at_us + for_us, kind=EventKind.INPUT, device=device, on=False),
    )


def supply_off(at_us: int, for_us: int) -> tuple[Event, ...]:
    return (
        Event(at_us=at_us, kind=EventKind.SUPPLY, on=False),
        Event(at_us=at_us + for_us, kind=EventKind.SUPPLY, on=True),
    )


def middle(start_us: int, end_us: int) -> int:
    return start_us + (end_us - start_us) // 2


def early(start_us: int, end_us: int) -> int:
    return start_us + min(SOON_US, (end_us - start_us) // 2)


def thinned(everything: Sequence[_T], rows: int) -> Sequence[_T]:
    """At most ``MOST_MOMENTS`` of a table laid out row after row, in a stride that does not keep to some columns."""
    stride = max(1, -(-len(everything) // MOST_MOMENTS))
    while stride > 1 and gcd(stride, rows) > 1:
        stride += 1
    return everything[::stride]
