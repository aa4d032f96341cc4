"""Pieces of a ladder drawing: rectangles of text with one wire row, set beside and below one another.

Everything is put together by joining rows, never by writing over them, so no two labels can meet.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from grammar.rungs.tree import Contact, Form, Network, Parallel, Series

__all__ = ["Block", "beside", "cell", "fold", "on_wire", "stacked", "wide"]

_LONGEST = 24  # columns of a label; a longer one is cut


@dataclass(frozen=True, slots=True)
class Block:
    """Rows of equal width; the wire comes in on the left and goes out on the right of row ``line``."""

    rows: tuple[str, ...]
    line: int
    width: int


def wide(text: str) -> int:
    """Terminal columns of a text."""
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


def _cut(label: str) -> str:
    if wide(label) <= _LONGEST:
        return label
    kept = ""
    for char in label:
        if wide(kept + char) > _LONGEST - 1:
            break
        kept += char
    return kept + "…"


def cell(above: str, symbol: str, below: str = "", *, least: int = 0) -> Block:
    """A symbol on the wire with a label over it and, if need be, one under it; a blank's room on either side.

    ``least`` is the width it is centred in when that is wider.
    """
    above, below = _cut(above), _cut(below)
    width = max(wide(above) + 2, wide(below) + 2, wide(symbol) + 2, least)
    rows = [_centred(above, width, " "), _centred(symbol, width, "─")]
    rows += [_centred(below, width, " ")] if below else []
    return Block(tuple(rows), 1, width)


def on_wire(label: str) -> Block:
    """A label standing in the wire itself."""
    return Block((f"─{label}─",), 0, wide(label) + 2)


def _centred(text: str, width: int, fill: str) -> str:
    room = width - wide(text)
    return fill * (room // 2) + text + fill * (room - room // 2)


def beside(blocks: Sequence[Block], *, fill: int = 0) -> Block:
    """Blocks in series. With ``fill`` the wire before the last is drawn out until the whole is that wide."""
    gap = max(0, fill - sum(block.width for block in blocks))
    if gap:
        blocks = [*blocks[:-1], Block(("─" * gap,), 0, gap), blocks[-1]]
    over = max(block.line for block in blocks)
    under = max(len(block.rows) - block.line for block in blocks)
    rows = []
    for k in range(over + under):
        at = [(block, k - over + block.line) for block in blocks]
        rows.append("".join(b.rows[i] if 0 <= i < len(b.rows) else " " * b.width for b, i in at))
    return Block(tuple(rows), over, sum(block.width for block in blocks))


def stacked(blocks: Sequence[Block], *, right: bool = True) -> Block:
    """Blocks in parallel, one below the other; without ``right`` they end at the right rail, which joins them."""
    if len(blocks) == 1:
        return blocks[0]
    width = max(block.width for block in blocks)
    rows: list[str] = []
    first, last = blocks[0].line, sum(len(b.rows) for b in blocks[:-1]) + blocks[-1].line
    for number, block in enumerate(blocks):
        short = width - block.width
        for k, row in enumerate(block.rows):
            at, on = len(rows), k == block.line
            padded = row + ("─" if on else " ") * short if right else ("─" if on else " ") * short + row
            left_end, right_end = _joint(number, len(blocks), on=on, crossing=first < at < last)
            rows.append(left_end + padded + (right_end if right else ""))
    return Block(tuple(rows), first, width + (2 if right else 1))


def _joint(number: int, count: int, *, on: bool, crossing: bool) -> tuple[str, str]:
    if not on:
        return ("│", "│") if crossing else (" ", " ")
    if number == 0:
        return "┬", "┬"
    return ("└", "┘") if number == count - 1 else ("├", "┤")


# --- networks -------------------------------------------------------------------------------------------------


def fold(network: Network, width: int, asides: list[Network]) -> Block:
    """A network no wider than ``width``. Series too long go on in the line below; what nests too deep for that is
    put into ``asides`` and stands in the wire as its number."""
    match network:
        case Series(parts=()):
            return Block(("──",), 0, 2)
        case Contact():
            return _contact(network)
        case Parallel(parts=parts):
            if _least(network) > width:
                asides.append(network)
                return on_wire(f"[{len(asides)}]")
            return _padded(stacked([fold(part, width - 4, asides) for part in parts]))
        case Series(parts=parts):
            return _series(parts, width, asides)


def _padded(block: Block) -> Block:
    stub = Block(("─",), 0, 1)
    return beside([stub, block, stub])


def _contact(contact: Contact) -> Block:
    symbol = "┤/├" if contact.form in (Form.NC, Form.NCTO, Form.NCTC) else "┤ ├"
    timed = "" if contact.form in (Form.NO, Form.NC) else str(contact.form)
    return cell(contact.name.text, symbol, timed)


def _least(network: Network) -> int:
    """Columns below which a network can't be folded."""
    match network:
        case Contact():
            return _contact(network).width
        case Series(parts=parts):
            return max((min(_least(part), 8) if isinstance(part, Parallel) else _least(part)) for part in parts) + 4
        case Parallel(parts=parts):
            return max(_least(part) for part in parts) + 4


def _series(parts: tuple[Network, ...], width: int, asides: list[Network]) -> Block:
    """Parts in as many lines as they need; two columns on each side are kept for the way down and back up."""
    blocks = [fold(part, width - 4, asides) for part in parts]
    if sum(block.width for block in blocks) <= width:
        return beside(blocks)
    lines: list[list[Block]] = [[]]
    for block in blocks:
        if lines[-1] and sum(b.width for b in lines[-1]) + block.width > width - 4:
            lines.append([])
        lines[-1].append(block)
    return _snake([beside(line) for line in lines])


def _snake(lines: list[Block]) -> Block:
    """Lines joined end to start; the end of the last comes back up on the right to the row of the first."""
    inner = max(line.width for line in lines)
    rows: list[str] = []
    first = lines[0].line
    last = sum(len(line.rows) + 1 for line in lines[:-1]) + lines[-1].line
    for number, line in enumerate(lines):
        ending = number == len(lines) - 1
        for k, row in enumerate(line.rows):
            on, at = k == line.line, len(rows)
            left, right = _turns(number, ending=ending, before=k < line.line, on=on)
            wire = "─" if on else " "
            edge = _riser(at, first, last)
            middle = row + wire * (inner - line.width)
            rows.append(left + middle + right + (wire if on and ending else " ") + edge)
        if not ending:
            rows.append("┌" + "─" * inner + "┘" + " " + _riser(len(rows), first, last))
    return Block(tuple(rows), first, inner + 4)


def _turns(number: int, *, ending: bool, before: bool, on: bool) -> tuple[str, str]:
    left = "─" if number == 0 and on else "└" if on else "│" if number and before else " "
    right = ("─" if ending else "┐") if on else (" " if before or ending else "│")
    return left, right


def _riser(at: int, first: int, last: int) -> str:
    if at == first:
        return "┌"
    return "┘" if at == last else "│" if first < at < last else " "
