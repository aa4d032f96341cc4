"""One rung drawn: its comment, contacts, coils, wire numbers, and the references at the margins."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from grammar.rungs.tree import INPUTS, LOADS, Contact, Device, Form, Master, Network, Rung, Series, shared
from targets.choices import Style
from targets.drawing.figure import Bent, Item, Line, Text
from targets.ladder_sheet.comments import said
from targets.ladder_sheet.lettering import width
from targets.ladder_sheet.pieces import ROW, Folded, Piece, fold
from targets.ladder_sheet.places import Places
from targets.ladder_sheet.symbols import CELL, coil, contact, set_to
from targets.ladder_sheet.wires import drawn_through
from targets.wiring.nets import COMMON, WiredCircuit, WiredCoil, WiredContact

__all__ = ["COLUMNS", "LEFT", "RIGHT", "WIDTH", "Drawing", "Manner", "drawing", "part_of", "rail_of"]

COLUMNS = 8  # cells of contacts beside the coil, from the left rail on
LEFT = 64.0
RIGHT = LEFT + (COLUMNS + 1) * CELL + 24
WIDTH = RIGHT + 180
_LINE = 15.0  # of a comment
_ABOVE = 34.0  # between a comment and the wire under it
_BELOW = 36.0  # of the last row that is still its own
_CUT = 27.0  # above a wire: between what belongs to it and what belongs to the row above
_REFERENCES = 15.0
_BREAKS = frozenset({Form.NC, Form.NCTO, Form.NCTC})
_TIMED = frozenset({Form.NOTC, Form.NCTO, Form.NOTO, Form.NCTC})


@dataclass(frozen=True, slots=True)
class Manner:
    """How rungs are drawn: whose symbols, which switches the machine rests on, and how other rungs are referred to
    from the ``sheet`` that the rung stands on."""

    style: Style
    held: frozenset[str]
    places: Places
    sheet: int = 1


@dataclass(frozen=True, slots=True)
class Drawing:
    """A rung's items, from the top of its comment on, and its height.

    ``wire`` is the height of its first row. ``opens`` are the heights at which the rails of the masters that begin
    with it start, outermost first; ``ends`` is how far down the rail it is fed from must reach. ``cuts`` are where a
    rung that is too tall may be parted, between two of its lines.
    """

    items: tuple[Item, ...]
    height: float
    wire: float
    ends: float
    opens: tuple[float, ...] = ()
    cuts: tuple[float, ...] = ()


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
    opens: list[float] = []
    opening = rung.masters[shared(before.masters, rung.masters) if before else 0 :]
    for depth, master in enumerate(opening, len(rung.masters) - len(opening)):
        opens.append(made.open(master, depth))
    depth = len(rung.masters)
    first = made.said(said(rung.comments), rail_of(depth))
    made.items.append(Text(LEFT - 14, first + 4, str(rung.number), "number", "end"))
    made.network(rung.own, rail_of(depth))
    items = tuple(drawn_through(made.items, rail_of(depth)))
    ends = max(y for y in _wires_at(items, rail_of(depth)))
    return Drawing(items, made.y - ROW + _BELOW, first, ends, tuple(opens), tuple(made.cuts))


def part_of(whole: Drawing, first: int, last: int) -> Drawing:
    """The lines of a rung from one cut to another, counted from 0; what goes on has the rung's number in brackets."""
    if (first, last) == (0, len(whole.cuts)):
        return whole
    top = whole.cuts[first - 1] if first else 0.0
    bottom = whole.cuts[last - 1] if last < len(whole.cuts) else whole.height + ROW
    items = tuple(item.moved(0, -top) for item in whole.items if top <= _top(item) < bottom)
    if not first:
        return replace(whole, items=items, height=bottom, cuts=())
    number = next(i for i in whole.items if isinstance(i, Text) and i.kind == "number")
    again = Text(number.x, _CUT + 4, f"({number.text})", "reference", "end")
    return Drawing((*items, again), min(bottom, whole.height) - top, _CUT, 0.0)


