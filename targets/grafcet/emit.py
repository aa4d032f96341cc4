"""Draw a Chart as a GRAFCET (IEC 60848:2013, symbols from memory) in SVG."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from functools import cache

from jinja2 import Template

from compiler.chart import Chart
from compiler.condition import Rise, walk
from compiler.machine import Machine
from compiler.tell import condition_words
from targets.drawing.figure import LINE_HEIGHT, Figure, Item, Text, extent, text_width
from targets.drawing.svg import Drawn, drawn, environment, number
from targets.grafcet.layout import Drawer
from targets.grafcet.structure import nesting
from targets.slug import slug
from targets.target import CAUTION, Artefact

__all__ = ["emit"]

_MARGIN = 24
_LETTERS = 60  # of a title in the drawing, at most; all of it stands in its metadata
_STATIONS_APART = 64
_STATIONS_UNDER = 52  # between one station and another above it
_STEP = 24  # between heights that a station may begin at


@dataclass(frozen=True, slots=True)
class _Page:
    """What the template lays out; all numbers are ready to print."""

    title: str
    summary: str
    width: str
    height: str
    drawn: Drawn


def emit(machine: Machine, chart: Chart) -> list[Artefact]:
    """The drawing, one artefact."""
    figures = [Drawer(machine, chart).series(parts, entered=False) for parts in nesting(chart)]
    items, width, height = _side_by_side(figures)
    notes = _notes(machine, chart)
    width = max(width, 560.0)
    lines = [line for note in notes for line in textwrap.wrap(note, max(40, int(width / 7)), break_on_hyphens=False)]
    texts = [Text(_MARGIN, height + LINE_HEIGHT * (k + 1), line, "note") for k, line in enumerate(lines)]
    title = machine.title or "Sequence"
    shown = title if len(title) <= _LETTERS else f"{title[: _LETTERS - 1]}…"
    heading = Text(_MARGIN, _MARGIN + 10, f"{shown}: GRAFCET (IEC 60848)", "title")
    page = _page(title, (heading, *items, *texts), width, height + LINE_HEIGHT * (len(lines) + 1), chart)
    text = _template().render(page=page)
    return [Artefact("grafcet", "GRAFCET drawing (SVG)", f"{slug(machine.title)}.grafcet.svg", text)]


def _side_by_side(figures: list[Figure]) -> tuple[tuple[Item, ...], float, float]:
    """The first station at the left, each other one beside those before it: as far left as there is room for it, and
    lower only where that gains a good deal. With them the width and height they take."""
    top = _MARGIN + 34.0
    items: list[Item] = []
    for figure in figures:
        deepest = max((low for _, (_, low) in map(extent, items)), default=top) - figure.height
        heights = [top + _STEP * k for k in range(max(0, int((deepest - top) // _STEP)) + 1)]
        places = [(_free(items, y, y + figure.height) + figure.left, y) for y in heights]
        x, y = min(places, key=lambda place: place[0] + place[1] / 4)
        items.extend(figure.moved(x, y))
    spans = [*map(extent, items)]
    width = max((right for (_, right), _ in spans), default=0.0) + _MARGIN
    return tuple(items), width, max((low for _, (_, low) in spans), default=top) + 24


def _free(items: list[Item], top: float, bottom: float) -> float:
    """From where on there is room between two heights, with a gap to what is there."""
    spans = [extent(item) for item in items]
    taken = [
        right for (_, right), (high, low) in spans if high < bottom + _STATIONS_UNDER and low > top - _STATIONS_UNDER
    ]
    return max(taken) + _STATIONS_APART if taken else float(_MARGIN)


def _notes(machine: Machine, chart: Chart) -> list[str]:
    """What holds of the whole chart: forcing, interlocks, and the caution."""
    notes = []
    if chart.forcing is not None:
        to = ", ".join(chart.forcing.steps) or "INIT"
        words = condition_words(chart.forcing.condition, machine)
        moment = "when" if any(isinstance(part, Rise) for part in walk(chart.forcing.condition)) else "while"
        notes.append(f"Forcing order, ahead of everything else: {moment} {words}, the chart is forced to {{{to}}}.")
    for interlock in chart.interlocks:
        notes.append(f"Interlock: {interlock.output} only while {condition_words(interlock.only_while, machine)}.")
    return [*notes, CAUTION]


def _page(title: str, items: tuple[Item, ...], width: float, height: float, chart: Chart) -> _Page:
    titles = [i for i in items if isinstance(i, Text) and i.kind == "title"]
    wide = max([width, *(i.x + text_width(i.text, size=15) + _MARGIN for i in titles)])
    return _Page(
        title=f"{title}: GRAFCET",
        summary=f"{len(chart.steps)} steps and {len(chart.transitions)} transitions",
        width=number(wide),
        height=number(height),
        drawn=drawn(items),
    )


@cache
def _template() -> Template:
    return environment("targets.grafcet").get_template("grafcet.svg.j2")
