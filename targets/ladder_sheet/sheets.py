"""Rungs between rails, rung after rung, over as many sheets as it takes; each sheet an SVG of its own."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from jinja2 import Template

from compiler.machine import Machine
from grammar.rungs.tree import Circuit, Master, Rung, shared
from targets.choices import Style
from targets.drawing.figure import Item, Line, Text
from targets.drawing.svg import Drawn, drawn, environment, number
from targets.ladder_sheet.rung import LEFT, RIGHT, WIDTH, Drawing, drawing, rail_of
from targets.target import CAUTION
from targets.wiring.nets import COMMON, LIVE, WiredCircuit

__all__ = ["HEIGHT", "Heading", "held_switches", "ladder_sheets"]

HEIGHT = 1414.0  # with WIDTH the proportions of ISO A4
_TOP = 64.0
_FOOT = 132.0
_APART = 16.0


@dataclass(frozen=True, slots=True)
class Heading:
    """What the title block says besides what is drawn. ``verdict``: what was proved of this circuit."""

    machine: str
    arrangement: str
    verdict: str = ""
    revision: str = ""


@dataclass(frozen=True, slots=True)
class _Page:
    title: str
    summary: str
    width: str
    height: str
    drawn: Drawn
    foot: str
    block: tuple[tuple[str, str], ...]
    caution: tuple[str, ...]
    verdict: tuple[str, ...]


def ladder_sheets(wired: WiredCircuit, heading: Heading, *, style: Style, held: frozenset[str]) -> list[str]:
    """The sheets of a circuit. ``held`` are the limit switches that the machine rests on, letter case ignored."""
    drawings = [drawing(rung, wired, style=style, held=held) for rung in wired.circuit.rungs]
    sheets = _dealt(wired.circuit, drawings)
    return [_svg(sheet, heading, style, k, len(sheets)) for k, sheet in enumerate(sheets, 1)]


def held_switches(machine: Machine) -> frozenset[str]:
    """The limit switches that the machine rests on, letter case folded: their contacts are drawn operated."""
    return frozenset(
        switch.name.casefold()
        for actuator in machine.actuators
        for switch in actuator.limit_switches
        if switch.toward is actuator.rest  # made from its place on to that end
    )


_Placed = tuple[Rung, Drawing, float]


def _dealt(circuit: Circuit, drawings: Sequence[Drawing]) -> list[list[_Placed]]:
    """Rungs with their places, sheet by sheet. A rung taller than a sheet has one to itself."""
    sheets: list[list[_Placed]] = [[]]
    y = _TOP
    for rung, one in zip(circuit.rungs, drawings, strict=True):
        if sheets[-1] and y + one.height > HEIGHT - _FOOT:
            sheets.append([])
            y = _TOP
        sheets[-1].append((rung, one, y))
        y += one.height + _APART
    return sheets


def _rails(sheet: Sequence[_Placed]) -> Iterator[Item]:
    """The rails behind masters: from where a group begins, or the top of the sheet, to its last rung here."""
    starts: dict[int, float] = {}
    inside: tuple[Master, ...] = ()
    for k, (rung, one, y) in enumerate(sheet):
        begun = len(rung.masters) - len(one.opens)
        for depth in range(shared(inside, rung.masters), len(rung.masters)):
            starts[depth] = y + one.opens[depth - begun] if depth >= begun else _TOP
        inside = rung.masters
        after = sheet[k + 1][0].masters if k + 1 < len(sheet) else ()
        for depth in range(shared(inside, after), len(inside)):
            yield Line(rail_of(depth + 1), starts[depth], rail_of(depth + 1), y + one.wire, "rail")


def _svg(sheet: Sequence[_Placed], heading: Heading, style: Style, k: int, count: int) -> str:
    bottom = max((y + one.height for _, one, y in sheet), default=_TOP) + 24
    bottom = max(bottom, HEIGHT - _FOOT) if k < count else bottom
    items: list[Item] = [
        Line(LEFT, _TOP - 22, LEFT, bottom - 8, "rail"),
        Line(RIGHT, _TOP - 22, RIGHT, bottom - 8, "rail"),
        Text(LEFT, _TOP - 30, str(LIVE), "wire-number", "middle"),
        Text(RIGHT, _TOP - 30, str(COMMON), "wire-number", "middle"),
    ]
    items += _rails(sheet)
    for _, one, y in sheet:
        items += [item.moved(0, y) for item in one.items]
    height = bottom + _FOOT
    block = (
        ("machine", heading.machine or "Sequence"),
        ("arrangement", heading.arrangement),
        ("symbols", str(style)),
        ("revision", heading.revision or "not stated"),
        ("sheet", f"{k} of {count}"),
    )
    page = _Page(
        title=f"{heading.machine}: {heading.arrangement}, sheet {k} of {count}",
        summary=f"rungs {sheet[0][0].number} to {sheet[-1][0].number}" if sheet else "no rungs",
        width=number(WIDTH),
        height=number(height),
        drawn=drawn(items),
        foot=number(bottom),
        block=block,
        caution=tuple(textwrap.wrap(CAUTION, 118)),
        verdict=tuple(textwrap.wrap(heading.verdict or "not proved in this build", 112)[:2]),
    )
    return _template().render(page=page)


@cache
def _template() -> Template:
    return environment("targets.ladder_sheet").get_template("ladder.svg.j2")
