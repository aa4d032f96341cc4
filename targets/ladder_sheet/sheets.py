"""Rungs between rails, rung after rung, over as many sheets as it takes; each sheet an SVG of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

from jinja2 import Template

from compiler.machine import Machine
from targets.anchors import rung_anchor
from targets.choices import Style
from targets.drawing.figure import Item, Line, Text
from targets.drawing.svg import Drawn, drawn, environment, number
from targets.ladder_sheet.dealing import Part, dealt, redrawn
from targets.ladder_sheet.lettering import SIZES
from targets.ladder_sheet.notes import notes_blocks
from targets.ladder_sheet.places import WIDEST, Places
from targets.ladder_sheet.rails import begun, behind, rails
from targets.ladder_sheet.rung import LEFT, RIGHT, WIDTH, Manner
from targets.ladder_sheet.symbols import Look, lettering_of
from targets.ladder_sheet.title_block import Heading, title_block
from targets.wiring.nets import COMMON, LIVE, WiredCircuit

__all__ = ["HEIGHT", "SheetOfRungs", "held_switches", "ladder_sheets", "laid_out"]

HEIGHT = 1414.0  # with WIDTH the proportions of ISO A4
_TOP = 64.0
_MOST = 16  # rungs on a sheet, the least of them
_MARGIN = 24.0
_INNER = WIDTH - 2 * _MARGIN


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
    """Every rung in its place. Where one sheet may do they are drawn for that; else once to see how many go on a
    sheet, with references as wide as they can get, and once more when it is known which sheet each is on."""
    look = Look(style, lettering_of(wired.circuit.devices))
    resting = frozenset(map(str.casefold, held))
    here = Places({})
    _, foot = title_block(heading, style, rungs="", sheet="", width=_INNER)
    ends = HEIGHT - foot - _MARGIN
    notes = notes_blocks(wired.circuit.notes, _INNER, ends - _TOP)
    tops = [_TOP + high for _, high in notes]
    ahead: list[list[Part]] = [[] for _ in notes[:-1]]
    few = not ahead and len(wired.circuit.rungs) <= _MOST
    parts = dealt(wired, Manner(look, resting, here, here), tops[-1], _TOP, ends) if few else []
    if len(parts) != 1:
        parts = [*ahead, *dealt(wired, Manner(look, resting, WIDEST, WIDEST), tops[-1], _TOP, ends)]
        on = {spot: k for k, some in enumerate(parts, 1) for part in some for spot in part.drawing.spots}
        manner = Manner(look, resting, Places(on), WIDEST)
        parts = [[redrawn(part, wired, replace(manner, sheet=k)) for part in some] for k, some in enumerate(parts, 1)]
    low = max((part.y + part.drawing.height for some in parts for part in some), default=_TOP)
    frame = _Frame(wired, heading, style, parts, max(low, *tops), foot, begun(parts, wired))
    heads = [tuple(item.moved(_MARGIN, _MARGIN) for item in items) for items, _ in notes]
    over = [*zip(tops, heads, strict=True), *[(_TOP, ())] * (len(parts) - len(notes))]
    return [frame.sheet(k, top, head) for k, (top, head) in enumerate(over, 1)]


@dataclass(frozen=True, slots=True)
class _Frame:
    """What stands round the rungs of each sheet: rails, where they go on, notes, the title block, which is so high.
    All sheets ``end`` where the fullest does; ``begun`` is where the rails behind masters begin."""

    wired: WiredCircuit
    heading: Heading
    style: Style
    parts: Sequence[Sequence[Part]]
    end: float
    foot: float
    begun: Mapping[int, tuple[int, int]]

    def sheet(self, k: int, top: float, head: tuple[Item, ...]) -> SheetOfRungs:
        """The sheet of that number, its rungs from ``top`` on, under ``head``."""
        parts, count = self.parts[k - 1], len(self.parts)
        bottom = self.end + _MARGIN
        frame: list[Item] = [*head]
        for x, wire in ((LEFT, LIVE), (RIGHT, COMMON)) if parts or count == 1 else ():
            frame.append(Line(x, top - 22, x, bottom - 8, "rail", wire))
            frame.append(Text(x, top - 30, str(wire), "wire-number", "middle"))
        if k < count:
            frame.append(Text(RIGHT + 14, bottom - 12, f"to sheet {k + 1}", "reference"))
        if k > 1:
            frame.append(Text(RIGHT + 14, top - 14, f"from sheet {k - 1}", "reference"))
        after = next((some[0].rung for some in self.parts[k:] if some), None)
        frame += rails(parts, after, top, bottom - 8, self.wired) if parts else ()
        frame += behind(parts[0], self.begun, top, self.wired) if parts and k > 1 else ()
        frame += (item.moved(_MARGIN, bottom) for item in self.block(k))
        return SheetOfRungs(tuple(parts), tuple(frame), bottom + self.foot)

    def block(self, k: int) -> tuple[Item, ...]:
        """The title block of a sheet."""
        parts = self.parts[k - 1]
        items = [item for part in parts for item in part.drawing.items]
        sheet = f"{k} of {len(self.parts)}"
        return title_block(self.heading, self.style, rungs=_span(parts), sheet=sheet, width=_INNER, on_it=items)[0]


def _svg(sheet: SheetOfRungs, heading: Heading, k: int, count: int, prefix: str) -> str:
    several = len({part.rung.number for part in sheet.parts}) != 1
    page = _Page(
        title=f"{heading.machine}: {heading.arrangement}, sheet {k} of {count}",
        summary=f"{'rungs' if several else 'rung'} {_span(sheet.parts)}",
        width=number(WIDTH),
        height=number(sheet.height),
        frame=drawn(sheet.frame),
        rungs=tuple((_anchor(part, prefix), drawn(part.items)) for part in sheet.parts),
        sizes=SIZES,
    )
    return _template().render(page=page)


def _span(parts: Sequence[Part]) -> str:
    """The first and the last of the rungs of a sheet."""
    numbers = [part.rung.number for part in parts]
    return f"{numbers[0]} to {numbers[-1]}" if len({*numbers}) > 1 else "".join(map(str, numbers[:1])) or "none"


def _anchor(part: Part, prefix: str) -> str:
    nth = part.stretch.nth
    return rung_anchor(part.rung.number, prefix) + (f"-part-{nth + 1}" if nth else "")


@cache
def _template() -> Template:
    return environment("targets.ladder_sheet").get_template("ladder.svg.j2")
