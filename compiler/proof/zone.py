"""Zones: sets of clock readings that an exhaustive search handles at one stroke, as difference bound matrices.

A zone over n clocks is a flat tuple of (n + 1) x (n + 1) bounds, row by row; clock 0 stands at zero for ever. Entry
(i, j) bounds the difference clock i - clock j from above. A bound is one plain int, ``2 c + 1`` for "at most c" and
``2 c`` for "less than c", so that bounds compare as ints do; ``INFINITE`` is no bound. Every zone is canonical (as
tight as can be) and not empty; None stands for the empty one. Times are whole microseconds.

Sources: D. L. Dill 1989; R. Alur and D. L. Dill 1994; J. Bengtsson and W. Yi, "Timed automata: semantics, algorithms
and tools", 2004, section 4 (from memory). A clock that starts anew equals clock 0 at that moment, so starting,
dropping and renumbering clocks is one choice of rows and columns.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from operator import itemgetter, le

__all__ = [
    "INFINITE",
    "NO_TIME",
    "Choice",
    "Zone",
    "at_least",
    "at_most",
    "choice",
    "covers",
    "delay",
    "greatest",
    "least",
    "less_than",
    "more_than",
    "start",
    "tighten",
]

Zone = tuple[int, ...]
Choice = Callable[[Zone], Zone]

INFINITE = 1 << 60
NO_TIME = 1
"""The bound "at most 0"."""


def at_most(time_us: int) -> int:
    """The bound "at most so much"."""
    return 2 * time_us + 1


def less_than(time_us: int) -> int:
    """The bound "less than so much"."""
    return 2 * time_us


def at_least(time_us: int) -> int:
    """The bound of entry (0, i) that says clock i reads at least so much."""
    return 1 - 2 * time_us


def more_than(time_us: int) -> int:
    """The bound of entry (0, i) that says clock i reads more than so much."""
    return -2 * time_us


def start(clocks: int) -> Zone:
    """All of so many clocks start at this moment."""
    return (NO_TIME,) * (clocks + 1) ** 2


def tighten(zone: Zone, size: int, i: int, j: int, bound: int) -> Zone | None:
    """The part of a zone where clock i - clock j is within a bound. ``size`` is the number of clocks and one."""
    if zone[i * size + j] <= bound:
        return zone
    back = zone[j * size + i]
    if back != INFINITE and back + bound - ((back | bound) & 1) < NO_TIME:
        return None
    # Every shortest way now may go p -> i -> j -> q.
    last = [
        INFINITE if (b := zone[k]) == INFINITE else bound + b - ((bound | b) & 1)
        for k in range(j * size, j * size + size)
    ]
    out: list[int] = []
    for p in range(0, size * size, size):
        first = zone[p + i]
        if first == INFINITE:
            out += zone[p : p + size]
            continue
        for q in range(size):
            way, now = last[q], zone[p + q]
            if way != INFINITE:
                way += first - ((way | first) & 1)
                if way < now:
                    now = way
            out.append(now)
    return tuple(out)


def delay(zone: Zone, size: int, limits: Sequence[tuple[int, int]]) -> Zone | None:
    """Let time go on for as long as the limits allow: ``(clock, greatest reading)``. None if one is passed."""
    out = list(zone)
    for i in range(1, size):
        row = i * size
        upper = INFINITE
        for clock, limit in limits:
            bound = zone[row + clock]
            if bound != INFINITE:
                way = bound + 2 * limit  # the limit's own bound is weak
                if way < upper:
                    upper = way
        out[row] = upper
        if upper == INFINITE:
            continue
        lower = zone[i]
        if lower + upper - ((lower | upper) & 1) < NO_TIME:
            return None
        for j in range(1, size):
            way = zone[j]
            way += upper - ((way | upper) & 1)
            if way < out[row + j]:
                out[row + j] = way
    return tuple(out)


def choice(clocks: Sequence[int], size: int) -> Choice:
    """How to make a zone over other clocks of one over ``size - 1``: each is an old one, or 0 to start now."""
    rows = (0, *clocks)
    places = [i * size + j for i in rows for j in rows]
    if places == list(range(size * size)):
        return lambda zone: zone
    if len(places) == 1:
        return lambda zone: (NO_TIME,)
    return itemgetter(*places)


def covers(larger: Zone, smaller: Zone) -> bool:
    """Whether every reading of the smaller zone is one of the larger, over the same clocks."""
    return all(map(le, smaller, larger))


def least(zone: Zone, clock: int) -> int:
    """The least bound of a clock, as the bound of entry (0, clock)."""
    return zone[clock]


def greatest(zone: Zone, size: int, clock: int) -> int:
    """The greatest bound of a clock, as the bound of entry (clock, 0)."""
    return zone[clock * size]
