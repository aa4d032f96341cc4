"""Networks of contacts as pieces: what is drawn, how many cells wide and rows high, the wire along the first row.

A network too large for its place is folded: a series too wide goes on in the next line behind a mark; a branch too
wide, or branches too many, are drawn apart, with a reference in their place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from grammar.rungs.tree import Contact, Network, Parallel, Series
from targets.drawing.figure import Item, Line, Text
from targets.ladder_sheet.symbols import CELL

__all__ = ["ROW", "Folded", "Piece", "fold"]

ROW = 62.0
_MOST_ROWS = 14  # of one piece; there is room for more on a sheet, under a comment


@dataclass(frozen=True, slots=True)
class Piece:
    """Items from (0, 0) on, so many cells wide and rows high, between two wires."""

    items: tuple[Item, ...]
    columns: int
    rows: int
    left: int
    right: int

    @property
    def width(self) -> float:
        return self.columns * CELL

    def moved(self, dx: float, dy: float) -> tuple[Item, ...]:
        return tuple(item.moved(dx, dy) for item in self.items)


@dataclass
class Folded:
    """What a network became: ``lines`` one under the other, and parts drawn ``apart``, each with its number."""

    lines: list[Piece] = field(default_factory=list)
    apart: list[tuple[int, list[Piece]]] = field(default_factory=list)

    def aside(self, made: Callable[[], list[Piece]]) -> Piece:
        """The reference that stands for lines drawn apart. What these refer to in turn comes after them."""
        number, lines = len(self.apart) + 1, list[Piece]()
        self.apart.append((number, lines))
        lines += made()
        return _reference(number, lines[0].left, lines[-1].right)


def fold(network: Network, columns: int, draw: Callable[[Contact], Piece]) -> Folded:
    """A network in lines at most so many cells wide, all but the first with room for the mark of what they carry on.
    ``draw`` gives each contact's cell, in reading order."""
    folded = Folded()
    folded.lines = _lines(network, columns, draw, folded)
    return folded


def _lines(network: Network, columns: int, draw: Callable[[Contact], Piece], folded: Folded) -> list[Piece]:
    parts = network.parts if isinstance(network, Series) else (network,)
    lines: list[list[Piece]] = [[]]
    for part in parts:
        piece = _piece(part, columns, draw, folded)
        room = columns if len(lines) == 1 else columns - 1
        if lines[-1] and sum(p.columns for p in lines[-1]) + piece.columns > room:
            lines.append([])
        lines[-1].append(piece)
    return [_row(line) for line in lines if line]


def _piece(network: Network, columns: int, draw: Callable[[Contact], Piece], folded: Folded) -> Piece:
    match network:
        case Contact():
            return draw(network)
        case Series(parts=parts):
            return _row([_piece(part, columns, draw, folded) for part in parts])
        case Parallel(parts=parts):
            branches = []
            for part in parts:
                lines = _lines(part, columns - 1, draw, folded)
                branches.append(lines[0] if len(lines) == 1 else folded.aside(lines.copy))
            return _stacked(branches, folded)


def _row(pieces: Sequence[Piece]) -> Piece:
    """Pieces one after another."""
    items: list[Item] = []
    x = 0.0
    for piece in pieces:
        items.extend(piece.moved(x, 0))
        x += piece.width
    columns, rows = sum(p.columns for p in pieces), max(p.rows for p in pieces)
    return Piece(tuple(items), columns, rows, pieces[0].left, pieces[-1].right)


def _stacked(branches: Sequence[Piece], folded: Folded) -> Piece:
    """Branches one under the other between two upright wires; those that would make it too high are drawn apart."""
    some = _fitting(branches)
    kept = [*branches[:some]]
    if some < len(branches):
        kept.append(folded.aside(lambda: [_stacked(branches[some:], folded)]))
    columns = max(b.columns for b in kept)
    left, right, width = kept[0].left, kept[0].right, columns * CELL
    items: list[Item] = []
    y = last_y = 0.0
    for branch in kept:
        items.extend(branch.moved(0, y))
        if branch.columns < columns:
            items.append(Line(branch.width, y, width, y, "wire", right))
        last_y, y = y, y + branch.rows * ROW
    if last_y:
        items += [Line(0, 0, 0, last_y, "wire", left), Line(width, 0, width, last_y, "wire", right)]
    return Piece(tuple(items), columns, sum(b.rows for b in kept), left, right)


def _fitting(branches: Sequence[Piece]) -> int:
    """How many of the branches may stand one under the other, one of them at least."""
    high = 0
    for k, branch in enumerate(branches):
        high += branch.rows
        last = k == len(branches) - 1
        if k and high > _MOST_ROWS - (not last):
            return k
    return len(branches)


def _reference(number: int, left: int, right: int) -> Piece:
    half = CELL / 2
    items = (
        Line(0, 0, half - 14, 0, "wire", left),
        Line(half + 14, 0, CELL, 0, "wire", right),
        Text(half, 4, f"[{number}]", "reference", "middle"),
    )
    return Piece(items, 1, 1, left, right)
