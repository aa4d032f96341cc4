"""Drawings laid on pages: whole where they fit with text that can be read, otherwise cut where nothing is cut apart.

Lengths of drawings are pixels, of pages points (1/72 inch).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil

from targets.anchors import rung_anchor
from targets.sheet_set.measured import Extent, Measured, Thing, measured

__all__ = ["SMALLEST_PT", "Folded", "Frame", "Part", "fold"]

SMALLEST_PT = 6.0  # the least size of text on paper
_NATURAL = 0.75  # points in a pixel: a drawing is never enlarged beyond it
_SHORTEST = 0.5  # of the most that fits: where the search for a place to cut ends
_LONG = 0.4  # of a page: what is longer may be cut through, such as a rail, a grid line or a signal
_FEW = 2  # so many things are rather cut through than that it takes a page more
_RUNG = rung_anchor(0)[:-1]  # how the id of a rung's group begins
_GAP = 2.0  # pixels that must be free where a cut goes
_FAMILY = "text { font-family: Arimo }"


@dataclass(frozen=True, slots=True)
class Frame:
    """The room a page has for a drawing."""

    width: float
    height: float


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
    """Where a drawing is to be cut: its columns and rows, each from and to, and how far in from the left is ``kept``
    on every page beside the first."""

    columns: tuple[tuple[float, float], ...]
    rows: tuple[tuple[float, float], ...]
    kept: float
    scale: float
    across: bool

    @property
    def pages(self) -> int:
        return len(self.columns) * len(self.rows)


def fold(svg: str, upright: Frame, across: Frame) -> Folded:
    """A drawing laid on as few pages as its text allows."""
    drawing = measured(svg)
    least = min(_NATURAL, SMALLEST_PT / drawing.smallest)
    whole = {frame: _fitting(drawing, frame) for frame in (upright, across)}
    fits = [frame for frame in whole if whole[frame] >= least]
    if fits:
        return _laid(drawing, _plan(drawing, fits[0], whole[fits[0]], across=fits[0] is across))
    plans = [
        _plan(drawing, frame, scale, across=frame is across)
        for frame in whole
        for scale in _cut_scales(drawing, frame, least)
    ]
    return _laid(drawing, min(plans, key=lambda plan: (plan.pages, -plan.scale)))


def _fitting(drawing: Measured, frame: Frame) -> float:
    return min(_NATURAL, frame.width / drawing.width, frame.height / drawing.height)


def _cut_scales(drawing: Measured, frame: Frame, least: float) -> Iterator[float]:
    """How large a drawing may be drawn that takes several pages: no wider than the page where it fits one."""
    most = max(least, min(_NATURAL, frame.width / drawing.width))
    for k in range(6):
        yield most + (least - most) * k / 5


def _plan(drawing: Measured, frame: Frame, scale: float, *, across: bool) -> _Plan:
    wide, high = frame.width / scale, frame.height / scale
    names = _names(drawing)
    kept = names if names < wide / 3 else 0.0
    columns = _cuts(drawing.width, wide, _spans(drawing, wide, down=False), kept)
    rows = _cuts(drawing.height, high, _spans(drawing, high, down=True), 0.0)
    return _Plan(tuple(columns), tuple(rows), kept, scale, across)


def _laid(drawing: Measured, plan: _Plan) -> Folded:
    parts, begun = [], set[str]()
    for top, bottom in plan.rows:
        for left, right in plan.columns:
            part = _part(drawing, Extent(left, top, right, bottom), plan.kept if left else 0.0, plan.scale)
            parts.append(replace(part, ids=tuple(name for name in part.ids if name not in begun)))
            begun |= set(part.ids)
    return Folded(tuple(parts), plan.across, plan.scale)


def _names(drawing: Measured) -> float:
    """How far the names of rows reach in from the left, which stand again on every page beside the first."""
    rows = [t.extent.right for t in drawing.things if t.tag == "text" and t.kind == "row" and t.extent]
    return max(rows, default=-8.0) + 8.0


def _spans(drawing: Measured, most: float, *, down: bool) -> list[tuple[float, float]]:
    """What should not be cut through, along one direction: texts, symbols, and whole rungs."""
    found: list[tuple[float, float]] = []
    rungs: dict[str, tuple[float, float]] = {}
    for thing in drawing.things:
        if thing.extent is None:
            continue
        e = thing.extent
        span = (e.top, e.bottom) if down else (e.left, e.right)
        if thing.tag == "text" or span[1] - span[0] <= _LONG * most:
            found.append(span)
        rung = next((name for name in thing.within if name.startswith(_RUNG)), "")
        if rung and down:
            known = rungs.get(rung, span)
            rungs[rung] = (min(known[0], span[0]), max(known[1], span[1]))
    return found + list(rungs.values()) * (_FEW + 1)  # a rung weighs more than a page


def _cuts(length: float, most: float, spans: list[tuple[float, float]], kept: float) -> Iterator[tuple[float, float]]:
    """Pieces of a length, none longer than ``most``, the first as it is and the others beside what is ``kept``."""
    start = 0.0
    while length - start > most - (kept if start else 0.0) + 0.5:
        room, later = most - (kept if start else 0.0), most - kept
        more = ceil((length - start - room) / later)  # how many there are after this one
        wanted = start + room * (length - start) / (room + more * later)  # so that the last is not a sliver
        fewest = max(start + _SHORTEST * room, length - more * later)
        end = _clear(spans, fewest, start + room, wanted)
        if end is None:
            end = _least_cut(spans, fewest, start + room, wanted)
            if sum(a < end < b for a, b in spans) > _FEW:
                end = _clear(spans, start + _SHORTEST * room, start + room, wanted) or end
        yield start, end
        start = end
    yield start, length


def _clear(spans: list[tuple[float, float]], low: float, high: float, wanted: float) -> float | None:
    """Where to cut between two places: the widest gap, and of those much alike the one nearest to where it is wanted;
    None where there is none."""
    gaps, at = [], low
    for first, last in sorted(span for span in spans if span[1] > low and span[0] < high):
        gaps.append((at, first))
        at = max(at, last)
    gaps.append((at, high))
    wide = [gap for gap in gaps if gap[1] - gap[0] >= _GAP]
    most = max((b - a for a, b in wide), default=0.0)
    good = [(a + b) / 2 for a, b in wide if b - a >= 0.75 * most]
    return min(good, key=lambda y: abs(y - wanted), default=None)


def _least_cut(spans: list[tuple[float, float]], low: float, high: float, wanted: float) -> float:
    """The place between two that cuts through the least."""
    places = [low + (high - low) * k / 64 for k in range(65)]
    return min(places, key=lambda y: (sum(a < y < b for a, b in spans), abs(y - wanted)))


def _part(drawing: Measured, window: Extent, kept: float, scale: float) -> Part:
    wide, high = kept + window.right - window.left, window.bottom - window.top
    inner = _window(drawing, window, kept)
    if kept:
        inner = _window(drawing, Extent(0.0, window.top, kept, window.bottom), 0.0) + inner
    size = f'width="{wide:.2f}" height="{high:.2f}" viewBox="0 0 {wide:.2f} {high:.2f}"'
    head = f'<svg xmlns="http://www.w3.org/2000/svg" {size}>'
    ids = dict.fromkeys(name for thing in drawing.things if _shows(thing, window) for name in thing.within)
    return Part(f"{head}<style>{_sheet(drawing.style)}</style>{inner}</svg>", wide * scale, high * scale, tuple(ids))


def _sheet(style: str) -> str:
    return style.replace("&", "&amp;").replace("<", "&lt;") + _FAMILY


def _window(drawing: Measured, window: Extent, x: float) -> str:
    """What shows through a window, put so far from the left. Texts stand where most of them is, and only there."""
    wide, high = window.right - window.left, window.bottom - window.top
    seen = "".join(thing.markup for thing in drawing.things if _shows(thing, window))
    at = f'x="{x:.2f}" y="0" width="{wide:.2f}" height="{high:.2f}"'
    return f'<svg {at} viewBox="{window.left:.2f} {window.top:.2f} {wide:.2f} {high:.2f}">{seen}</svg>'


def _shows(thing: Thing, window: Extent) -> bool:
    e = thing.extent
    if e is None:
        return True
    if thing.tag == "text":
        x, y = (e.left + e.right) / 2, (e.top + e.bottom) / 2
        return window.left <= x < window.right and window.top <= y < window.bottom
    return e.right >= window.left and e.left <= window.right and e.bottom >= window.top and e.top <= window.bottom
