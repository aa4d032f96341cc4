"""The sheet set as a PDF, for paper: tagged (PDF/UA-1, ISO 14289-1), with bookmarks, page numbers, and the caution on
every page.

It is set by Typst from data alone: no name of a machine ever becomes markup. Fonts come with the packages that the
extra ``pdf`` installs, so that the same build gives the same bytes on every machine that they suffice for.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from importlib.resources import files
from importlib.util import find_spec
from itertools import groupby
from math import ceil
from textwrap import shorten
from typing import Literal, TypedDict

from targets.anchors import moment_anchor, rung_anchor
from targets.choices import Paper, Style
from targets.drawing.figure import text_width
from targets.sheet_set.fold import Frame, Part, fold
from targets.sheet_set.view import Circuit, Drawing, SheetSet
from targets.walkthrough.pages import pieces
from targets.walkthrough.told import Told

__all__ = ["NoPrinter", "as_pdf", "need_printer"]

_SIZES = {Paper.A4: (210.0, 297.0), Paper.LETTER: (215.9, 279.4)}  # mm: ISO 216 and ANSI A, upright
_SIDES = 24.0  # mm: the margins of both sides
_ENDS, _ENDS_ACROSS = 33.0, 27.0  # mm: those at head and foot together, upright and on the long side
_CAPTION_PT = 8.0
_LINE, _GAP = 11.0, 6.0  # points: a line of a caption, and what is free round it
_HEADINGS = {1: 30.0, 2: 34.0}  # points that a heading takes, by its level
_PACKAGES = ("typst", "fontpkg_arimo")
_SHORT = 80  # letters of a title at the head of a page
_LONG_CELL = 24  # letters: a column with a longer cell shares what room the others leave
_RUNG = re.compile(r"rung-(\d+)(?:-line-\d+)?")
_LONG_WORD = re.compile(r"[^\s\u200b]{25,}")


_Heading = tuple[int, str]


class _Part(TypedDict):
    """A page of a drawing, as the layout takes it; ``ids`` are what links lead to."""

    svg: str
    caption: str
    width: float
    height: float
    ids: list[str]


class _Item(TypedDict):
    """A drawing, as the layout takes it, under headings, each with its level; or a line that ``says`` it."""

    headings: Sequence[_Heading]
    says: str
    parts: list[_Part]


_Laid = tuple[bool, _Item]  # and whether it lies on the long side of the paper


class _Run(TypedDict):
    """What follows one another on pages that lie one way."""

    across: bool
    drawn: list[_Item]


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
        "program": _set_as_is(sheets.program),
        "told": _set_as_is("\n".join(sheets.told)),
        "verdicts": [[_words(v.name), v.standing, v.verdict, v.parts] for v in sheets.verdicts],
        "claim": sheets.claim,
        "proved": [("" if good else "Mind: ") + _words(line) for line, good in sheets.proved],
        "warnings": [_words(line) for line in sheets.warnings],
        "advice": [_words(line) for line in sheets.advice],
        "refused": [[_words(name), _words(reason)] for name, reason in sheets.refused],
        "symbols": f"{sheets.style}",
        "charts": _runs(_charts(sheets, paper)),
        "circuits": [_circuit(circuit, sheets, paper) for circuit in sheets.circuits],
        "differences": _runs(_differences(sheets, paper)),
        "texts": [{"name": text.name, "text": _set_as_is(text.text)} for text in sheets.texts],
    }


def _circuit(circuit: Circuit, sheets: SheetSet, paper: Paper) -> dict[str, object]:
    prefix = f"{circuit.key}-"
    drawn = list(_circuit_drawings(circuit, sheets.style, paper))
    known = {name for _, item in drawn for part in item["parts"] for name in part["ids"]}
    return {
        "drawn": _runs(drawn),
        "verdict": _words(circuit.verdict),
        "called": _words(circuit.called),
        "told": list(_sections(circuit.told, prefix, known)),
        "rungs": _set_as_is(circuit.rungs),
        "lists": [
            {
                "title": listed.title,
                "note": f"{circuit.alike} {sheets.colours}" if listed.key == "wires" else "",
                "heads": list(listed.heads),
                "shares": [_share(row[k] for row in listed.rows) for k in range(len(listed.heads))],
                "rows": [[_words(str(cell)) for cell in row] for row in listed.rows],
            }
            for listed in circuit.lists
        ],
    }


def _share(cells: Iterable[object]) -> int:
    """How many shares a column gets of the room that narrow ones leave; none if it is narrow itself."""
    longest = max((len(str(cell)) for cell in cells), default=0)
    return 0 if longest <= _LONG_CELL else min(3, ceil(longest / 40))


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


# --- drawings ----------------------------------------------------------------------------------------------------


def _charts(sheets: SheetSet, paper: Paper) -> Iterator[_Laid]:
    for heading, drawings in (("GRAFCET (IEC 60848)", sheets.drawings), ("A cycle in charts", sheets.motion)):
        for k, drawing in enumerate(drawings):
            yield _laid(drawing, _frames(paper), headings=[] if k else [(1, heading)])


def _circuit_drawings(circuit: Circuit, style: Style, paper: Paper) -> Iterator[_Laid]:
    """Ladder sheets lie on their long side, as their text would be too small upright; so the text after them does."""
    prefix, (upright, across) = f"{circuit.key}-", _frames(paper)
    for k, drawing in enumerate(circuit.sheets[style]):
        yield _laid(drawing, (across,), prefix=prefix, headings=[] if k else [(1, circuit.name)])
    yield _laid(circuit.cycle, (across, upright), prefix=prefix, headings=[(2, "A cycle in a timing chart")])


def _differences(sheets: SheetSet, paper: Paper) -> Iterator[_Laid]:
    """Each under what it is a difference of. One that no run shows is a line of text."""
    above, lies_across = [(1, "The shortest runs that differ")], False
    for verdict in sheets.verdicts:
        for k, one in enumerate(verdict.outside):
            headings = above if k else [*above, (2, verdict.name)]
            above = []
            if one.drawing is None:
                yield lies_across, {"headings": headings, "says": _words(one.line), "parts": []}
            else:
                laid = _laid(replace(one.drawing, shows=one.line), _frames(paper)[::-1], headings=headings)
                lies_across = laid[0]
                yield laid


def _runs(laid: Iterable[_Laid]) -> list[_Run]:
    """What lies one way together, in its order."""
    return [
        {"across": across, "drawn": [item for _, item in some]} for across, some in groupby(laid, lambda one: one[0])
    ]


def _laid(drawing: Drawing, frames: Iterable[Frame], *, headings: Sequence[_Heading], prefix: str = "") -> _Laid:
    """A drawing cut to the paper, and whether that lies on its long side."""
    caption = drawing.shows[:1].upper() + drawing.shows[1:]
    folded = fold(drawing.svg, *(_below(frame, caption, headings) for frame in frames))
    parts: list[_Part] = [
        {
            "svg": part.svg,
            "caption": _words(caption + _which(part, k, len(folded.parts))),
            "width": part.width,
            "height": part.height,
            "ids": [prefix + name for name in part.ids] if prefix else [],
        }
        for k, part in enumerate(folded.parts, 1)
    ]
    return folded.across, {"headings": headings, "says": "", "parts": parts}


def _which(part: Part, k: int, count: int) -> str:
    """Which part of a drawing it is, and of a ladder sheet which rungs begin on it."""
    if count == 1:
        return ""
    found = (_RUNG.fullmatch(name) for name in part.ids)
    rungs = sorted({int(one[1]) for one in found if one})
    span = (
        "".join(f", rung {number}" for number in rungs[:1])
        if len(rungs) < 2
        else f", rungs {rungs[0]} to {rungs[-1]}"
    )
    return f" (part {k} of {count}{span})"


def _below(frame: Frame, caption: str, headings: Sequence[_Heading]) -> Frame:
    """The room that is left on a page below a caption, and on the first below headings too."""
    lines = ceil(1.1 * text_width(f"{caption} (part 1 of 2, rungs 10 to 20)", size=_CAPTION_PT) / frame.width)
    left = frame.height - lines * _LINE - _GAP
    return Frame(frame.width, left, left - sum(_HEADINGS[level] for level, _ in headings), frame.across)


def _frames(paper: Paper) -> tuple[Frame, Frame]:
    """The room on a page upright and on its long side."""
    wide, high = _SIZES[paper]
    return _frame(wide - _SIDES, high - _ENDS, across=False), _frame(high - _SIDES, wide - _ENDS_ACROSS, across=True)


def _frame(wide_mm: float, high_mm: float, *, across: bool) -> Frame:
    wide, high = wide_mm * 72 / 25.4, high_mm * 72 / 25.4
    return Frame(wide, high, high, across)


def _words(text: str) -> str:
    """A text whose overlong words may be broken: by spaces of no width."""
    return _LONG_WORD.sub(lambda found: re.sub(r"(.{12})", "\\1\u200b", found[0]), text)


def _set_as_is(text: str) -> str:
    """The same for what is set letter by letter, where only words about as long as half a line are."""
    return re.sub(r"\S{50,}", lambda found: re.sub(r"(.{40})", "\\1\u200b", found[0]), text.rstrip("\n"))
