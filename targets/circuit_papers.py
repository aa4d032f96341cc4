"""The papers of one circuit, made once from its text as read back: ladder sheets in either style, and its lists."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from hashlib import sha256

from compiler.chart import Chart
from compiler.machine import Machine
from grammar.rungs import read
from grammar.source import Source
from targets.build import Built
from targets.choices import Style
from targets.ladder_sheet import Heading, held_switches, ladder_sheets
from targets.target import Artefact, Options
from targets.wiring.alike import lists_unlike
from targets.wiring.designations import called, designated, designations
from targets.wiring.lists import Sheet, sheets
from targets.wiring.nets import wired
from targets.wiring.purposes import asked_of

__all__ = ["CircuitPapers", "circuit_papers"]

_POLES = 4  # of a relay, where nothing is said: the usual plug-in relay (common practice)


@dataclass(frozen=True, slots=True)
class CircuitPapers:
    """``sheets`` are SVG texts by style of symbols; ``verdict`` is what was found of the circuit, in a line.
    ``unlike`` is where the circuit made again from its wiring list and device list alone is another
    one: nowhere, or a fault. ``called`` says by what other letters they call the devices, if by any.
    """

    artefact: Artefact
    name: str
    verdict: str
    sheets: dict[Style, list[str]]
    lists: tuple[Sheet, ...]
    unlike: tuple[str, ...]
    called: str


def circuit_papers(
    built: Built, machine: Machine, options: Options, *, chart: Chart | None = None
) -> Iterator[CircuitPapers]:
    """The papers of every circuit of a build that can be read back. The ``chart`` tells what inputs are there for."""
    for printed in built.printed:
        artefact = printed.artefact
        reading = read(Source(artefact.file, artefact.text)) if artefact.file.endswith(".rungs") else None
        if reading is None or not reading.sound:
            continue
        circuit = wired(reading.tree)
        name = artefact.name.removesuffix(" rungs")
        heading = Heading(machine.title or "Sequence", name, printed.headline, _mark(artefact.text))
        lists = sheets(
            circuit,
            machine,
            standard=options.colours,
            supply=options.supply,
            letters=options.letters,
            poles=options.poles or _POLES,
            asked=asked_of(chart) if chart is not None else None,
        )
        names = designations(reading.tree.devices, options.letters)
        told = called(names)
        drawing = designated(reading.tree, names)
        shown = wired(replace(drawing, notes=(*drawing.notes, "", told)) if told else drawing)
        held = frozenset(names.get(one, one) for one in held_switches(machine))
        drawn = {style: ladder_sheets(shown, heading, style=style, held=held) for style in Style}
        yield CircuitPapers(artefact, name, printed.headline, drawn, lists, lists_unlike(reading.tree, lists), told)


def _mark(text: str) -> str:
    """A short mark of a rung list: two prints with the same one show the same rungs."""
    found = sha256(text.encode()).hexdigest()
    return f"{found[:4]} {found[4:8]}"
