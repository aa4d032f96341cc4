"""One rung drawn: its comment, contacts, coils, wire numbers, and the references at the margins."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass

from grammar.rungs.tree import INPUTS, LOADS, Comments, Contact, Device, Form, Kind, Master, Network, Rung, shared
from targets.choices import Style
from targets.drawing.figure import Bent, Item, Line, Text, text_width
from targets.ladder_sheet.pieces import ROW, Piece, fold
from targets.ladder_sheet.symbols import CELL, coil, contact
from targets.wiring.nets import COMMON, WiredCircuit, WiredContact

__all__ = ["COLUMNS", "LEFT", "RIGHT", "WIDTH", "Drawing", "drawing", "rail_of"]

COLUMNS = 8  # cells of contacts beside the coil
LEFT = 64.0
RIGHT = LEFT + (COLUMNS + 1) * CELL + 24
WIDTH = RIGHT + 180
_COMMENT = 15.0
_BREAKS = frozenset({Form.NC, Form.NCTO, Form.NCTC})


@dataclass(frozen=True, slots=True)
class Drawing:
    """A rung's items, from the top of its comment on, and its height.

    ``wire`` is the height of its first row. ``opens`` are the heights at which the rails of the masters that begin
    with it start, outermost first.
    """

    items: tuple[Item, ...]
    height: float
    wire: float
    opens: tuple[float, ...] = ()


@dataclass
class _Rung:
    rung: Rung
    wired: WiredCircuit
    style: Style
    held: frozenset[str]

    def __post_init__(self) -> None:
        contacts, self.coils = self.wired.of_rung(self.rung.number)
        self.contacts = iter(contacts)
        self.labelled: set[int] = set()

    def cell(self, one: Contact) -> Piece:
        """The next contact's cell, with the number of the wire after it, once for each wire."""
        found = next(self.contacts)
        assert found.contact is one or found.contact == one
        device = self.wired.device(found.device)
        held = device.name.text.casefold() in self.held
        items = list(contact(device, one.form, held=held, terminals=found.terminals, style=self.style))
        items += self.label(found)
        items += self.source(device)
        return Piece(tuple(items), 1, 1)

    def label(self, found: WiredContact) -> Iterator[Item]:
        if found.right not in self.labelled and found.right != COMMON:
            self.labelled.add(found.right)
            yield Text(CELL - 3, -5, str(found.right), "wire-number", "end")

    def source(self, device: Device) -> Iterator[Item]:
        """Under a relay's contact, the rung of its coil."""
        if device.kind in INPUTS:
            return
        at = next((c.rung for c in self.wired.coils if c.device.casefold() == device.name.text.casefold()), None)
        if at is not None:
            low = 33 if device.kind is Kind.TIMER else 24
            yield Text(CELL / 2, low, f"({at})", "reference", "middle")


def rail_of(depth: int) -> float:
    """Where the rail behind so many masters stands."""
    return LEFT + 22 * depth


def drawing(rung: Rung, wired: WiredCircuit, *, style: Style, held: frozenset[str]) -> Drawing:
    """A rung with its comment above it. The contacts of a master are drawn with the first rung behind it."""
    made = _Rung(rung, wired, style, held)
    items: list[Item] = []
    y, opens = 0.0, []
    opening = _opening(rung, wired)
    for depth, master in enumerate(opening, len(rung.masters) - len(opening)):
        y = _said(items, master.comments, y, rail_of(depth))
        end = rail_of(depth) + fold(master.network, COLUMNS, lambda one: Piece((), 1, 1)).lines[-1].width
        wire, y = y, _network(items, master.network, made, y, rail_of(depth), None)
        corner = y - ROW + 34
        items += [Line(end, wire, end, corner, "wire"), Line(end, corner, rail_of(depth + 1), corner, "wire")]
        opens.append(corner)
        y = corner + 12
    y = first = _said(items, rung.comments, y, rail_of(len(rung.masters)))
    y = _network(items, rung.own, made, y, rail_of(len(rung.masters)), rung)
    items.append(Text(LEFT - 14, first + 4, str(rung.number), "number", "end"))
    return Drawing(tuple(items), y - 26, first, tuple(opens))


