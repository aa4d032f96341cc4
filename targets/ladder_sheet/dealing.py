"""Rungs dealt out to sheets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from grammar.rungs.tree import Rung
from targets.drawing.figure import Item
from targets.ladder_sheet.rung import Drawing, Manner, drawing, part_of
from targets.wiring.nets import WiredCircuit

__all__ = ["Part", "dealt", "redrawn"]

_APART = 16.0


@dataclass(frozen=True, slots=True)
class Part:
    """A rung, or those of its ``lines`` for which there was room, at its height on a sheet."""

    rung: Rung
    before: Rung | None
    drawing: Drawing
    y: float
    lines: tuple[int, int]

    @property
    def items(self) -> tuple[Item, ...]:
        return tuple(item.moved(0, self.y) for item in self.drawing.items)


def dealt(wired: WiredCircuit, manner: Manner, first: float, top: float, end: float) -> list[list[Part]]:
    """Rungs with their places, sheet by sheet: from ``first`` on, on further sheets from ``top`` on, down to ``end``.
    A rung taller than a sheet is cut between its lines."""
    sheets: list[list[Part]] = [[]]
    y = first
    for rung, before in zip(wired.circuit.rungs, (None, *wired.circuit.rungs), strict=False):
        whole = drawing(rung, before, wired, manner)
        for lines in _cut(whole, end - top):
            piece = part_of(whole, *lines)
            if y > top and y + piece.height > end:
                sheets.append([])
                y = top
            sheets[-1].append(Part(rung, before, piece, y, lines))
            y += piece.height + _APART
    return sheets


def _cut(whole: Drawing, room: float) -> Iterator[tuple[int, int]]:
    """The lines of a rung in as many pieces as it takes, each so high that it fits where that can be done."""
    if whole.height <= room:
        yield 0, len(whole.cuts)
        return
    first, top = 0, 0.0
    for k, end in enumerate((*whole.cuts[:-1], whole.height)):
        if end - top > room and k > first:
            yield first, k
            first, top = k, whole.cuts[k - 1]
    yield first, len(whole.cuts)


def redrawn(part: Part, wired: WiredCircuit, manner: Manner) -> Part:
    """The same part with the references of its sheet."""
    whole = drawing(part.rung, part.before, wired, manner)
    return replace(part, drawing=part_of(whole, *part.lines))
