"""Wires as they are drawn: pieces that touch end to end become one line, and a dot stands where three ways meet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence

from targets.drawing.figure import Bent, Item, Line

__all__ = ["drawn_through"]

_DOT = 2.6


def drawn_through(items: Iterable[Item], rails: Collection[float]) -> list[Item]:
    """The same items, their wires first and drawn through. All wires run across or down; those on ``rails``
    are left to them."""
    everything = list(items)
    wires = [item for item in everything if isinstance(item, Line) and item.kind == "wire"]
    rest = [item for item in everything if not (isinstance(item, Line) and item.kind == "wire")]
    wires = [wire for wire in wires if not (wire.x1 == wire.x2 and wire.x1 in rails)]
    through = [*_runs(wires, upright=False), *_runs(wires, upright=True)]
    return [*through, *_dots(through), *rest]


def _runs(wires: Iterable[Line], *, upright: bool) -> Iterator[Line]:
    """The wires of one direction, those of one number that touch in a line as one."""
    rows: dict[tuple[int, float], list[tuple[float, float]]] = defaultdict(list)
    for line in wires:
        if (line.x1 == line.x2) is upright:
            if upright:
                rows[line.wire, line.x1].append((min(line.y1, line.y2), max(line.y1, line.y2)))
            else:
                rows[line.wire, line.y1].append((min(line.x1, line.x2), max(line.x1, line.x2)))
    for (wire, at), spans in rows.items():
        for start, end in _merged(spans):
            yield Line(at, start, at, end, "wire", wire) if upright else Line(start, at, end, at, "wire", wire)


def _merged(spans: list[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    start, end = min(spans)
    for low, high in sorted(spans):
        if low > end:
            yield start, end
            start, end = low, high
        end = max(end, high)
    yield start, end


def _dots(wires: Sequence[Line]) -> Iterator[Item]:
    """The points where one wire leaves in three directions or four."""
    across = [line for line in wires if line.x1 != line.x2]
    ways: dict[tuple[float, float], set[str]] = defaultdict(set)
    for down in (line for line in wires if line.x1 == line.x2):
        for line in across:
            x, y = down.x1, line.y1
            if down.wire == line.wire and down.y1 <= y <= down.y2 and line.x1 <= x <= line.x2:
                there = {"up": down.y1 < y, "down": y < down.y2, "left": line.x1 < x, "right": x < line.x2}
                ways[x, y] |= {way for way, leaves in there.items() if leaves}
    for (x, y), found in ways.items():
        if len(found) > 2:
            corners = ((x - _DOT, y), (x, y - _DOT), (x + _DOT, y), (x, y + _DOT), (x - _DOT, y))
            yield Bent(corners, "joint", solid=True)
