"""One self-contained HTML page of a build: no network, no script; drawings are inside it as data.

Drawings go in as images, so that nothing in one drawing's style sheet touches another or the page, and each has a
text that says what it shows. What a link leads to inside a drawing is an empty box over it, outlined when it is come
to; so one link serves a ladder sheet in both styles of symbols, whichever is shown.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import zip_longest

from jinja2 import Template
from markupsafe import Markup

from targets.anchors import moment_anchor, rung_anchor
from targets.choices import Style
from targets.drawing.svg import environment
from targets.sheet_set.measured import measured
from targets.sheet_set.spots import Spot, spots
from targets.sheet_set.view import Circuit, Drawing, SheetSet
from targets.walkthrough import as_html

__all__ = ["as_page"]

_LETTER = "[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff]"  # Hebrew, Arabic and their neighbours
_RIGHT_TO_LEFT = re.compile(rf"\w*{_LETTER}\w*(?:[ '-]+\w*{_LETTER}\w*)*")
_TAG = re.compile(r"(<[^>]*>)")  # no attribute has such a sign in it: all are escaped
_WIDE = 900.0  # pixels: what is wider would be small on an upright page


@dataclass(frozen=True, slots=True)
class _Image:
    """A drawing as data and what it shows, of a class that may be hidden."""

    data: str
    shows: str
    kind: str


@dataclass(frozen=True, slots=True)
class _Plate:
    """Drawings of one thing, of which one is shown, under the spots that links lead to. ``wide`` ones are printed on
    pages that lie on their long side."""

    images: tuple[_Image, ...]
    spots: tuple[Spot, ...]
    wide: bool


@dataclass(frozen=True, slots=True)
class _Circuit:
    """What is laid out of a circuit. ``told`` is HTML, escaped where it was made."""

    plates: tuple[_Plate, ...]
    cycle: _Plate
    told: Markup


def as_page(sheets: SheetSet) -> str:
    """The text of the page."""
    laid = tuple(_circuit(circuit) for circuit in sheets.circuits)
    return _isolated(
        _template().render(
            page=sheets,
            circuits=tuple(zip(sheets.circuits, laid, strict=True)),
            single=_single,
            north_american=sheets.style is Style.NORTH_AMERICAN,
        )
    )


def _isolated(html: str) -> str:
    """The same with every name that is written from right to left kept apart from the words round it, which would
    otherwise change places with it (Unicode Standard Annex 9)."""
    if not re.search(_LETTER, html):
        return html
    head, body = html.split("<body>", 1)
    pieces = _TAG.split(body)  # text and tags in turn
    pieces[::2] = [_RIGHT_TO_LEFT.sub(r"<bdi>\g<0></bdi>", text) for text in pieces[::2]]
    return head + "<body>" + "".join(pieces)


def _circuit(circuit: Circuit) -> _Circuit:
    prefix, styles = f"{circuit.key}-", tuple(circuit.sheets)
    plates = tuple(
        _plate([(one, style.name) for one, style in zip(same, styles, strict=True) if one is not None], prefix)
        for same in zip_longest(*circuit.sheets.values())
    )
    cycle = _plate([(circuit.cycle, "")], prefix)
    passages = [passage for section in circuit.told.sections for passage in section.passages]
    moments = {moment_anchor(passage.at_us, prefix) for passage in passages if passage.at_us is not None}
    rungs = {rung_anchor(number, prefix) for number, _ in circuit.told.rungs}
    in_chart = moments <= {spot.anchor for spot in cycle.spots}
    on_sheets = rungs <= {spot.anchor for plate in plates for spot in plate.spots}
    if not in_chart:  # then every moment is where it is told
        cycle = replace(cycle, spots=())
    if not on_sheets:
        plates = tuple(replace(plate, spots=()) for plate in plates)
    told = as_html(circuit.told, prefix=prefix, heading=3, rungs=not on_sheets, moments=not in_chart)
    return _Circuit(plates, cycle, Markup(told))  # escaped where it was made


def _plate(drawings: Sequence[tuple[Drawing, str]], prefix: str = "") -> _Plate:
    """Drawings, each of its class, under the spots of the first; without spots where there is no prefix."""
    images = tuple(_Image(_data(one.svg), one.shows, kind) for one, kind in drawings)
    first = measured(drawings[0][0].svg)
    found = spots(first) if prefix else ()
    wide = first.width > _WIDE and first.width > first.height
    return _Plate(images, tuple(replace(spot, anchor=prefix + spot.anchor) for spot in found), wide)


def _single(drawing: Drawing) -> _Plate:
    return _plate([(drawing, "")])


def _data(svg: str) -> str:
    return "data:image/svg+xml;base64," + b64encode(svg.encode()).decode()


@cache
def _template() -> Template:
    return environment("targets.sheet_set").get_template("page.html.j2")
