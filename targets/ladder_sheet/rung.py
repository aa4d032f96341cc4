"""One rung drawn: its comment, contacts, coils, wire numbers, and the references at the margins."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from grammar.rungs.tree import INPUTS, LOADS, Comments, Contact, Device, Form, Master, Network, Rung, Series, shared
from targets.drawing.figure import Item, Line, Spot, Text
from targets.ladder_sheet.comments import said
from targets.ladder_sheet.lettering import width
from targets.ladder_sheet.marks import comes_in, ends, goes_on
from targets.ladder_sheet.parting import Drawing, Seam
from targets.ladder_sheet.pieces import ROW, Folded, Piece, fold
from targets.ladder_sheet.places import Places, name_of
from targets.ladder_sheet.symbols import CELL, Look, coil, contact, set_to
from targets.ladder_sheet.wires import drawn_through
from targets.wiring.nets import COMMON, WiredCircuit, WiredCoil, WiredContact

__all__ = ["COLUMNS", "LEFT", "RIGHT", "WIDTH", "Manner", "drawing", "rail_of"]

COLUMNS = 8  # cells of contacts beside the coil, from the left rail on
LEFT = 64.0
RIGHT = LEFT + (COLUMNS + 1) * CELL + 24
WIDTH = RIGHT + 180
_LINE = 15.0  # of a comment
_ABOVE = 34.0  # between a comment and the wire under it
_BELOW = 36.0  # of the last row that is still its own
_CUT = 27.0  # above a wire: between what belongs to it and what belongs to the row above
_REFERENCES = 15.0
_BETWEEN = 9.0  # references
_BREAKS = frozenset({Form.NC, Form.NCTO, Form.NCTC})
_TIMED = frozenset({Form.NOTC, Form.NCTO, Form.NOTO, Form.NCTC})


@dataclass(frozen=True, slots=True)
class Manner:
    """How rungs are drawn: whose symbols, which switches the machine rests on, and how other rungs are referred to
    from the ``sheet`` that the rung stands on. References are left the room they would take with ``room``, so that a
    rung is as high before it is known where everything stands as it is after."""

    look: Look
    held: frozenset[str]
    places: Places
    room: Places
    sheet: int = 1


def rail_of(depth: int) -> float:
    """Where the rail behind so many masters stands."""
    return LEFT + 22 * depth


def _columns(rail: float) -> int:
    """How many cells of contacts there is room for between a rail and the coils."""
    return max(int((RIGHT - CELL - 10 - rail) // CELL), 2)


def drawing(rung: Rung, before: Rung | None, wired: WiredCircuit, manner: Manner) -> Drawing:
    """A rung with its comment above it. The contacts of a master are drawn with the first rung behind it, which
    follows ``before``."""
    made = _Made(rung, wired, manner)
    depth = len(rung.masters)
    opens: list[float] = []
    opening = rung.masters[shared(before.masters, rung.masters) if before else 0 :]
    for at, master in enumerate(opening, depth - len(opening)):
        opens.append(made.open(master, at))
    rail = rail_of(depth)
    first = made.said(rung.comments, rail)
    made.items.append(Text(LEFT - 14, first + 4, str(rung.number), "number", "end"))
    made.network(rung.own, rail)
    items = tuple(drawn_through(made.items, [rail_of(d) for d in range(depth + 1)]))
    ends = max(y for y in _wires_at(items, rail))
    return Drawing(items, made.y - ROW + _BELOW, rail, ends, tuple(opens), seams=tuple(made.seams))


def _wires_at(items: Iterable[Item], x: float) -> Iterator[float]:
    """The heights at which wires leave a rail."""
    yield from (item.y1 for item in items if isinstance(item, Line) and item.kind == "wire" and item.x1 == x)


@dataclass
class _Made:
    """A rung on the way; ``y`` is where its next row stands."""

    rung: Rung
    wired: WiredCircuit
    manner: Manner
    items: list[Item] = field(default_factory=list)
    y: float = 0.0
    seams: list[Seam] = field(default_factory=list)
    labelled: set[int] = field(default_factory=set)
    lettered: int = 0

    def __post_init__(self) -> None:
        own, self.coils = self.wired.of_rung(self.rung.number)
        self.contacts = iter(own)

    def said(self, comments: Comments, rail: float) -> float:
        """Adds a comment, to the right of the innermost rail; the height of the wire under it."""
        lines = said(comments, RIGHT - rail - 20)
        self.items += [Text(rail + 10, self.y + 12 + _LINE * k, line, "comment") for k, line in enumerate(lines)]
        self.seams += [Seam(self.y + _LINE * k + 1, rows=False) for k in range(1, len(lines))]
        self.y += _LINE * len(lines) + _ABOVE
        return self.y

    def open(self, master: Master, depth: int) -> float:
        """Adds a master's contacts and the corner from which its rail goes down; the height of the corner."""
        rail = rail_of(depth)
        top = self.said(master.comments, rail)
        folded = self.folded(master.network, rail)
        self.lines(folded, rail)
        last = folded.lines[-1]
        end = rail + last.width + (CELL / 2 if len(folded.lines) > 1 else 0)
        down = top + sum(line.rows for line in folded.lines[:-1]) * ROW
        corner = self.y - ROW + 36
        self.items += [
            Line(end, down, end, corner, "wire", last.right),
            Line(rail_of(depth + 1), corner, end, corner, "wire", last.right),
        ]
        self.seams[-1] = Seam(corner + 6)
        if folded.apart:
            self.y = corner + 42
            self.aside(folded, rail_of(depth + 1) + 52)
            self.y += 36 - ROW
        else:
            self.y = corner
        self.y += 12
        return corner

    def network(self, network: Network, rail: float) -> None:
        """Adds the contacts of the rung from its rail on, and its coils at the right."""
        if network == Series(()):
            self.feed(rail, self.coils[0].left)
            self.y += self.coil_heights()
            return
        folded = self.folded(network, rail)
        self.lines(folded, rail, coils=True)
        self.aside(folded, rail + 48)

    def folded(self, network: Network, rail: float) -> Folded:
        """A network in lines that fit between its rail and the coils, what is drawn apart lettered on."""
        made = fold(network, _columns(rail), self.cell, before=self.lettered)
        self.lettered += len(made.apart)
        return made

    def lines(self, folded: Folded, rail: float, *, coils: bool = False) -> None:
        """Adds the lines of a network, and the coils after its last one."""
        for k, line in enumerate(folded.lines):
            last = k == len(folded.lines) - 1
            x = rail if k == 0 else rail + CELL / 2
            self.line(line, x, first=k == 0, last=last)
            high = ROW * line.rows
            if last and coils:
                self.feed(x + line.width, line.right)
                high = max(high, self.coil_heights())
            self.y += high
            self.seams.append(Seam(self.y - _CUT))

    def line(self, line: Piece, x: float, *, first: bool, last: bool) -> None:
        """Adds a line, which can be parted between its rows, and the arrows of what goes on or carries it on."""
        self.add(line.items, x)
        self.seams += [Seam(self.y + ROW * k - _CUT) for k in range(1, line.rows)]
        self.add(() if first else comes_in(line.left), x)
        self.add(() if last else goes_on(line.width, line.items, line.right), x)

    def add(self, items: Iterable[Item], x: float) -> None:
        """Adds items to the row there is now."""
        self.items += (item.moved(x, self.y) for item in items)

    def aside(self, folded: Folded, x: float) -> None:
        """Adds what is drawn apart: after its letter, and before it again, lines as those of a rung."""
        for name, lines in folded.apart:
            for k, line in enumerate(lines):
                first, last = k == 0, k == len(lines) - 1
                self.line(line, x, first=first, last=last)
                if first:
                    letter = Text(-11, 4, f"[{name}]", "apart", "end")
                    number = Text(-2, -8, str(line.left), "wire-number", "end")
                    self.add((Line(-8, 0, 0, 0, "wire", line.left), letter, number), x)
                if last:
                    self.add(ends(line.width, line.items, line.right), x)
                    self.add((Text(line.width + 13, 4, f"[{name}]", "apart"),), x)
                self.y += ROW * line.rows
                self.seams.append(Seam(self.y - _CUT))

    def cell(self, one: Contact) -> Piece:
        """The next contact's cell, with the number of the wire after it, once for each wire."""
        found = next(self.contacts)
        assert found.contact is one or found.contact == one
        device, wires = self.wired.device(found.device), (found.left, found.right)
        held = device.name.text.casefold() in self.manner.held
        look = self.manner.look
        items = list(contact(device, one.form, held=held, terminals=found.terminals, wires=wires, look=look))
        items += self.label(found)
        items.append(Spot(0, 0, name_of(found)))
        items += self.source(device, one.form)
        return Piece(tuple(items), 1, 1, *wires)

    def label(self, found: WiredContact) -> Iterator[Item]:
        if found.right not in self.labelled and found.right != COMMON:
            self.labelled.add(found.right)
            yield Text(CELL - 3, -5, str(found.right), "wire-number", "end")

    def source(self, device: Device, form: Form) -> Iterator[Item]:
        """Under a relay's contact, the rung of its coil; lower, where the mark of a delay stands."""
        fed = self.wired.coil_of(device.name.text)
        if device.kind not in INPUTS and fed is not None:
            text = f"({self.manner.places.seen_from(fed, self.manner.sheet)})"
            yield Text(CELL / 2, 27 if form in _TIMED else 25, text, "reference", "middle")

    def feed(self, end: float, wire: int) -> None:
        """Adds every coil of the rung, in one column before the right rail, and where its contacts are."""
        at, y = RIGHT - CELL, self.y
        self.items.append(Line(end, y, at, y, "wire", wire))
        for k, one in enumerate(self.coils):
            device = self.wired.device(one.device)
            wires = (one.left, one.right)
            drawn = coil(device, one.feed.terminal, terminals=one.terminals, wires=wires, look=self.manner.look)
            self.items += (item.moved(at, y) for item in (*drawn, Spot(0, 0, name_of(one))))
            self.items += self.contacts_of(one, device, y)
            if k:
                self.items.append(Line(at, self.y, at, y, "wire", wire))
                self.seams.append(Seam(y - _CUT))
            self.seams += [Seam(down, rows=False) for down in self.between_references(one, device, y)]
            y += self.high(one, device)

    def coil_heights(self) -> float:
        return sum(self.high(one, self.wired.device(one.device)) for one in self.coils)

    def high(self, one: WiredCoil, device: Device) -> float:
        """How much room a coil takes with what stands under and beside it."""
        under = 11.0 * max(len(set_to(device, one.feed.terminal)) - 1, 0)
        rows = {y for _, _, y, _ in self.references(one, device, self.manner.room)}
        return max(ROW + under, _REFERENCES * len(rows) + 14)

    def between_references(self, one: WiredCoil, device: Device, y: float) -> Iterator[float]:
        """Heights between the lines of a coil's references, under its cell."""
        rows = {down for _, _, down, _ in self.references(one, device, self.manner.room)}
        yield from (y + down - _REFERENCES + 5 for down in sorted(rows) if down > ROW - _CUT)

    def references(self, one: WiredCoil, device: Device, places: Places) -> Iterator[tuple[str, float, float, Form]]:
        """The rungs of a coil's contacts and where each reference stands beside it; in columns where they take more
        than one line."""
        if device.kind in LOADS or one is not self.wired.coil_of(device.name.text):
            return
        found = self.wired.contacts_of(device.name.text)
        texts = [places.seen_from(each, self.manner.sheet) for each in found]
        wide = [width(text, "across") + _BETWEEN for text in texts]
        left, end = RIGHT + 14, WIDTH - 12 + _BETWEEN
        if left + sum(wide) > end:
            wide = [max(wide)] * len(wide)
        x, y = left, 4.0
        for text, step, each in zip(texts, wide, found, strict=True):
            if x + step > end:
                x, y = left, y + _REFERENCES
            yield text, x, y, each.contact.form
            x += step

    def contacts_of(self, one: WiredCoil, device: Device, y: float) -> Iterator[Item]:
        """Right of the rail, the rungs of a coil's contacts, those that break underlined (trade practice)."""
        for text, x, down, form in self.references(one, device, self.manner.places):
            yield Text(x, y + down, text, "across")
            if form in _BREAKS:
                yield Line(x, y + down + 3, x + width(text, "across") / 1.06, y + down + 3, "under")
