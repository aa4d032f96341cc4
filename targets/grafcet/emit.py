"""Draw a Chart as a GRAFCET (IEC 60848:2013, symbols from memory) in SVG."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from compiler.chart import Chart
from compiler.machine import Machine
from compiler.tell import condition_words
from targets.drawing.figure import LINE_HEIGHT, Box, Figure, Line, Text, Up, text_width
from targets.grafcet.layout import Drawer
from targets.grafcet.structure import nesting
from targets.slug import slug
from targets.target import CAUTION, Artefact

__all__ = ["emit"]

_MARGIN = 24
_STATIONS_APART = 64


@dataclass(frozen=True, slots=True)
class _Drawn:
    """One thing to draw: its class in the style sheet, its numbers, and for a text what it says."""

    kind: str
    at: tuple[str, ...]
    text: str = ""
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class _Page:
    """What the template lays out; all numbers are ready to print."""

    title: str
    summary: str
    width: str
    height: str
    boxes: tuple[_Drawn, ...]
    lines: tuple[_Drawn, ...]
    arrows: tuple[str, ...]
    texts: tuple[_Drawn, ...]


def emit(machine: Machine, chart: Chart) -> list[Artefact]:
    """The drawing, one artefact."""
    figures = [Drawer(machine, chart).series(parts, entered=False) for parts in nesting(chart)]
    items, width, height = _side_by_side(figures)
    notes = _notes(machine, chart)
    width = max(width, 560.0)
    lines = [line for note in notes for line in textwrap.wrap(note, max(40, int(width / 7)))]
    texts = [Text(_MARGIN, height + LINE_HEIGHT * (k + 1), line, "note") for k, line in enumerate(lines)]
    title = machine.title or "Sequence"
    heading = Text(_MARGIN, _MARGIN + 10, f"{title}: GRAFCET (IEC 60848)", "title")
    page = _page(title, (heading, *items, *texts), width, height + LINE_HEIGHT * (len(lines) + 1), chart)
    text = _template().render(page=page)
    return [Artefact("grafcet", "GRAFCET drawing (SVG)", f"{slug(machine.title)}.grafcet.svg", text)]


def _side_by_side(figures: list[Figure]) -> tuple[tuple[Box | Line | Text | Up, ...], float, float]:
    """Every station, from left to right; the width and height they take."""
    x, top = float(_MARGIN), _MARGIN + 34.0
    items: list[Box | Line | Text | Up] = []
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
        notes.append(f"Forcing order, ahead of everything else: while {words}, the chart is forced to {{{to}}}.")
    for interlock in chart.interlocks:
        notes.append(f"Interlock: {interlock.output} only while {condition_words(interlock.only_while, machine)}.")
    return [*notes, CAUTION]


def _page(title: str, items: tuple[Box | Line | Text | Up, ...], width: float, height: float, chart: Chart) -> _Page:
    titles = [i for i in items if isinstance(i, Text) and i.kind == "title"]
    wide = max([width, *(i.x + text_width(i.text, size=15) + _MARGIN for i in titles)])
    return _Page(
        title=f"{title}: GRAFCET",
        summary=f"{len(chart.steps)} steps and {len(chart.transitions)} transitions",
        width=_number(wide),
        height=_number(height),
        boxes=tuple(_Drawn(i.kind, _numbers(i.x, i.y, i.width, i.height)) for i in items if isinstance(i, Box)),
        lines=tuple(_Drawn(i.kind, _numbers(i.x1, i.y1, i.x2, i.y2)) for i in items if isinstance(i, Line)),
        arrows=tuple(_arrow(i) for i in items if isinstance(i, Up)),
        texts=tuple(_Drawn(i.kind, _numbers(i.x, i.y), i.text, i.anchor) for i in items if isinstance(i, Text)),
    )


def _number(value: float) -> str:
    return f"{round(value, 1):.10g}"


def _numbers(*values: float) -> tuple[str, ...]:
    return tuple(map(_number, values))


def _arrow(arrow: Up) -> str:
    """The corners of an arrow head."""
    x, y = arrow.x, arrow.y
    corners = {
        "up": ((x, y), (x - 5, y + 10), (x + 5, y + 10)),
        "down": ((x, y), (x - 5, y - 10), (x + 5, y - 10)),
        "right": ((x, y), (x - 10, y - 5), (x - 10, y + 5)),
    }[arrow.way]
    return " ".join(",".join(_numbers(*corner)) for corner in corners)


@cache
def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("targets.grafcet"), undefined=StrictUndefined, autoescape=True,
        trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True,
    )  # fmt: skip
    return environment.get_template("grafcet.svg.j2")
