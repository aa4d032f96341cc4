"""Which clock everything that runs has, and how clocks go over from one situation to the next.

What may run has a number: the timers of the driver first, those of the shadow, then rods on their way, then pressure
switches about to change. All that starts at one event shares a clock, and clocks are numbered in the order in which
what runs first uses them, so that the same is always written the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from compiler.proof.zone import Choice, choice

__all__ = ["Carried", "Clocks", "Clockwork", "Deadline"]


class Deadline(NamedTuple):
    """Timers that expire together: all share a clock and a preset."""

    clock: int
    preset_us: int
    timers: tuple[frozenset[int], frozenset[int]]


@dataclass(frozen=True, eq=False, slots=True)
class Clocks:
    """The clock of everything that runs; ``size`` is the number of clocks and one. ``limits``: how far those of
    timers may read; ``others`` are the rods and pressure switches that run, each with its clock."""

    number: int
    of: dict[int, int]
    size: int
    others: tuple[tuple[int, int], ...]
    limits: tuple[tuple[int, int], ...]
    deadlines: tuple[Deadline, ...]


class Carried(NamedTuple):
    """The clocks after an event: what each was before (0 for one that starts now), and how to make their zone."""

    clocks: Clocks
    births: tuple[int, ...]
    choice: Choice


class Clockwork:
    """All clocks met, each way of carrying them over worked out once. ``presets_us`` of the driver, of the shadow."""

    def __init__(self, driver: Sequence[int], shadow: Sequence[int]) -> None:
        self._presets_us = (*driver, *shadow)
        self._shadow_from = len(driver)
        self._known: dict[tuple[tuple[int, int], ...], Clocks] = {}
        self._carried: dict[tuple[int, tuple[int, ...], frozenset[int]], Carried] = {}
        self._kept: dict[Clocks, Carried] = {}
        self.none = self._clocks(())

    def kept(self, clocks: Clocks) -> Carried:
        """The clocks as they are."""
        known = self._kept.get(clocks)
        if known is None:
            same = tuple(range(1, clocks.size))
            known = self._kept[clocks] = Carried(clocks, same, choice(same, clocks.size))
        return known

    def carried(self, before: Clocks, running: tuple[int, ...], fresh: frozenset[int]) -> Carried:
        """The clocks of what is running now; those of what is ``fresh`` or did not run before start now."""
        key = (before.number, running, fresh)
        known = self._carried.get(key)
        if known is None:
            births: list[int] = []
            numbers: dict[int, int] = {}
            watched = []
            for watch in running:
                source = 0 if watch in fresh else before.of.get(watch, 0)
                clock = numbers.get(source)
                if clock is None:
                    births.append(source)
                    clock = numbers[source] = len(births)
                watched.append((watch, clock))
            made = choice(births, before.size)
            known = self._carried[key] = Carried(self._clocks(tuple(watched)), tuple(births), made)
        return known

    def _clocks(self, watched: tuple[tuple[int, int], ...]) -> Clocks:
        known = self._known.get(watched)
        if known is not None:
            return known
        limits: dict[int, int] = {}
        due: dict[tuple[int, int], tuple[list[int], list[int]]] = {}
        timers = [(watch, clock) for watch, clock in watched if watch < len(self._presets_us)]
        for watch, clock in timers:
            preset, shadows = self._presets_us[watch], watch >= self._shadow_from
            due.setdefault((clock, preset), ([], []))[shadows].append(watch - self._shadow_from * shadows)
            limits[clock] = min(preset, limits.get(clock, preset))
        known = self._known[watched] = Clocks(
            number=len(self._known),
            of=dict(watched),
            size=max((clock for _, clock in watched), default=0) + 1,
            others=watched[len(timers) :],
            limits=tuple(limits.items()),
            deadlines=tuple([Deadline(*at, (frozenset(a), frozenset(b))) for at, (a, b) in due.items()]),
        )
        return known
