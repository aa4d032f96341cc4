"""Where in a drawing a link may lead: its rungs and its moments, found in the drawing itself by their anchors."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from targets.anchors import rung_anchor
from targets.sheet_set.measured import Extent, Measured, Thing

__all__ = ["Spot", "spots"]

_ANCHOR = re.compile(r"(?:rung|moment)-\d")
_ROOM = 6.0  # pixels round what is pointed at
_NUMBER_TO_WIRE = 40.0  # how far a rung whose number is all that is known of it reaches up and down


@dataclass(frozen=True, slots=True)
class Spot:
    """A place in a drawing with the name of its anchor: left, top, width and height in hundredths of the drawing."""

    anchor: str
    left: float
    top: float
    width: float
    height: float


def spots(drawing: Measured) -> tuple[Spot, ...]:
    """The places in a drawing that links lead to, each once."""
    found: dict[str, Extent] = {}
    for anchor, extent in _places(drawing):
        found[anchor] = _joined(found[anchor], extent) if anchor in found else extent
    return tuple(_spot(anchor, extent, drawing) for anchor, extent in found.items())


def _places(drawing: Measured) -> Iterator[tuple[str, Extent]]:
    anchored = False
    for thing in drawing.things:
        anchor = next((name for name in thing.within if _ANCHOR.match(name)), "")
        if anchor and thing.extent is not None:
            anchored = True
            yield anchor, thing.extent
    if not anchored:
        yield from _numbered(drawing)


def _numbered(drawing: Measured) -> Iterator[tuple[str, Extent]]:
    """Rungs by the numbers at their wires."""
    for thing in drawing.things:
        if _is_number(thing) and thing.extent is not None:
            e = thing.extent
            top, bottom = max(0.0, e.top - _NUMBER_TO_WIRE), min(drawing.height, e.bottom + _NUMBER_TO_WIRE)
            yield rung_anchor(int(thing.text)), Extent(e.left, top, drawing.width - e.left, bottom)


def _is_number(thing: Thing) -> bool:
    return thing.tag == "text" and thing.kind == "number" and thing.text.isdecimal()


def _joined(one: Extent, other: Extent) -> Extent:
    return Extent(
        min(one.left, other.left), min(one.top, other.top), max(one.right, other.right), max(one.bottom, other.bottom)
    )


def _spot(anchor: str, extent: Extent, drawing: Measured) -> Spot:
    left, top = max(0.0, extent.left - _ROOM), max(0.0, extent.top - _ROOM)
    right, bottom = min(drawing.width, extent.right + _ROOM), min(drawing.height, extent.bottom + _ROOM)
    wide, high = 100 / drawing.width, 100 / drawing.height
    return Spot(
        anchor, *(round(v, 2) for v in (left * wide, top * high, (right - left) * wide, (bottom - top) * high))
    )
