"""A ladder sheet without the empty stretch between its last rung and what stands below it.

All sheets of a circuit end at one height, so that they lie well on each other; on paper, where a sheet may be cut,
empty rails would only take room.
"""

from __future__ import annotations

import re
from dataclasses import replace

from targets.anchors import rung_anchor
from targets.sheet_set.measured import Extent, Measured, Thing

__all__ = ["closed"]

_KEPT = 12.0  # pixels of the stretch that stay below the rung, and above what follows
_RUNG = rung_anchor(0)[:-1]
_END = re.compile(r'\by2="[\d.]+"')


def closed(drawing: Measured) -> Measured:
    """The same with that stretch taken out, if it has one that only upright lines cross."""
    known = [(thing, thing.extent) for thing in drawing.things if thing.extent]
    low = max((e.bottom for thing, e in known if any(name.startswith(_RUNG) for name in thing.within)), default=None)
    if low is None:
        return drawing
    crossing = [(thing, e) for thing, e in known if e.top <= low < e.bottom]
    begin, end = low + _KEPT, min((e.top for _, e in known if e.top > low), default=low) - _KEPT
    if end <= begin or not all(thing.tag == "line" and e.left == e.right for thing, e in crossing):
        return drawing
    things = tuple(_moved(thing, low, end - begin) for thing in drawing.things)
    return replace(drawing, height=drawing.height - (end - begin), things=things)


def _moved(thing: Thing, low: float, up: float) -> Thing:
    """A thing moved up if it stands below a height, shortened if it reaches below it."""
    e = thing.extent
    if e is None or e.bottom <= low:
        return thing
    if e.top > low:
        markup = f'<g transform="translate(0 {-up:.2f})">{thing.markup}</g>'
        return replace(thing, extent=Extent(e.left, e.top - up, e.right, e.bottom - up), markup=markup)
    shorter = _END.sub(f'y2="{e.bottom - up:.2f}"', thing.markup)
    return replace(thing, extent=replace(e, bottom=e.bottom - up), markup=shorter)
