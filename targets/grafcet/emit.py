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
from targets.drawing.figure import LINE_HEIGHT, Figure, Item, Text, text_width
from targets.drawing.svg import Drawn, drawn, environment, number
from targets.grafcet.layout import Drawer
from targets.grafcet.structure import nesting
from targets.slug import slug
from targets.target import CAUTION, Artefact

__all__ = ["emit"]

_MARGIN = 24
_LETTERS = 60  # of a title in the drawing, at most; all of it stands in its metadata
_STATIONS_APART = 64


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
    """Every station, from left to right; the width and height they take."""
    x, top = float(_MARGIN), _MARGIN + 34.0
    items: list[Item] = []
    for figure in figures:
        items.extend(figure.moved(x + figure.left, top))
        x += figure.left + figure.right + _STATIONS_APART
    return tuple(items), x - _STATIONS_APART + _MARGIN, top + max((f.height for f in figures), default=0.0) + 24


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
