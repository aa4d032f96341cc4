"""Drawings laid on pages: whole where they fit with text that can be read, otherwise cut where nothing is cut apart,
into pages about as full as each other.

Lengths of drawings are pixels, of pages points (1/72 inch).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise
from math import ceil, inf

from targets.anchors import rung_anchor
from targets.sheet_set.closed import closed
from targets.sheet_set.measured import Extent, Measured, Thing, measured

__all__ = ["SMALLEST_PT", "Folded", "Frame", "Part", "fold"]

SMALLEST_PT = 6.0  # the least size of text on paper
_NATURAL = 0.75  # points in a pixel: a drawing is never enlarged beyond it
_SHARED = 0.45  # of a page: what is no higher may share it
_ALIKE = 0.9  # of the largest it could be: so large is a drawing as good
_LONG = 0.4  # of a page: what is longer may be cut through, such as a rail, a grid line or a signal
_PAGE = 3.0  # what a page more costs; so many symbols are rather cut through than that it takes one more
_WHOLE = 20.0  # what it costs to cut through a text or a rung
_GAP, _WIDE_GAP = 2.0, 24.0  # pixels that must be free where a cut goes, and from which on there is room enough
_EMPTY = 4.0  # what an empty page costs besides, one half full a quarter of it
_SLIVER, _SLIVERED = 0.25, 25.0  # of a page: what is shorter costs so much besides
_STEPS = 32  # of a page: where a cut may go besides
_SYMBOL = 46.0  # pixels below the name of a device: its symbol, terminals and reference
_RUNG = rung_anchor(0)[:-1]  # how the id of a rung's group begins
_FAMILY = "text { font-family: Arimo }"


@dataclass(frozen=True, slots=True)
class Frame:
    """The room a page has for a drawing; ``first`` is how high it is on the first page, below a heading. ``across``
    says that the page lies on its long side."""

    width: float
    height: float
    first: float
    across: bool


@dataclass(frozen=True, slots=True)
class Part:
    """What of a drawing goes on one page, as an SVG of its own; how wide and high it is there, and the ids of what
    begins on it."""

    svg: str
    width: float
    height: float
    ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Folded:
    """A drawing on pages; ``across`` says that they lie on their long side."""

    parts: tuple[Part, ...]
    across: bool
    scale: float


@dataclass(frozen=True, slots=True)
class _Plan:
    """Where a drawing is to be cut: its columns and rows, each from and to, and what is ``kept`` on every page beside
    and below the first: how far in from the left, and from where to where from the top; what it costs in pages and in
    things cut through."""

    columns: tuple[tuple[float, float], ...]
    rows: tuple[tuple[float, float], ...]
    kept: float
    head: tuple[float, float]
    scale: float
    across: bool
    cost: float


def fold(svg: str, *frames: Frame) -> Folded:
    """A drawing laid on as few pages as its text allows, of one of these kinds: of the first on which it is low
    enough to share a page or about as large as on any."""
    drawing = closed(measured(svg))
    least = min(_NATURAL, SMALLEST_PT / drawing.smallest)
    whole = [(frame, _fitting(drawing, frame)) for frame in frames]
    fits = [(frame, scale) for frame, scale in whole if scale >= least]
    if fits:
        most = max(scale for _, scale in fits)
        good = [fit for fit in fits if drawing.height * fit[1] <= _SHARED * fit[0].height or fit[1] >= _ALIKE * most]
        frame, scale = good[0]
        return _laid(drawing, _uncut(drawing, scale, frame.across))
    plans = [_plan(drawing, frame, scale) for frame in frames for scale in _cut_scales(drawing, frame, least)]
    return _laid(drawing, min(plans, key=lambda plan: (round(plan.cost), -plan.scale)))


def _fitting(drawing: Measured, frame: Frame) -> float:
    return min(_NATURAL, frame.width / drawing.width, frame.first / drawing.height)


def _cut_scales(drawing: Measured, frame: Frame, least: float) -> Iterator[float]:
    """How large a drawing may be drawn that takes several pages: no wider than the page where it fits one."""
    most = max(least, min(_NATURAL, frame.width / drawing.width))
    for k in range(6):
        yield most + (least - most) * k / 5


def _uncut(drawing: Measured, scale: float, across: bool) -> _Plan:
    return _Plan(((0.0, drawing.width),), ((0.0, drawing.height),), 0.0, (0.0, 0.0), scale, across, _PAGE)


def _plan(drawing: Measured, frame: Frame, scale: float) -> _Plan:
    wide, high = frame.width / scale, frame.height / scale
    names = _names(drawing)
    kept = names if names < wide / 3 else 0.0
    spans, some = _spans(drawing, wide, down=False), ceil(drawing.height / high)
    columns, through = _cuts(drawing.width, wide, wide - kept, spans, pages=some)
    spans, some = _spans(drawing, high, down=True), len(columns)
    head = _numbers(drawing)
    rows, over = _cuts(drawing.height, frame.first / scale, high - (head[1] - head[0]), spans, pages=some)
    cost = _PAGE * len(columns) * len(rows) + round(through + over)
    return _Plan(columns, rows, kept, head, scale, frame.across, cost)


def _laid(drawing: Measured, plan: _Plan) -> Folded:
    parts, begun = [], set[str]()
    for top, bottom in plan.rows:
        for left, right in plan.columns:
            window = Extent(left, top, right, bottom)
            if not any(thing.extent and _shows(thing, window) for thing in drawing.things):
                continue
            kept, head = plan.kept if left else 0.0, plan.head if top else (0.0, 0.0)
            part = _part(drawing, window, kept, head, plan.scale)
            parts.append(replace(part, ids=tuple(name for name in part.ids if name not in begun)))
            begun |= set(part.ids)
    return Folded(tuple(parts), plan.across, plan.scale)


def _names(drawing: Measured) -> float:
    """How far the names of rows reach in from the left, which stand again on every page beside the first."""
    rows = [t.extent.right for t in drawing.things if t.tag == "text" and t.kind == "row" and t.extent]
    return max(rows, default=-8.0) + 8.0


def _numbers(drawing: Measured) -> tuple[float, float]:
    """From where to where the numbers of rails reach, which stand again on every page below the first."""
    over = [t.extent for t in drawing.things if t.kind == "wire-number" and not t.within and t.extent]
    return (min(e.top for e in over), max(e.bottom for e in over) + 5.0) if over else (0.0, 0.0)


# --- where to cut ------------------------------------------------------------------------------------------------


_Span = tuple[float, float, float]  # from, to, and what it costs to cut through it


def _spans(drawing: Measured, most: float, *, down: bool) -> list[_Span]:
    """What should not be cut through, along one direction: symbols, and still less texts and whole rungs."""
    found: list[_Span] = []
    rungs: dict[str, tuple[float, float]] = {}
    for thing in drawing.things:
        if thing.extent is None:
            continue
        e = thing.extent
        begin, end = (e.top, e.bottom) if down else (e.left, e.right)
        if thing.tag == "text":
            found.append((begin, end + (_SYMBOL if down and thing.kind == "device" else 0.0), _WHOLE))
        elif end - begin <= _LONG * most:
            found.append((begin, end, 1.0))
        rung = next((name for name in thing.within if name.startswith(_RUNG)), "")
        if rung and down:
            known = rungs.get(rung, (begin, end))
            rungs[rung] = (min(known[0], begin), max(known[1], end))
    company = [*_in_company(list(rungs.values()), drawing.height), *(_last_row(drawing) if down else ())]
    return [*found, *((*span, _WHOLE) for span in company)]


def _in_company(rungs: list[tuple[float, float]], height: float) -> list[tuple[float, float]]:
    """Each rung from top to bottom, the first with the notes above it and the last with the title block below it, so
    that neither of these is alone on a page."""
    if not rungs:
        return []
    first, last = min(rungs), max(rungs)
    return [*rungs, (0.0, first[1]), (last[0], height)]


def _last_row(drawing: Measured) -> list[tuple[float, float]]:
    """The last row of a chart with the axis and the notes below it, which say nothing by themselves."""
    rows = [thing.extent.top for thing in drawing.things if thing.kind == "row" and thing.extent]
    return [(max(rows), drawing.height)] if rows else []


def _cuts(
    length: float, first: float, later: float, spans: list[_Span], *, pages: int
) -> tuple[tuple[tuple[float, float], ...], float]:
    """A length in pieces, none longer than ``first`` if it begins there and ``later`` if not, and how many things are
    cut through. Of all ways to cut it is the cheapest: in ``pages`` that a piece takes, in things, in empty room."""
    if length <= first + 0.5:
        return ((0.0, length),), 0.0
    places = [(0.0, 0.0), *sorted(_places(length, later, spans)), (length, 0.0)]
    best: list[tuple[float, int]] = [(0.0, 0)]  # what it costs to have come so far, and where the last cut was
    for k in range(1, len(places)):
        end, through = places[k]
        ways: list[tuple[float, int]] = []
        for j in range(k - 1, -1, -1):
            long, room = end - places[j][0], later if j else first
            if long > max(first, later) + 0.5:
                break
            if long <= room + 0.5:
                empty = _EMPTY * (1 - long / room) ** 2 + (_SLIVERED if long < _SLIVER * room else 0.0)
                ways.append((best[j][0] + pages * _PAGE + empty + through, j))
        best.append(min(ways, default=(inf, 0)))
    kept = [len(places) - 1]
    while kept[-1]:
        kept.append(best[kept[-1]][1])
    cuts = [places[k] for k in reversed(kept)]
    pieces = tuple((one[0], next_[0]) for one, next_ in pairwise(cuts))
    return pieces, sum(through for _, through in cuts)


def _places(length: float, most: float, spans: list[_Span]) -> Iterator[tuple[float, float]]:
    """Where a length may be cut, and what that costs: in each gap, the less the wider it is, and in even steps
    through whatever is there."""
    step, at = most / _STEPS, 0.0
    for begin, end, _ in [*sorted(spans), (length, length, 0.0)]:
        if begin - at >= _GAP:
            edge = min(begin - at, _WIDE_GAP) / 2
            many = int((begin - at - 2 * edge) / step) + 1
            for k in range(many):
                yield at + edge + (begin - at - 2 * edge) * (k + 0.5) / many, 0.1 * (1 - 2 * edge / _WIDE_GAP)
        at = max(at, end)
    edges = sorted([*((begin, weight) for begin, _, weight in spans), *((end, -weight) for _, end, weight in spans)])
    inside = list(accumulate((weight for _, weight in edges), initial=0.0))
    above = (begin - _GAP for begin, end, weight in spans if weight >= _WHOLE and end - begin >= _SYMBOL)
    for place in {*(k * step for k in range(1, ceil(length / step))), *above}:
        if 0.0 < place < length and (through := inside[bisect_left(edges, (place, -inf))]):
            yield place, through


def _part(drawing: Measured, window: Extent, kept: float, head: tuple[float, float], scale: float) -> Part:
    """What shows through a window, beside what is kept from the left and below what is kept from the top."""
    low = head[1] - head[0]
    wide, high = kept + window.right - window.left, low + window.bottom - window.top
    inner = _window(drawing, window, kept, low)
    if kept:
        inner = _window(drawing, Extent(0.0, window.top, kept, window.bottom), 0.0, low) + inner
    if low:
        inner = _window(drawing, Extent(window.left, head[0], window.right, head[1]), kept, 0.0) + inner
    size = f'width="{wide:.2f}" height="{high:.2f}" viewBox="0 0 {wide:.2f} {high:.2f}"'
    opening = f'<svg xmlns="http://www.w3.org/2000/svg" {size}>'
    ids = dict.fromkeys(name for thing in drawing.things if _shows(thing, window) for name in thing.within)
    style = f"<style>{_sheet(drawing.style)}</style>"
    return Part(f"{opening}{style}{inner}</svg>", wide * scale, high * scale, tuple(ids))


def _sheet(style: str) -> str:
    return style.replace("&", "&amp;").replace("<", "&lt;") + _FAMILY


def _window(drawing: Measured, window: Extent, x: float, y: float) -> str:
    """What shows through a window, put at a place. Texts stand where most of them is, and only there."""
    wide, high = window.right - window.left, window.bottom - window.top
    seen = "".join(thing.markup for thing in drawing.things if _shows(thing, window))
    at = f'x="{x:.2f}" y="{y:.2f}" width="{wide:.2f}" height="{high:.2f}"'
    return f'<svg {at} viewBox="{window.left:.2f} {window.top:.2f} {wide:.2f} {high:.2f}">{seen}</svg>'


def _shows(thing: Thing, window: Extent) -> bool:
    e = thing.extent
    if e is None:
        return True
    if thing.tag == "text":
        x, y = (e.left + e.right) / 2, (e.top + e.bottom) / 2
        return window.left <= x < window.right and window.top <= y < window.bottom
    return e.right >= window.left and e.left <= window.right and e.bottom >= window.top and e.top <= window.bottom
