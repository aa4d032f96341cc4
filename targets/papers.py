"""The papers of a build: ladder sheets and wiring lists of every circuit, drawn from its text as read back.

They are made after the proof, so that each sheet carries the verdict on the very circuit it shows.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from compiler.machine import Machine
from compiler.understand import Understood
from grammar.rungs import read
from grammar.source import Source
from targets.build import Built, Printed
from targets.ladder_sheet import Heading, held_switches, ladder_sheets
from targets.target import Artefact, Options
from targets.wiring.lists import as_csv, sheets
from targets.wiring.nets import wired

__all__ = ["with_papers"]


def with_papers(understood: Understood, built: Built, options: Options) -> Built:
    """A build with its papers: the sheet set first, then those of each circuit."""
    from targets.sheet_set import sheet_set

    made = [sheet_set(understood, built, options)]
    for printed in built.printed:
        if printed.artefact.file.endswith(".rungs"):
            made += _of_circuit(printed.artefact, printed.headline, understood.machine, options)
    return replace(built, printed=(*built.printed, *map(Printed, made)))


def _of_circuit(artefact: Artefact, verdict: str, machine: Machine, options: Options) -> Iterator[Artefact]:
    reading = read(Source(artefact.file, artefact.text))
    if not reading.sound:
        return
    stem = artefact.file.removesuffix(".rungs")
    name = artefact.name.removesuffix(" rungs")
    circuit = wired(reading.tree)
    drawn = ladder_sheets(
        circuit, Heading(machine.title, name, verdict), style=options.symbols, held=held_switches(machine)
    )
    for k, sheet in enumerate(drawn, 1):
        said, end = (f" {k}", f"-{k}") if len(drawn) > 1 else ("", "")
        yield Artefact(artefact.target, f"{name} ladder sheet{said}", f"{stem}{end}.svg", sheet)
    for listed in sheets(
        circuit,
        machine,
        standard=options.colours,
        supply=options.supply,
        letters=options.letters,
        poles=options.poles or 4,
    ):
        yield Artefact(artefact.target, f"{name} {listed.title.lower()}", f"{stem}.{listed.key}.csv", as_csv(listed))
