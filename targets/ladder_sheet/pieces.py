"""Networks of contacts as pieces: what is drawn, how many cells wide and rows high, the wire along the first row.

A network too wide for the sheet is folded: a series goes on in the next line behind a mark, and a branch too wide by
itself is drawn apart, in its place a reference to it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from grammar.rungs.tree import Contact, Network, Parallel, Series
from targets.drawing.figure import Bent, Item, Line, Text
from targets.ladder_sheet.symbols import CELL

__all__ = ["ROW", "Folded", "Piece", "fold", "row"]

ROW = 62.0


@dataclass(frozen=True, slots=True)
class Piece:
    """Items from (0, 0) on, so many cells wide and rows high."""

    items: tuple[Item, ...]
    columns: int
    rows: int

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


def fold(network: Network, columns: int, draw: Callable[[Contact], Piece]) -> Folded:
    """A network in lines at most so many cells wide. ``draw`` gives each contact's cell, in reading order."""
    folded = Folded()
    folded.lines = _lines(network, columns, draw, folded)
    return folded


def _lines(network: Network, columns: int, draw: Callable[[Contact], Piece], folded: Folded) -> list[Piece]:
    parts = network.parts if isinstance(network, Series) else (network,)
    lines: list[list[Piece]] = [[]]
    for part in parts:
        piece = _piece(part, columns, draw, folded)
        if lines[-1] and sum(p.columns for p in lines[-1]) + piece.columns > columns:
            lines.append([])
        lines[-1].append(piece)
    return [row(line) for line in lines]


def _piece(network: Network, columns: int, draw: Callable[[Contact], Piece], folded: Folded) -> Piece:
    match network:
        case Contact():
            return draw(network)
        case Series(parts=parts):
            return row([_piece(part, columns, draw, folded) for part in parts])
        case Parallel(parts=parts):
            branches = []
            for part in parts:
                own = Folded()
                lines = _lines(part, columns - 1, draw, own)
                folded.apart += own.apart
                if len(lines) > 1:
                    number = len(folded.apart) + 1
                    folded.apart.append((number, lines))
                    branches.append(_reference(number))
                else:
                    branches.append(lines[0])
            return _stacked(branches)


def row(pieces: Sequence[Piece]) -> Piece:
    """Pieces one after another."""
    items: list[Item] = []
    x = 0.0
    for piece in pieces:
        items.extend(piece.moved(x, 0))
        x += piece.width
    return Piece(tuple(items), sum(p.columns for p in pieces), max((p.rows for p in pieces), default=1))


def _stacked(branches: Sequence[Piece]) -> Piece:
    """Branches one under the other between two upright wires."""
    columns = max(b.columns for b in branches)
    width = columns * CELL
    items: list[Item] = []
    y = 0.0
    for branch in branches:
        items.extend(branch.moved(0, y))
        if branch.columns < columns:
            items.append(Line(branch.width, y, width, y, "wire"))
        last, y = y, y + branch.rows * ROW
    items += [Line(0, 0, 0, last, "wire"), Line(width, 0, width, last, "wire")]
    items += _dots(width, last)
    return Piece(tuple(items), columns, sum(b.rows for b in branches))


def _dots(width: float, last: float) -> Iterator[Item]:
    """The joints where branches leave the wire."""
    for x in (0.0, width):
        yield Bent(((x - 2.4, 0), (x, -2.4), (x + 2.4, 0), (x, 2.4), (x - 2.4, 0)), solid=True)


def _reference(number: int) -> Piece:
    half = CELL / 2
    items = (
        Line(0, 0, half - 14, 0, "wire"),
        Line(half + 14, 0, CELL, 0, "wire"),
        Text(half, 4, f"[{number}]", "reference", "middle"),
    )
    return Piece(items, 1, 1)
