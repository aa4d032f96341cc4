"""A build with its papers: the sheet set, and for every circuit its ladder sheets and lists as files.

They are made after the proof, so that each sheet carries the verdict on the very circuit it shows.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from compiler.understand import Understood
from targets.build import Built, Printed
from targets.choices import Style
from targets.circuit_papers import CircuitPapers, circuit_papers
from targets.sheet_set import sheet_set
from targets.target import Artefact, Options
from targets.wiring.lists import as_csv

__all__ = ["with_papers"]


def with_papers(understood: Understood, built: Built, options: Options) -> Built:
    """A build with its papers: the sheet set first, then those of each circuit."""
    circuits = tuple(circuit_papers(built, understood.machine, options))
    made = [sheet_set(understood, built, circuits, options)]
    for circuit in circuits:
        made += _files(circuit, options.symbols)
    return replace(built, printed=(*built.printed, *map(Printed, made)))


def _files(circuit: CircuitPapers, style: Style) -> Iterator[Artefact]:
    target, stem = circuit.artefact.target, circuit.artefact.file.removesuffix(".rungs")
    drawn = circuit.sheets[style]
    for k, sheet in enumerate(drawn, 1):
        said, end = (f" {k}", f"-{k}") if len(drawn) > 1 else ("", "")
        yield Artefact(target, f"{circuit.name} ladder sheet{said}", f"{stem}{end}.svg", sheet)
    for listed in circuit.lists:
        yield Artefact(target, f"{circuit.name} {listed.title.lower()}", f"{stem}.{listed.key}.csv", as_csv(listed))
