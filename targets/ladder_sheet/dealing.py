"""Rungs dealt out to sheets: on as few as they fit, and so that these are about equally full."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from grammar.rungs.tree import Contact, Master, Rung
from targets.drawing.figure import Item
from targets.ladder_sheet.parting import Drawing, Stretch, part_of, stretches
from targets.ladder_sheet.rung import Manner, drawing
from targets.wiring.nets import WiredCircuit

__all__ = ["Part", "dealt", "redrawn"]

_APART = 16.0
_TOGETHER = 0.35  # of a sheet left empty is no worse than a slave relay on another sheet than the relay it repeats


@dataclass(frozen=True, slots=True)
class Part:
    """A rung, or the ``stretch`` of it for which there was room, at its height on a sheet."""

    rung: Rung
    before: Rung | None
    drawing: Drawing
    stretch: Stretch
    y: float = 0.0

    @property
    def items(self) -> tuple[Item, ...]:
        return tuple(item.moved(0, self.y) for item in self.drawing.items)

    @property
    def masters(self) -> tuple[Master, ...]:
        """The masters whose rails are there under it."""
        return self.rung.masters[: len(self.rung.masters) - self.drawing.yet]


def dealt(wired: WiredCircuit, manner: Manner, first: float, top: float, end: float) -> list[list[Part]]:
    """Rungs with their places, sheet by sheet: from ``first`` on, on further sheets from ``top`` on, down to ``end``.
    A rung taller than a sheet is parted. Where the first rung does not fit under ``first`` its sheet stays empty."""
    parts = [*_parts(wired, manner, end - top)]
    if not parts:
        return [[]]
    ahead: list[list[Part]] = [[]] if first > top and first + parts[0].drawing.height > end else []
    cuts = _shares(parts, [end - top] if ahead else [end - first, end - top])
    return [*ahead, *(_stacked(parts[a:b], top if a or ahead else first) for a, b in cuts)]


def redrawn(part: Part, wired: WiredCircuit, manner: Manner) -> Part:
    """The same part with the references of its sheet."""
    whole = drawing(part.rung, part.before, wired, manner)
    return replace(part, drawing=part_of(whole, part.stretch, part.rung.number, manner.sheet))


def _parts(wired: WiredCircuit, manner: Manner, room: float) -> Iterator[Part]:
    for rung, before in zip(wired.circuit.rungs, (None, *wired.circuit.rungs), strict=False):
        whole = drawing(rung, before, wired, manner)
        for stretch in stretches(whole, room):
            yield Part(rung, before, part_of(whole, stretch, rung.number, manner.sheet), stretch)


def _stacked(parts: Sequence[Part], y: float) -> list[Part]:
    placed = []
    for part in parts:
        placed.append(replace(part, y=y))
        y += part.drawing.height + _APART
    return placed


def _shares(parts: Sequence[Part], rooms: Sequence[float]) -> list[tuple[int, int]]:
    """Which parts go on which sheet: on as few as can be and, of all such dealings, the one with the least sum of
    squares of what is left empty. The first sheet has the first of ``rooms``, every further one the last.

    Worked out from the last sheet to the first, as lines of a paragraph are broken (Knuth and Plass, "Breaking
    Paragraphs into Lines", 1981).
    """
    best: list[tuple[int, float, int]] = [(0, 0.0, len(parts))] * (len(parts) + 1)
    for start in reversed(range(len(parts))):
        room = rooms[0] if start == 0 else rooms[-1]
        best[start] = min(
            (best[end][0] + 1, best[end][1] + empty**2 + _parting(parts, end) * room**2, end)
            for end, empty in _ends(parts, start, room)
        )
    shares, start = [], 0
    while start < len(parts):
        end = best[start][2]
        shares.append((start, end))
        start = end
    return shares


def _ends(parts: Sequence[Part], start: int, room: float) -> Iterator[tuple[int, float]]:
    """Where a sheet that begins with one of the parts may end, one part at least, and how much room is left then. No
    two stretches of one rung share a sheet."""
    used = -_APART
    for end in range(start, len(parts)):
        used += parts[end].drawing.height + _APART
        again = end > start and parts[end].stretch.nth > 0
        if end > start and (used > room or again):
            return
        yield end + 1, max(room - used, 0.0)


def _parting(parts: Sequence[Part], at: int) -> float:
    """What it costs to begin a sheet with a part, in sheets left empty squared."""
    if 0 < at < len(parts):
        own, one = parts[at].rung.own, parts[at - 1].rung
        if isinstance(own, Contact) and any(own.name.text.casefold() == f.name.text.casefold() for f in one.feeds):
            return _TOGETHER**2
    return 0.0