def _top(item: Item) -> float:
    match item:
        case Line(y1=y1, y2=y2):
            return min(y1, y2)
        case Bent(points=points):
            return min(y for _, y in points)
        case _:
            return item.y


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
    cuts: list[float] = field(default_factory=list)
    labelled: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        own, self.coils = self.wired.of_rung(self.rung.number)
        self.contacts = iter(own)

    def said(self, lines: Sequence[str], rail: float) -> float:
        """Adds a comment, to the right of the innermost rail; the height of the wire under it."""
        self.items += [Text(rail + 10, self.y + 12 + _LINE * k, line, "comment") for k, line in enumerate(lines)]
        self.y += _LINE * len(lines) + _ABOVE
        return self.y

    def open(self, master: Master, depth: int) -> float:
        """Adds a master's contacts and the corner from which its rail goes down; the height of the corner."""
        rail = rail_of(depth)
        top = self.said(said(master.comments), rail)
        folded = fold(master.network, _columns(rail), self.cell)
        self.lines(folded, rail)
        last = folded.lines[-1]
        end = rail + last.width + (CELL / 2 if len(folded.lines) > 1 else 0)
        down = top + sum(line.rows for line in folded.lines[:-1]) * ROW
        corner = self.y - ROW + 36
        self.items += [
            Line(end, down, end, corner, "wire", last.right),
            Line(rail_of(depth + 1), corner, end, corner, "wire", last.right),
        ]
        self.y = corner + 12
        return corner

    def network(self, network: Network, rail: float) -> None:
        """Adds the contacts of the rung from its rail on, and its coils at the right."""
        if network == Series(()):
            self.feed(rail, self.coils[0].left)
            self.y += self.coil_heights()
            return
        self.lines(fold(network, _columns(rail), self.cell), rail, coils=True)

    def lines(self, folded: Folded, rail: float, *, coils: bool = False) -> None:
        """Adds the lines of a network, the coils after its last one, and what is drawn apart."""
        for k, line in enumerate(folded.lines):
            last = k == len(folded.lines) - 1
            x = rail if k == 0 else rail + CELL / 2
            self.items += line.moved(x, self.y)
            if k:
                self.mark(x, f"→{k}", line.left)
            if not last:
                self.goes_on(x + line.width, f"{k + 1}→", line.right)
            high = ROW * line.rows
            if last and coils:
                self.feed(x + line.width, line.right)
                high = max(high, self.coil_heights())
            self.y += high
            self.cuts.append(self.y - _CUT)
        for number, lines in folded.apart:
            self.apart(number, lines, rail + 48)

    def apart(self, number: int, lines: Sequence[Piece], x: float) -> None:
        """Adds lines that stand for the reference of that number. A further line carries the one above it on; with
        the same mark it would look like a second branch."""
        for k, line in enumerate(lines):
            self.items += line.moved(x, self.y)
            self.mark(x, f"→{number}.{k}" if k else f"[{number}]", line.left)
            on = f"{number}.{k + 1}→" if k < len(lines) - 1 else f"[{number}]"
            self.goes_on(x + line.width, on, line.right)
            said = {item.text for item in line.items if isinstance(item, Text) and item.kind == "wire-number"}
            self.items.append(Text(x - 2, self.y - 6, str(line.left), "wire-number", "end"))
            if str(line.right) not in said:
                self.items.append(Text(x + line.width + 2, self.y - 6, str(line.right), "wire-number"))
            self.y += ROW * line.rows
            self.cuts.append(self.y - _CUT)

    def mark(self, x: float, text: str, wire: int) -> None:
        """Says before a line what it carries on."""
        self.items += [
            Line(x - 8, self.y, x, self.y, "wire", wire),
            Text(x - 11, self.y + 4, text, "reference", "end"),
        ]

    def goes_on(self, x: float, text: str, wire: int) -> None:
        """Says after a line where it goes on."""
        self.items += [Line(x, self.y, x + 10, self.y, "wire", wire), Text(x + 13, self.y + 4, text, "reference")]

    def cell(self, one: Contact) -> Piece:
        """The next contact's cell, with the number of the wire after it, once for each wire."""
        found = next(self.contacts)
        assert found.contact is one or found.contact == one
        device, wires = self.wired.device(found.device), (found.left, found.right)
        held = device.name.text.casefold() in self.manner.held
        style = self.manner.style
        items = list(contact(device, one.form, held=held, terminals=found.terminals, wires=wires, style=style))
        items += self.label(found)
        items += self.source(device, one.form)
        return Piece(tuple(items), 1, 1, *wires)

    def label(self, found: WiredContact) -> Iterator[Item]:
        if found.right not in self.labelled and found.right != COMMON:
            self.labelled.add(found.right)
            yield Text(CELL - 3, -5, str(found.right), "wire-number", "end")

    def source(self, device: Device, form: Form) -> Iterator[Item]:
        """Under a relay's contact, the rung of its coil; beside the arrow of a timed one."""
        fed = self.wired.coil_of(device.name.text)
        if device.kind not in INPUTS and fed is not None:
            text = f"({self.seen(fed.rung)})"
            timed = form in _TIMED
            yield Text(CELL / 2 + (10 if timed else 0), 25, text, "reference", "start" if timed else "middle")

    def seen(self, rung: int) -> str:
        return self.manner.places.seen_from(rung, self.manner.sheet)

    def feed(self, end: float, wire: int) -> None:
        """Adds every coil of the rung, in one column before the right rail, and where its contacts are."""
        at, y = RIGHT - CELL, self.y
        self.items.append(Line(end, y, at, y, "wire", wire))
        for k, one in enumerate(self.coils):
            device = self.wired.device(one.device)
            wires = (one.left, one.right)
            style = self.manner.style
            drawn = coil(device, one.feed.terminal, terminals=one.terminals, wires=wires, style=style)
            self.items += (item.moved(at, y) for item in drawn)
            self.items += self.contacts_of(one, device, y)
            if k:
                self.items.append(Line(at, self.y, at, y, "wire", wire))
            y += self.high(one, device)

    def coil_heights(self) -> float:
        return sum(self.high(one, self.wired.device(one.device)) for one in self.coils)

    def high(self, one: WiredCoil, device: Device) -> float:
        """How much room a coil takes with what stands under and beside it."""
        under = 11.0 * max(len(set_to(device, one.feed.terminal)) - 1, 0)
        rows = {y for _, _, y, _ in self.references(one, device)}
        return max(ROW + under, _REFERENCES * len(rows) + 14)

    def references(self, one: WiredCoil, device: Device) -> Iterator[tuple[str, float, float, Form]]:
        """The rungs of a coil's contacts and where each reference stands beside it."""
        if device.kind in LOADS or one is not self.wired.coil_of(device.name.text):
            return
        x, y = RIGHT + 14, 4.0
        for found in self.wired.contacts_of(device.name.text):
            text = self.seen(found.rung)
            if x + width(text, "across") > WIDTH - 12:
                x, y = RIGHT + 14, y + _REFERENCES
            yield text, x, y, found.contact.form
            x += width(text, "across") + 9

    def contacts_of(self, one: WiredCoil, device: Device, y: float) -> Iterator[Item]:
        """Right of the rail, the rungs of a coil's contacts, those that break underlined (trade practice)."""
        for text, x, down, form in self.references(one, device):
            yield Text(x, y + down, text, "across")
            if form in _BREAKS:
                yield Line(x, y + down + 3, x + width(text, "across") / 1.06, y + down + 3, "under")