def _said(items: list[Item], comments: Comments, y: float, rail: float) -> float:
    """Adds a comment, to the right of the innermost rail; the height of the wire under it."""
    said = [comment for comment in (*comments.above, comments.beside) if comment]
    text = [line for comment in said for line in textwrap.wrap(comment, 112)]
    items.extend(Text(rail + 10, y + 12 + _COMMENT * k, line, "comment") for k, line in enumerate(text))
    return y + _COMMENT * len(text) + 34


def _opening(rung: Rung, wired: WiredCircuit) -> tuple[Master, ...]:
    """The masters whose group begins with this rung."""
    rungs = wired.circuit.rungs
    at = rungs.index(rung)
    return rung.masters[shared(rungs[at - 1].masters, rung.masters) :] if at else rung.masters


def _network(items: list[Item], network: Network, made: _Rung, y: float, rail: float, rung: Rung | None) -> float:
    """Adds a network from the left rail on and, for a rung, its coils at the right; where the next may stand."""
    folded = fold(network, COLUMNS, made.cell)
    for k, line in enumerate(folded.lines):
        last = k == len(folded.lines) - 1
        x = rail if k == 0 else rail + CELL / 2
        items.extend(line.moved(x, y))
        end = x + line.width
        if k:
            items += [Text(rail + 16, y + 4, f"→{k}", "reference", "middle"), Line(rail + 28, y, x, y, "wire")]
        if not last:
            items += [Line(end, y, end + 14, y, "wire"), Text(end + 26, y + 4, f"{k + 1}→", "reference", "middle")]
        elif rung is not None:
            items.extend(_coils(made, end, y))
        y += ROW * max(line.rows, len(made.coils) if last and rung is not None else 1)
    for number, lines in folded.apart:
        for k, line in enumerate(lines):
            # A further line carries the one above it on; with the same mark it would look like a second branch.
            mark = f"→{number}.{k}" if k else f"[{number}]"
            items += [Text(rail + 26, y + 4, mark, "reference", "middle")]
            items.extend(line.moved(rail + 48, y))
            items.append(Line(rail + 40, y, rail + 48, y, "wire"))
            if k < len(lines) - 1:
                end = rail + 48 + line.width
                items += [Line(end, y, end + 10, y, "wire")]
                items += [Text(end + 26, y + 4, f"{number}.{k + 1}→", "reference", "middle")]
            y += ROW * line.rows
    return y


def _coils(made: _Rung, end: float, y: float) -> Iterator[Item]:
    """Every coil of the rung, in one column before the right rail, and where its contacts are."""
    at = RIGHT - CELL
    yield Line(end, y, at, y, "wire")
    for k, one in enumerate(made.coils):
        row = y + ROW * k
        device = made.wired.device(one.device)
        drawn = coil(device, one.feed.terminal, terminals=one.terminals, style=made.style)
        yield from (item.moved(at, row) for item in drawn)
        yield from _contacts_of(made, device, row)
    if len(made.coils) > 1:
        yield Line(at, y, at, y + ROW * (len(made.coils) - 1), "wire")
        yield Bent(((at - 2.4, y), (at, y - 2.4), (at + 2.4, y), (at, y + 2.4), (at - 2.4, y)), solid=True)


def _contacts_of(made: _Rung, device: Device, y: float) -> Iterator[Item]:
    """Right of the rail, the rungs of a coil's contacts, those that break underlined (trade practice)."""
    if device.kind in LOADS:
        return
    x, row = RIGHT + 14, y + 4
    for found in made.wired.contacts:
        if found.device.casefold() != device.name.text.casefold():
            continue
        text = str(found.rung)
        width = text_width(text, size=11)
        if x + width > WIDTH - 16:
            x, row = RIGHT + 14, row + 16
        yield Text(x, row, text, "across")
        if found.contact.form in _BREAKS:
            yield Line(x, row + 3, x + width, row + 3, "under")
        x += width + 10
