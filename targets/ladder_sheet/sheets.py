"""Rungs between rails, rung after rung, over as many sheets as it takes; each sheet an SVG of its own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache

from jinja2 import Template

from compiler.machine import Machine
from grammar.rungs.tree import Master, Rung, shared
from targets.anchors import rung_anchor
from targets.choices import Style
from targets.drawing.figure import Item, Line, Text
from targets.drawing.svg import Drawn, drawn, environment, number
from targets.ladder_sheet.lettering import SIZES
from targets.ladder_sheet.places import WIDEST, Places
from targets.ladder_sheet.rung import LEFT, RIGHT, WIDTH, Drawing, Manner, drawing, part_of, rail_of
from targets.ladder_sheet.title_block import Heading, title_block
from targets.wiring.nets import COMMON, LIVE, WiredCircuit

__all__ = ["HEIGHT", "Part", "SheetOfRungs", "held_switches", "ladder_sheets", "laid_out"]

HEIGHT = 1414.0  # with WIDTH the proportions of ISO A4
_TOP = 64.0
_APART = 16.0
_MARGIN = 24.0


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


@dataclass(frozen=True, slots=True)
class SheetOfRungs:
    """The parts of rungs on a sheet, what is drawn round them, and how high it is."""

    parts: tuple[Part, ...]
    frame: tuple[Item, ...]
    height: float


@dataclass(frozen=True, slots=True)
class _Page:
    title: str
    summary: str
    width: str
    height: str
    frame: Drawn
    rungs: tuple[tuple[str, Drawn], ...]
    sizes: dict[str, float]


def ladder_sheets(
    wired: WiredCircuit, heading: Heading, *, style: Style, held: frozenset[str], prefix: str = ""
) -> list[str]:
    """The sheets of a circuit. ``held`` are the limit switches that the machine rests on, letter case ignored;
    ``prefix`` goes before the names by which a page links to rungs."""
    sheets = laid_out(wired, heading, style=style, held=held)
    return [_svg(sheet, heading, k, len(sheets), prefix) for k, sheet in enumerate(sheets, 1)]


def held_switches(machine: Machine) -> frozenset[str]:
    """The limit switches that the machine rests on, by name: their contacts are drawn operated."""
    return frozenset(
        switch.name
        for actuator in machine.actuators
        for switch in actuator.limit_switches
        if switch.toward is actuator.rest  # made from its place on to that end
    )


def laid_out(wired: WiredCircuit, heading: Heading, *, style: Style, held: frozenset[str]) -> list[SheetOfRungs]:
    """Every rung in its place. They are drawn once to see how many go on a sheet, with references as wide as they can
    get, and once more when it is known which sheet each is on."""
    manner = Manner(style, frozenset(map(str.casefold, held)), Places({}))
    _, foot = title_block(heading, style, rungs="", sheet="", width=WIDTH - 2 * _MARGIN)
    room = HEIGHT - foot - _MARGIN - _TOP
    dealt = _dealt(wired, manner, room)
    if len(dealt) > 1:
        dealt = _dealt(wired, replace(manner, places=WIDEST), room)
        on = {part.rung.number: k for k, parts in reversed([*enumerate(dealt, 1)]) for part in parts}
        manner = replace(manner, places=Places(on))
        dealt = [
            [_redrawn(part, wired, replace(manner, sheet=k)) for part in parts] for k, parts in enumerate(dealt, 1)
        ]
    return [_framed(parts, heading, style, k, dealt, wired) for k, parts in enumerate(dealt, 1)]


def _dealt(wired: WiredCircuit, manner: Manner, room: float) -> list[list[Part]]:
    """Rungs with their places, sheet by sheet. A rung taller than a sheet is cut between its lines."""
    sheets: list[list[Part]] = [[]]
    y = _TOP
    for rung, before in zip(wired.circuit.rungs, (None, *wired.circuit.rungs), strict=False):
        whole = drawing(rung, before, wired, manner)
        for lines in _cut(whole, room):
            piece = part_of(whole, *lines)
            if sheets[-1] and y + piece.height > _TOP + room:
                sheets.append([])
                y = _TOP
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


def _redrawn(part: Part, wired: WiredCircuit, manner: Manner) -> Part:
    """The same part with the references of its sheet."""
    whole = drawing(part.rung, part.before, wired, manner)
    return replace(part, drawing=part_of(whole, *part.lines))


def _framed(
    parts: Sequence[Part],
    heading: Heading,
    style: Style,
    k: int,
    all_parts: Sequence[Sequence[Part]],
    wired: WiredCircuit,
) -> SheetOfRungs:
    """What stands round the rungs of a sheet: rails, where they go on, the title block."""
    count = len(all_parts)
    numbers = [part.rung.number for part in parts]
    span = f"{numbers[0]} to {numbers[-1]}" if len({*numbers}) > 1 else "".join(map(str, numbers[:1])) or "none"
    inner = WIDTH - 2 * _MARGIN
    block, foot = title_block(heading, style, rungs=span, sheet=f"{k} of {count}", width=inner)
    low = max((part.y + part.drawing.height for part in parts), default=_TOP)
    bottom = max(HEIGHT - foot - _MARGIN if k < count else 0.0, low) + _MARGIN
    frame: list[Item] = [
        Line(LEFT, _TOP - 22, LEFT, bottom - 8, "rail", LIVE),
        Line(RIGHT, _TOP - 22, RIGHT, bottom - 8, "rail", COMMON),
        Text(LEFT, _TOP - 30, str(LIVE), "wire-number", "middle"),
        Text(RIGHT, _TOP - 30, str(COMMON), "wire-number", "middle"),
    ]
    if k < count:
        frame.append(Text(RIGHT + 14, bottom - 12, f"to sheet {k + 1}", "reference"))
    if k > 1:
        frame.append(Text(RIGHT + 14, _TOP - 14, f"from sheet {k - 1}", "reference"))
    after = all_parts[k][0].rung if k < count else None
    frame += _rails(parts, after, bottom - 8, wired)
    frame += (item.moved(_MARGIN, bottom) for item in block)
    return SheetOfRungs(tuple(parts), tuple(frame), bottom + foot)


def _rails(parts: Sequence[Part], after: Rung | None, bottom: float, wired: WiredCircuit) -> Iterator[Item]:
    """The rails behind masters: from where a group begins, or the top of the sheet, to its last rung here, or on."""
    starts: dict[int, float] = {}
    inside: tuple[Master, ...] = ()
    for part, following in zip(parts, [*(p.rung for p in parts[1:]), after], strict=True):
        masters = part.rung.masters
        begun = len(masters) - len(part.drawing.opens)
        for depth in range(shared(inside, masters), len(masters)):
            opens = depth >= begun
            starts[depth] = part.y + part.drawing.opens[depth - begun] if opens else _TOP - 22
            if not opens:
                number = wired.rails[part.rung.number][depth]
                yield Text(rail_of(depth + 1), _TOP - 30, str(number), "wire-number", "middle")
        inside = masters
        kept = shared(inside, following.masters) if following else 0
        ends = [(depth, part.y + part.drawing.ends) for depth in range(kept, len(inside))]
        if part is parts[-1]:
            ends += [(depth, bottom) for depth in range(kept)]
        for depth, end in ends:
            x = rail_of(depth + 1)
            yield Line(x, starts[depth], x, end, "rail", wired.rails[part.rung.number][depth])


def _svg(sheet: SheetOfRungs, heading: Heading, k: int, count: int, prefix: str) -> str:
    numbers = [part.rung.number for part in sheet.parts]
    page = _Page(
        title=f"{heading.machine}: {heading.arrangement}, sheet {k} of {count}",
        summary=f"rungs {numbers[0]} to {numbers[-1]}" if numbers else "no rungs",
        width=number(WIDTH),
        height=number(sheet.height),
        frame=drawn(sheet.frame),
        rungs=tuple((_anchor(part, prefix), drawn(part.items)) for part in sheet.parts),
        sizes=SIZES,
    )
    return _template().render(page=page)


def _anchor(part: Part, prefix: str) -> str:
    return rung_anchor(part.rung.number, prefix) + (f"-line-{part.lines[0] + 1}" if part.lines[0] else "")


@cache
def _template() -> Template:
    return environment("targets.ladder_sheet").get_template("ladder.svg.j2")
