"""The papers of a build: ladder sheets and wiring lists of every circuit, drawn from its text as read back.

They are made after the proof, so that each sheet carries the verdict on the very circuit it shows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from compiler.machine import Machine
from grammar.rungs import read
from grammar.source import Source
from targets.ladder_sheet import Heading, ladder_sheets
from targets.target import Artefact, Options
from targets.wiring.lists import as_csv, sheets
from targets.wiring.nets import wired

__all__ = ["held_switches", "papers"]


def papers(judged: Sequence[tuple[Artefact, str]], machine: Machine, options: Options) -> Iterator[Artefact]:
    """The papers of the circuits among some artefacts, each given with the verdict on it in a line."""
    for artefact, verdict in judged:
        if artefact.file.endswith(".rungs"):
            yield from _of_circuit(artefact, verdict, machine, options)


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


def held_switches(machine: Machine) -> frozenset[str]:
    """The limit switches that the machine rests on, letter case folded: their contacts are drawn operated."""
    return frozenset(
        switch.name.casefold()
        for actuator in machine.actuators
        for switch in actuator.limit_switches
        if switch.toward is actuator.rest  # made from its place on to that end
    )
