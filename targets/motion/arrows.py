"""Thin arrows of a chart, straight up or down from what brought something about to what it brought about.

Arrows of one moment that would lie upon one another are drawn side by side, so that each can be followed from its
dot.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import hypot

from targets.drawing.figure import Bent, Circle, Item, Line

__all__ = ["Anchor", "Flight", "arrows", "flown"]

_BESIDE = (0.0, 5.0, 10.0, 15.0, 20.0)  # from the moment rightwards: what is brought about comes after its cause
_APART = 3.5
_TURN = 9.0  # so much before its end an arrow beside its moment turns in to it
_TOUCHING = 6.0  # by so much one may end in the row in which the next begins


@dataclass(frozen=True, slots=True)
class Anchor:
    """Where a row is met at a moment: its top, its middle and its bottom."""

    top: float
    middle: float
    bottom: float

    def tip(self, way: int) -> float:
        """Where an arrow ends that comes downward (1) or upward (-1)."""
        return self.top if way > 0 else self.bottom


@dataclass(frozen=True, slots=True)
class Flight:
    """All that one change brought about at a moment: from its dot to every anchor. What stays ``upright`` is drawn at
    its moment and nowhere beside it."""

    x: float
    of: float
    to: tuple[Anchor, ...]
    upright: bool = False

    @property
    def span(self) -> tuple[float, float]:
        """Its highest and its lowest point."""
        heights = [self.of, *(y for anchor in self.to for y in (anchor.top, anchor.bottom))]
        return min(heights), max(heights)


def flown(flights: Sequence[Flight], right: float, lines: Iterable[Line] = ()) -> Iterator[Item]:
    """The arrows of a chart, none upon another or upon one of these upright lines where that can be; none beyond
    ``right``."""
    taken = [(line.x1, line.y1, line.y2) for line in lines]
    for flight in sorted(flights, key=lambda f: (not f.upright, f.span[1] - f.span[0], f.x)):
        top, bottom = flight.span
        places = (flight.x + by for by in (_BESIDE[:1] if flight.upright else _BESIDE))
        free = (x for x in places if x <= right and not any(_upon(x, top, bottom, other) for other in taken))
        x = next(free, flight.x)
        taken.append((x, top, bottom))
        yield from _arrow(flight, x)


def _upon(x: float, top: float, bottom: float, other: tuple[float, float, float]) -> bool:
    at, high, low = other
    return abs(x - at) < _APART and top + _TOUCHING < low and high + _TOUCHING < bottom


def arrows(x: float, of: float, to: Sequence[Anchor]) -> Iterator[Item]:
    """The arrows of one cause, at its moment."""
    return _arrow(Flight(x, of, tuple(to)), x)


def _arrow(flight: Flight, x: float) -> Iterator[Item]:
    """A dot, a line up or down at ``x``, and heads: beside the moment each turns in to the edge that it leads to."""
    yield Circle(flight.x, flight.of, 2.4, "dot")
    if x != flight.x:
        yield Line(flight.x, flight.of, x, flight.of, "cause")
    for anchor in flight.to:
        if anchor.middle != flight.of:
            way = 1 if anchor.middle > flight.of else -1
            tip = anchor.tip(way)
            turns = tip if x == flight.x else tip - _TURN * way
            yield Line(x, flight.of, x, turns, "cause")
            if x != flight.x:
                yield Line(x, turns, flight.x, tip, "cause")
            yield _head((x, turns if x != flight.x else flight.of), (flight.x, tip))


def _head(back: tuple[float, float], tip: tuple[float, float]) -> Bent:
    """An arrow head with its tip at a point, coming from another."""
    dx, dy = tip[0] - back[0], tip[1] - back[1]
    length = hypot(dx, dy) or 1.0
    along, across = (7 * dx / length, 7 * dy / length), (3 * dy / length, -3 * dx / length)
    base = tip[0] - along[0], tip[1] - along[1]
    sides = ((base[0] + side * across[0], base[1] + side * across[1]) for side in (-1, 1))
    return Bent((tip, *sides), "cause", solid=True)
