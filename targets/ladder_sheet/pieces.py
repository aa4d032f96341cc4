"""Networks of contacts as pieces: what is drawn, how many cells wide and rows high, the wire along the first row.

A network too large for its place is folded: a series too wide goes on in the next line behind an arrow, a branch as
well. Where there is no room for that, or where branches are too many, they are drawn apart, with a letter in brackets
in their place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import ceil

from grammar.rungs.tree import Contact, Network, Parallel, Series
from targets.drawing.figure import Item, Line, Text
from targets.ladder_sheet.marks import ON, comes_in, goes_on
from targets.ladder_sheet.symbols import CELL

__all__ = ["ROW", "Folded", "Piece", "fold"]

ROW = 62.0
_MOST_ROWS = 14  # of one piece; there is room for more on a sheet, under a comment


@dataclass(frozen=True, slots=True)
class Piece:
    """Items from (0, 0) on, so many cells wide and rows high, between two wires; it ends in the row ``out``."""

    items: tuple[Item, ...]
    columns: int
    rows: int
    left: int
    right: int
    out: int = 0

    @property
    def width(self) -> float:
        return self.columns * CELL

    def moved(self, dx: float, dy: float) -> tuple[Item, ...]:
        return tuple(item.moved(dx, dy) for item in self.items)


@dataclass
class Folded:
    """What a network became: ``lines`` one under the other, and parts drawn ``apart``, each with its letter."""

    lines: list[Piece] = field(default_factory=list)
    apart: list[tuple[str, list[Piece]]] = field(default_factory=list)
    before: int = 0

    def aside(self, made: Callable[[], list[Piece]]) -> Piece:
        """The reference that stands for lines drawn apart. What these refer to in turn comes after them."""
        name, lines = _letter(self.before + len(self.apart)), list[Piece]()
        self.apart.append((name, lines))
        lines += made()
        return _reference(name, lines[0].left, lines[-1].right)


def fold(network: Network, columns: int, draw: Callable[[Contact], Piece], *, before: int = 0) -> Folded:
    """A network in lines at most so many cells wide, all but the first with room for the mark of what they carry on.
    ``draw`` gives each contact's cell, in reading order; so many parts were drawn apart ``before`` in the rung."""
    folded = Folded(before=before)
    folded.lines = _lines(network, columns, draw, folded)
    return folded


def _lines(network: Network, columns: int, draw: Callable[[Contact], Piece], folded: Folded) -> list[Piece]:
    parts = network.parts if isinstance(network, Series) else (network,)
    lines: list[list[Piece]] = [[]]
    single = sum(isinstance(part, Contact) for part in parts)
    for part in parts:
        widest = columns if lines == [[]] else columns - 1
        beside = single if single < columns // 2 and _unfolded(part) > widest else 0  # so that these fit on its line
        piece = _piece(part, widest - beside, draw, folded)
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
                lines = _lines(part, columns - (_unfolded(part) > columns), draw, folded)
                branch = _carried_on(lines)
                branches.append(branch if branch.columns <= columns else folded.aside(lines.copy))
            return _stacked(branches, folded)


def _unfolded(network: Network) -> int:
    """How many cells wide a network is by itself."""
    match network:
        case Contact():
            return 1
        case Series(parts=parts):
            return sum(map(_unfolded, parts))
        case Parallel(parts=parts):
            return max(map(_unfolded, parts))


def _carried_on(lines: Sequence[Piece]) -> Piece:
    """Lines one under the other, each after the first behind an arrow."""
    if len(lines) == 1:
        return lines[0]
    items: list[Item] = []
    end = wide = y = 0.0
    for k, line in enumerate(lines):
        x, last = CELL / 2 if k else 0.0, k == len(lines) - 1
        end = x + line.width
        wide = max(wide, end if last else end + ON)
        marks = (*(comes_in(line.left) if k else ()), *(() if last else goes_on(line.width, line.items, line.right)))
        items += (item.moved(x, y) for item in (*line.items, *marks))
        y += 0 if last else line.rows * ROW
    columns = ceil(wide / CELL)
    items.append(Line(end, y, columns * CELL, y, "wire", lines[-1].right))
    rows = sum(line.rows for line in lines)
    return Piece(tuple(items), columns, rows, lines[0].left, lines[-1].right, rows - lines[-1].rows)


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
    y = last_y = low = 0.0
    for branch in kept:
        items.extend(branch.moved(0, y))
        low = y + branch.out * ROW
        if branch.columns < columns:
            items.append(Line(branch.width, low, width, low, "wire", right))
        last_y, y = y, y + branch.rows * ROW
    if last_y:
        items += [Line(0, 0, 0, last_y, "wire", left), Line(width, 0, width, low, "wire", right)]
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


def _letter(k: int) -> str:
    """A to Z, then AA and so on."""
    return (_letter(k // 26 - 1) if k >= 26 else "") + chr(ord("A") + k % 26)


def _reference(name: str, left: int, right: int) -> Piece:
    half = CELL / 2
    items = (
        Line(0, 0, half - 14, 0, "wire", left),
        Line(half + 14, 0, CELL, 0, "wire", right),
        Text(half, 4, f"[{name}]", "apart", "middle"),
    )
    return Piece(items, 1, 1, left, right)
