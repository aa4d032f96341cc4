"""One self-contained HTML page of a build: no network, no script; drawings are part of it.

A link leads to the very part of a drawing that shows a rung or a moment; one link serves a ladder sheet in both
styles of symbols, whichever is shown.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, partial
from itertools import zip_longest

from jinja2 import Template
from markupsafe import Markup

from targets.anchors import moment_anchor, rung_anchor
from targets.choices import Style
from targets.drawing.svg import environment
from targets.isolated import isolated
from targets.sheet_set.inline import Inline, inline, style_kinds, style_sheet
from targets.sheet_set.view import Circuit, Drawing, SheetSet
from targets.walkthrough import as_html

__all__ = ["as_page"]


@dataclass(frozen=True, slots=True)
class _Circuit:
    """What is laid out of a circuit. ``told`` is HTML, escaped where it was made."""

    sheets: tuple[Inline, ...]
    cycle: Inline
    told: Markup


def as_page(sheets: SheetSet) -> str:
    """The text of the page."""
    kinds = style_kinds(drawing.svg for drawing in _drawings(sheets))
    laid = tuple(_circuit(circuit, kinds) for circuit in sheets.circuits)
    return isolated(
        _template().render(
            page=sheets,
            circuits=tuple(zip(sheets.circuits, laid, strict=True)),
            single=partial(_single, kinds),
            styles=Markup(style_sheet(kinds)),
            north_american=sheets.style is Style.NORTH_AMERICAN,
        )
    )


def _drawings(sheets: SheetSet) -> Iterator[Drawing]:
    """Every drawing of the set."""
    yield from (*sheets.drawings, *sheets.motion)
    for circuit in sheets.circuits:
        yield from (*(sheet for drawn in circuit.sheets.values() for sheet in drawn), circuit.cycle)
    yield from (one.drawing for verdict in sheets.verdicts for one in verdict.outside if one.drawing)


def _circuit(circuit: Circuit, kinds: dict[str, str]) -> _Circuit:
    prefix, styles = f"{circuit.key}-", tuple(circuit.sheets)
    sheets = tuple(
        _sheet([(one, style) for one, style in zip(same, styles, strict=True) if one], kinds, prefix)
        for same in zip_longest(*circuit.sheets.values())
    )
    cycle = inline([(circuit.cycle.svg, "")], circuit.cycle.shows, kinds, prefix=prefix)
    passages = [passage for section in circuit.told.sections for passage in section.passages]
    moments = {moment_anchor(passage.at_us, prefix) for passage in passages if passage.at_us is not None}
    rungs = {rung_anchor(number, prefix) for number, _ in circuit.told.rungs}
    told = as_html(
        circuit.told,
        prefix=prefix,
        heading=3,
        rungs=not rungs <= {name for sheet in sheets for name in sheet.names},
        moments=not moments <= cycle.names,
    )
    return _Circuit(sheets, cycle, Markup(told))  # escaped where it was made


def _sheet(drawn: list[tuple[Drawing, Style]], kinds: dict[str, str], prefix: str) -> Inline:
    return inline([(one.svg, style.name) for one, style in drawn], drawn[0][0].shows, kinds, prefix=prefix)


def _single(kinds: dict[str, str], drawing: Drawing) -> Inline:
    return inline([(drawing.svg, "")], drawing.shows, kinds)


@cache
def _template() -> Template:
    return environment("targets.sheet_set").get_template("page.html.j2")
