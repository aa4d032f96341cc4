"""A build with its papers: the sheet set, for every circuit its ladder sheets, lists and walk-through as files,
charts of a cycle, and a drawing of every difference that was found.

They are made after the proof, so that each sheet carries the verdict on the very circuit it shows.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from html import unescape
from pathlib import Path

from compiler.understand import Understood
from targets.build import Built, Printed, Rewired
from targets.choices import Paper, Style
from targets.circuit_papers import CircuitPapers, circuit_papers
from targets.difference_papers import difference_artefacts
from targets.sheet_set import SheetSet, as_page, as_pdf, sheet_set
from targets.slug import slug
from targets.target import Artefact, Options
from targets.walkthrough import as_markdown
from targets.wiring.lists import as_csv

__all__ = ["sheet_set_name", "with_papers"]

_INDEX = "index"


def with_papers(
    understood: Understood, built: Built, options: Options, *, name: str = _INDEX, pdf: Paper | None = None
) -> Built:
    """A build with its papers: the sheet set first, as a page of that ``name`` and where asked for as a ``pdf``, then
    those of each circuit. Raises NoPrinter where a PDF cannot be made."""
    circuits = tuple(circuit_papers(built, understood.machine, options, chart=understood.chart))
    sheets = sheet_set(understood, built, circuits, options)
    made = [Artefact("sheet-set", "sheet set (HTML)", f"{name}.html", as_page(sheets))]
    if pdf is not None:
        made.append(Artefact("sheet-set", "sheet set (PDF)", f"{name}.pdf", "", data=as_pdf(sheets, pdf)))
    for circuit in circuits:
        made += _files(circuit, options.symbols)
    made += _cycle_files(sheets, circuits)
    made += difference_artefacts(understood, built)
    rewired = tuple(Rewired(circuit.name, circuit.unlike) for circuit in circuits)
    return replace(built, printed=(*built.printed, *map(Printed, made)), rewired=rewired)


def sheet_set_name(folder: Path, title: str) -> str:
    """What the sheet set of a machine is called in a folder: ``index``, unless that is the page of something else
    there, which stays what it is."""
    with suppress(OSError), (folder / f"{_INDEX}.html").open(encoding="utf-8", errors="replace") as page:
        found = re.search("<title>(.*?)</title>", page.read(4096), re.DOTALL)
        if found is None or unescape(found[1]) != f"{title or 'Sequence'}: sheet set":
            own = slug(title)
            return own if own != _INDEX else f"{own}-sheet-set"
    return _INDEX


def _cycle_files(sheets: SheetSet, circuits: tuple[CircuitPapers, ...]) -> Iterator[Artefact]:
    """A cycle in charts, and told for each circuit."""
    for chart in sheets.motion:
        name = f"{chart.suffix.replace('-', ' ')} chart"
        yield Artefact("sheet-set", name, f"{slug(sheets.title)}.{chart.suffix}.svg", chart.svg)
    for circuit, said in zip(circuits, sheets.circuits, strict=True):
        target, stem = circuit.artefact.target, circuit.artefact.file.removesuffix(".rungs")
        timing = f"{stem}.{said.cycle.suffix}.svg"
        yield Artefact(target, f"{circuit.name} timing chart", timing, said.cycle.svg)
        told = as_markdown(said.told, chart=timing, note=said.called)
        yield Artefact(target, f"{circuit.name} walk-through", f"{stem}.walk-through.md", told)


def _files(circuit: CircuitPapers, style: Style) -> Iterator[Artefact]:
    target, stem = circuit.artefact.target, circuit.artefact.file.removesuffix(".rungs")
    drawn = circuit.sheets[style]
    for k, sheet in enumerate(drawn, 1):
        said, end = (f" {k}", f"-{k}") if len(drawn) > 1 else ("", "")
        yield Artefact(target, f"{circuit.name} ladder sheet{said}", f"{stem}{end}.svg", sheet)
    for listed in circuit.lists:
        yield Artefact(target, f"{circuit.name} {listed.title.lower()}", f"{stem}.{listed.key}.csv", as_csv(listed))
