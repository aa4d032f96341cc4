"""What lies on what in a drawing, worked out from the shapes alone: texts as boxes, everything else as segments."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import TypeVar

from targets.drawing.figure import Bent, Box, Circle, Item, Line, Text, Up
from targets.ladder_sheet.lettering import SIZES, width

__all__ = ["clashes", "loose_ends", "shorts"]

Thing = TypeVar("Thing")
_BAND = 40.0
_SYMBOL = 34.0  # how far apart two strokes of one symbol may begin
Point = tuple[float, float]
Area = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Segment:
    """A straight stroke of something."""

    start: Point
    end: Point
    of: Item

    @property
    def area(self) -> Area:
        (a, b), (c, d) = self.start, self.end
        return min(a, c), min(b, d), max(a, c), max(b, d)


def box_of(text: Text) -> Area:
    """The room of a text: capitals are about 0.73 of the size high, letters such as p reach 0.21 under the line."""
    size, long = SIZES[text.kind], width(text.text, text.kind)
    left = {"start": text.x, "middle": text.x - long / 2, "end": text.x - long}[text.anchor]
    return left, text.y - 0.73 * size, left + long, text.y + 0.21 * size


def segments(item: Item) -> Iterator[Segment]:
    match item:
        case Line(x1=x1, y1=y1, x2=x2, y2=y2):
            yield Segment((x1, y1), (x2, y2), item)
        case Bent(points=points):
            yield from (Segment(a, b, item) for a, b in pairwise(points))
        case Box(x=x, y=y, width=w, height=h):
            corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)]
            yield from (Segment(a, b, item) for a, b in pairwise(corners))
        case Up(x=x, y=y, way=way):
            a, b, c, d = _head(item)
            corners = [(x, y), (a, b), (c, b), (x, y)] if way == "down" else [(x, y), (a, b), (a, d), (x, y)]
            yield from (Segment(one, other, item) for one, other in pairwise(corners))
        case Circle(x=x, y=y, radius=r):
            turns = [k * math.pi / 12 for k in range(25)]
            ring = [(x + r * math.cos(t), y + r * math.sin(t)) for t in turns]
            yield from (Segment(a, b, item) for a, b in pairwise(ring))
        case _:
            pass


def clashes(items: Iterable[Item]) -> list[tuple[object, object]]:
    """Every text that lies on a text or on a stroke, every stroke across another symbol or wire. The letter in a
    symbol belongs there, and strokes of one symbol may cross."""
    everything = list(items)
    texts = _rows((box_of(i), i) for i in everything if isinstance(i, Text) and i.kind != "letter")
    strokes = _rows((s.area, s) for i in everything for s in segments(i))
    found: list[tuple[object, object]] = []
    for row in texts.values():
        found += [(a, b) for (one, a), (other, b) in combinations(row, 2) if _overlap(one, other)]
    for band, marks in strokes.items():
        for (a, one), (b, other) in combinations(marks, 2):
            if a[0] <= b[2] and b[0] <= a[2] and a[1] <= b[3] and b[1] <= a[3] and _collide(one, other):
                found.append((one, other))
        for box, text in texts.get(band, ()):
            found += [(mark, text) for area, mark in marks if _overlap(area, box) and _enters(mark, box)]
    return found


def shorts(items: Iterable[Item]) -> list[tuple[Line, Line]]:
    """Wires that touch and have not the same number."""
    wires = _rows((s.area, i) for i in items if isinstance(i, Line) and _electric(i) for s in segments(i))
    return [
        (one, other)
        for row in wires.values()
        for (a, one), (b, other) in combinations(row, 2)
        if one.wire != other.wire and _touch(a, b)
    ]


def loose_ends(items: Iterable[Item]) -> Counter[int]:
    """The numbers of wires at their ends that meet no other wire: there a symbol stands. Ends at an arrow or a letter
    in brackets, where a line goes on, do not count, nor do upright ones at their number, where a sheet ends."""
    everything = list(items)
    wires = [(s.area, i) for i in everything if isinstance(i, Line) and _electric(i) for s in segments(i)]
    marks = [box_of(i) for i in everything if isinstance(i, Text) and i.kind == "apart"]
    marks += [_head(i) for i in everything if isinstance(i, Up)]
    numbers = {(i.x, i.text, round(i.y)) for i in everything if isinstance(i, Text) and i.kind == "wire-number"}
    found: Counter[int] = Counter()
    for _, wire in wires:
        if wire.kind == "rail":
            continue
        for x, y in ((wire.x1, wire.y1), (wire.x2, wire.y2)):
            here = (x, y, x, y)
            meets = any(other is not wire and _touch(here, area) for area, other in wires)
            marked = any(a - 9 <= x <= c + 9 and b - 3 <= y <= d + 3 for a, b, c, d in marks)
            parted = wire.x1 == wire.x2 and (x, str(wire.wire), round(y - 3)) in numbers
            found[wire.wire] += not meets and not marked and not parted
    return +found


def _head(arrow: Up) -> Area:
    """The room of an arrow head, its tip where it says."""
    x, y = arrow.x, arrow.y
    return (x - 5, y - 10, x + 5, y) if arrow.way == "down" else (x - 10, y - 5, x, y + 5)


def _rows(things: Iterable[tuple[Area, Thing]]) -> dict[int, list[tuple[Area, Thing]]]:
    """Things by the bands of height they lie in, so that only neighbours are compared."""
    found: dict[int, list[tuple[Area, Thing]]] = defaultdict(list)
    for area, thing in things:
        for band in range(int(area[1] // _BAND), int(area[3] // _BAND) + 1):
            found[band].append((area, thing))
    return found


def _electric(line: Line) -> bool:
    return line.kind == "wire" or (line.kind == "rail" and line.wire > 0)


def _overlap(one: Area, other: Area) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _touch(one: Area, other: Area) -> bool:
    return one[0] <= other[2] and other[0] <= one[2] and one[1] <= other[3] and other[1] <= one[3]


def _wire(mark: Segment) -> bool:
    return isinstance(mark.of, Line) and _electric(mark.of)


def _collide(one: Segment, other: Segment) -> bool:
    """Whether two strokes cross that should not: wires among each other are left to ``shorts``."""
    if one.of is other.of or (_wire(one) and _wire(other)):
        return False
    together = not _wire(one) and not _wire(other) and math.dist(one.start, other.start) < _SYMBOL
    return not together and _cross(one, other)


def _cross(one: Segment, other: Segment) -> bool:
    """Whether two strokes go through one another, beyond touching with their ends."""
    sides = [_side(one, other.start) * _side(one, other.end), _side(other, one.start) * _side(other, one.end)]
    return sides[0] < -1e-6 and sides[1] < -1e-6


def _side(of: Segment, point: Point) -> float:
    (a, b), (c, d) = of.start, of.end
    return (c - a) * (point[1] - b) - (d - b) * (point[0] - a)


def _enters(mark: Segment, box: Area) -> bool:
    """Whether a stroke comes into a box (Liang and Barsky: the part of it inside each pair of sides)."""
    (x, y), (x2, y2) = mark.start, mark.end
    low, high = 0.0, 1.0
    for delta, near, far in ((x2 - x, box[0] - x, box[2] - x), (y2 - y, box[1] - y, box[3] - y)):
        if delta == 0:
            if not near < 0 < far:
                return False
            continue
        first, last = sorted((near / delta, far / delta))
        low, high = max(low, first), min(high, last)
    return low < high
