"""The sheet set as a PDF, for paper: tagged (PDF/UA-1, ISO 14289-1), with bookmarks, page numbers, and the caution on
every page.

It is set by Typst from data alone: no name of a machine ever becomes markup. Fonts come with the packages that the
extra ``pdf`` installs, so that the same build gives the same bytes on every machine that they suffice for.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from importlib.resources import files
from importlib.util import find_spec
from textwrap import shorten
from typing import Literal, TypedDict

from targets.anchors import moment_anchor, rung_anchor
from targets.choices import Paper
from targets.sheet_set.fold import Frame, fold
from targets.sheet_set.view import Circuit, Difference, Drawing, SheetSet
from targets.walkthrough.pages import pieces
from targets.walkthrough.told import Told

__all__ = ["NoPrinter", "as_pdf", "need_printer"]

_SIZES = {Paper.A4: (210.0, 297.0), Paper.LETTER: (215.9, 279.4)}  # mm: ISO 216 and ANSI A, upright
_SIDES, _ENDS = 24.0, 33.0  # mm: the margins of both sides, and those at head and foot together
_HEADING = 14.0  # mm: what stands over a drawing on its page
_PACKAGES = ("typst", "fontpkg_arimo")
_SHORT = 80  # letters of a title at the head of a page
_LONG_WORD = re.compile(r"[^\s\u200b]{25,}")


class _Part(TypedDict):
    """A page of a drawing, as the layout takes it; ``ids`` are what links lead to."""

    svg: str
    width: float
    height: float
    ids: list[str]


class _Laid(TypedDict):
    """A drawing, as the layout takes it."""

    shows: str
    across: bool
    parts: list[_Part]


class NoPrinter(Exception):
    """What makes PDFs is not installed. Its text says what to install."""


def need_printer() -> None:
    """Raises NoPrinter where a package is missing, before anything long is begun."""
    missing = [name.replace("_", "-") for name in _PACKAGES if find_spec(name) is None]
    if missing:
        raise NoPrinter(f"a PDF needs {' and '.join(missing)}; install with:  pip install {' '.join(missing)}")


def as_pdf(sheets: SheetSet, paper: Paper) -> bytes:
    """The PDF of a sheet set. Raises NoPrinter.

    A letter that its own fonts lack, such as a Chinese one, is looked for among those of the computer at hand; the
    standard is then not claimed, for even there not every letter may be found.
    """
    need_printer()
    import typst  # heavy, and wanted only here

    data = json.dumps(_data(sheets, paper))
    try:
        return _typeset(data, "ua-1")
    except typst.TypstError:
        return _typeset(data, None, more_fonts=True)


def _typeset(data: str, standard: Literal["ua-1"] | None, *, more_fonts: bool = False) -> bytes:
    import fontpkg_arimo
    import typst

    compiler = typst.Compiler(
        (files("targets.sheet_set") / "templates" / "paper.typ").read_bytes(),
        font_paths=typst.Fonts(include_system_fonts=more_fonts, font_paths=[str(fontpkg_arimo.ROOT / "files")]),
        sys_inputs={"data": data},
    )
    made = compiler.compile(format="pdf", timestamp=0, pdf_standards=standard)
    assert isinstance(made, bytes)
    return made


def _data(sheets: SheetSet, paper: Paper) -> dict[str, object]:
    """What the layout is given: texts, and drawings cut to the paper."""
    return {
        "paper": {Paper.A4: "a4", Paper.LETTER: "us-letter"}[paper],
        "title": sheets.title,
        "shown": _words(sheets.title),
        "short": shorten(sheets.title, _SHORT, placeholder=" …") if len(sheets.title) > _SHORT else sheets.title,
        "caution": sheets.caution,
        "program": sheets.program,
        "told": "\n".join(sheets.told),
        "verdicts": [[_words(v.name), v.standing, v.verdict, v.parts] for v in sheets.verdicts],
        "claim": sheets.claim,
        "proved": [("" if good else "Mind: ") + _words(line) for line, good in sheets.proved],
        "warnings": [_words(line) for line in sheets.warnings],
        "refused": [[_words(name), _words(reason)] for name, reason in sheets.refused],
        "grafcet": [_drawing(drawing, paper) for drawing in sheets.drawings],
        "motion": [_drawing(drawing, paper) for drawing in sheets.motion],
        "circuits": [_circuit(circuit, sheets, paper) for circuit in sheets.circuits],
        "differences": [
            {"name": v.name, "outside": [_difference(one, paper) for one in v.outside]}
            for v in sheets.verdicts
            if v.outside
        ],
        "texts": [{"name": text.name, "text": text.text} for text in sheets.texts],
    }


def _difference(difference: Difference, paper: Paper) -> dict[str, object]:
    drawn = difference.drawing and replace(difference.drawing, shows=difference.line)
    return {"line": _words(difference.line), "drawing": drawn and _drawing(drawn, paper)}


def _circuit(circuit: Circuit, sheets: SheetSet, paper: Paper) -> dict[str, object]:
    prefix = f"{circuit.key}-"
    drawn = [_drawing(drawing, paper, prefix) for drawing in circuit.sheets[sheets.style]]
    cycle = _drawing(circuit.cycle, paper, prefix)
    known = {name for one in (*drawn, cycle) for part in one["parts"] for name in part["ids"]}
    return {
        "name": circuit.name,
        "verdict": _words(circuit.verdict),
        "called": _words(circuit.called),
        "sheets": drawn,
        "told": list(_sections(circuit.told, prefix, known)),
        "cycle": cycle,
        "rungs": circuit.rungs,
        "lists": [
            {
                "title": listed.title,
                "note": f"{circuit.alike} {sheets.colours}" if listed.key == "wires" else "",
                "heads": list(listed.heads),
                "rows": [[_words(str(cell)) for cell in row] for row in listed.rows],
            }
            for listed in circuit.lists
        ],
    }


def _sections(told: Told, prefix: str, known: set[str]) -> Iterator[dict[str, object]]:
    """What is told, its moments and rungs each with the name of the page that shows them."""
    for section in told.sections:
        passages = [
            {
                "heading": _words(p.heading),
                "timed": p.in_margin,
                "moment": "" if p.moment_us is None else _known(moment_anchor(p.moment_us, prefix), known),
                "sentences": [
                    [[_words(text), _known(rung_anchor(number, prefix), known)] for text, number in pieces(sentence)]
                    for sentence in p.sentences
                ],
            }
            for p in section.passages
        ]
        yield {"title": section.title, "opening": _words(section.opening), "passages": passages}


def _known(name: str, known: set[str]) -> str:
    return name if name in known else ""


def _drawing(drawing: Drawing, paper: Paper, prefix: str = "") -> _Laid:
    folded = fold(drawing.svg, *_frames(paper))
    shows = drawing.shows[:1].upper() + drawing.shows[1:]
    parts: list[_Part] = [
        {
            "svg": part.svg,
            "width": part.width,
            "height": part.height,
            "ids": [prefix + name for name in part.ids] if prefix else [],
        }
        for part in folded.parts
    ]
    return {"shows": shows, "across": folded.across, "parts": parts}


def _frames(paper: Paper) -> tuple[Frame, Frame]:
    """The room for a drawing on a page upright and on its long side."""
    wide, high = _SIZES[paper]
    return _frame(wide, high), _frame(high, wide)


def _frame(wide_mm: float, high_mm: float) -> Frame:
    return Frame((wide_mm - _SIDES) * 72 / 25.4, (high_mm - _ENDS - _HEADING) * 72 / 25.4)


def _words(text: str) -> str:
    """A text whose overlong words may be broken: by spaces of no width."""
    return _LONG_WORD.sub(lambda found: re.sub(r"(.{12})", "\\1\u200b", found[0]), text)
