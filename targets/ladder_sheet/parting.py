"""A rung too tall for a sheet, parted between two of its rows: what stands where, and what each part says of others.

Only upright wires may cross a seam. Each ends there under its number and begins again at the same place of the next
sheet, so that it can be followed as if the paper went on.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from targets.drawing.figure import Bent, Box, Circle, Item, Line, Spot, Text, Up
from targets.ladder_sheet.lettering import SIZES

__all__ = ["Drawing", "Seam", "Stretch", "part_of", "stretches"]

_HEAD = 44.0  # over the rows of what goes on: where from, and the numbers of the wires
_FOOT = 60.0  # under the rows of what goes on on another sheet: the numbers, and where
_SAID = 22.0  # the same where no wire crosses the seam
_LEAD = 12.0  # how far a parted wire is drawn beyond the seam


@dataclass(frozen=True, slots=True)
class Seam:
    """A height at which a rung may be parted, if nothing but upright wires crosses it: between two ``rows``, or where
    there is no other way between two lines of a text."""

    y: float
    rows: bool = True


@dataclass(frozen=True, slots=True)
class Drawing:
    """A rung's items, from the top of its comment on, and its height.

    ``rail`` is where the rail stands that it is fed from, ``ends`` how far down that must reach. ``opens`` are the
    heights at which the rails of the masters that begin with it start, outermost first; ``yet`` is how many are still
    to come on the next sheet.
    """

    items: tuple[Item, ...]
    height: float
    rail: float
    ends: float
    opens: tuple[float, ...] = ()
    yet: int = 0
    seams: tuple[Seam, ...] = ()

    @property
    def spots(self) -> Iterator[tuple[str, ...]]:
        """The names of the contacts and coils in it."""
        return (item.name for item in self.items if isinstance(item, Spot))


@dataclass(frozen=True, slots=True)
class Stretch:
    """What of a rung stands on one sheet, from one height to another; the ``nth``, and whether it is the last."""

    nth: int
    top: float
    bottom: float
    last: bool


def stretches(whole: Drawing, room: float) -> Iterator[Stretch]:
    """A rung in as few parts as it takes for each to be no taller than ``room``."""
    if whole.height <= room:
        yield Stretch(0, 0.0, whole.height, last=True)
        return
    possible = sorted(_crossed(whole))
    nth, top = 0, 0.0
    while whole.height - top > room - (_HEAD if nth else 0):
        least = room - (_HEAD if nth else 0) - _FOOT
        within = [one for one in possible if top < one[0] <= top + least]
        if not within:
            break
        low = [one for one in within if one[0] >= top + least / 2] or within[-1:]
        bottom = min(low, key=lambda one: (not one[2], one[1], -one[0]))[0]
        yield Stretch(nth, top, bottom, last=False)
        nth, top = nth + 1, bottom
    yield Stretch(nth, top, whole.height, last=True)


def _crossed(whole: Drawing) -> Iterator[tuple[float, int, bool]]:
    """The seams that nothing else crosses, with how many wires do, and whether they lie between rows."""
    upright = [item for item in whole.items if _upright(item)]
    spans = [_span(item) for item in whole.items if not _upright(item)]
    for seam in whole.seams:
        if not any(top < seam.y < bottom for top, bottom in spans):
            yield seam.y, len([*_through(upright, seam.y)]), seam.rows


def part_of(whole: Drawing, stretch: Stretch, rung: int, sheet: int) -> Drawing:
    """One stretch of a rung as it stands on that sheet."""
    if not stretch.nth and stretch.last:
        return whole
    top, bottom = stretch.top, whole.height + _FOOT if stretch.last else stretch.bottom
    lead = (_HEAD if any(_through(whole.items, top)) else _SAID) if stretch.nth else 0.0
    items = [item.moved(0, lead - top) for item in _between(whole.items, top, bottom)]
    height = stretch.bottom - top + lead
    if stretch.nth:
        items += _goes_on_here(whole, top, rung, sheet - 1)
    if not stretch.last:
        items += _goes_on_there(whole, bottom, height, rung, sheet + 1)
        height += _FOOT if any(_through(whole.items, bottom)) else _SAID
    fed = [i.y1 for i in items if isinstance(i, Line) and i.kind == "wire" and whole.rail in (i.x1, i.x2)]
    opens = tuple(y + lead - top for y in whole.opens if top <= y < bottom)
    yet = sum(1 for y in whole.opens if y >= bottom)
    return replace(
        whole, items=tuple(items), height=height, ends=max(fed, default=0.0), opens=opens, yet=yet, seams=()
    )


def _between(items: Iterable[Item], top: float, bottom: float) -> Iterator[Item]:
    """The items of a stretch, its upright wires cut off a little beyond it."""
    for item in items:
        if not _upright(item):
            if top <= _span(item)[0] < bottom:
                yield item
            continue
        assert isinstance(item, Line)
        high, low = sorted((item.y1, item.y2))
        if low > top and high < bottom:
            high, low = max(high, top - _LEAD + 2), min(low, bottom + _LEAD)
            yield replace(item, y1=high, y2=low)


def _goes_on_there(whole: Drawing, seam: float, y: float, rung: int, sheet: int) -> Iterator[Item]:
    """Under a part: its wires with their numbers, and where the rung goes on."""
    wires = [*_through(whole.items, seam)]
    for wire in wires:
        yield Up(wire.x1, y + _LEAD + 10, "down")
        yield Text(wire.x1, y + _LEAD + 21, str(wire.wire), "wire-number", "middle")
    yield Text(
        whole.rail + 10, y + (_LEAD + 40 if wires else 16), f"rung {rung} goes on on sheet {sheet}", "reference"
    )


def _goes_on_here(whole: Drawing, seam: float, rung: int, sheet: int) -> Iterator[Item]:
    """Over what is carried on: where it comes from, the numbers of its wires, the rung's own."""
    yield Text(whole.rail + 10, 12, f"rung {rung}, from sheet {sheet}", "reference")
    for wire in _through(whole.items, seam):
        yield Text(wire.x1, _HEAD - _LEAD - 1, str(wire.wire), "wire-number", "middle")
    number = next(i for i in whole.items if isinstance(i, Text) and i.kind == "number")
    yield Text(number.x, 12, f"({number.text})", "reference", "end")


def _through(items: Iterable[Item], y: float) -> Iterator[Line]:
    """The upright wires that cross a height, from left to right."""
    found = [item for item in items if isinstance(item, Line) and _upright(item)]
    yield from sorted((i for i in found if min(i.y1, i.y2) < y < max(i.y1, i.y2)), key=lambda i: i.x1)


def _upright(item: Item) -> bool:
    return isinstance(item, Line) and item.kind == "wire" and item.x1 == item.x2


def _span(item: Item) -> tuple[float, float]:
    """From how high to how low an item reaches."""
    match item:
        case Line(y1=y1, y2=y2):
            return min(y1, y2), max(y1, y2)
        case Bent(points=points):
            return min(y for _, y in points), max(y for _, y in points)
        case Text(y=y, kind=kind):
            return y - 0.73 * SIZES[kind], y + 0.21 * SIZES[kind]
        case Box(y=y, height=height):
            return y, y + height
        case Circle(y=y, radius=radius):
            return y - radius, y + radius
        case Up(y=y):
            return y - 10, y + 10
        case Spot(y=y):
            return y, y
