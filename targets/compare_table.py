"""All relay arrangements of one sequence side by side: parts, rungs, verdicts and manners."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, dataclass
from string import ascii_lowercase
from typing import TYPE_CHECKING

from compiler.chart_logic import chart_logic
from compiler.circuit import CircuitLogic
from compiler.machine import Machine
from compiler.proof.prove import prove
from compiler.proof.verdict import Proof
from compiler.understand import Understood
from grammar.rungs.tree import Kind, wired
from targets.build import Printed, read_back
from targets.manners import Manners, manners, occasions
from targets.proof_report import STYLES, claim, proof_json
from targets.screen import console, heading, paragraph
from targets.target import CAUTION, Artefact, Options, Refusal, find_targets

if TYPE_CHECKING:
    from rich.table import Table as Grid

__all__ = ["Row", "Table", "show", "table", "table_json"]

_TARGET = "relay"
_COLUMNS = ("relays", "timers", "counters", "contacts")
_WIDTH = 80


@dataclass(frozen=True, slots=True)
class Row:
    """An arrangement that fits. ``poles`` is how many contacts the busiest of its relays has."""

    name: str
    printed: Printed
    parts: dict[str, int]
    poles: int
    rungs: int
    manners: Manners


@dataclass(frozen=True, slots=True)
class Table:
    """Every arrangement that fits, every one that does not, and the manners of the sequence itself."""

    rows: tuple[Row, ...]
    refused: tuple[Refusal, ...]
    written: Manners

    @property
    def proofs(self) -> list[Proof]:
        """The verdicts, in order."""
        return [row.printed.proof for row in self.rows if row.printed.proof is not None]

    @property
    def sound(self) -> bool:
        """Whether every arrangement is the same as the sequence, as far as it says."""
        return all(row.printed.sound(strict=False) for row in self.rows)


def table(understood: Understood, options: Options, told: Callable[[str], None] = lambda _: None) -> Table:
    """Prints every relay arrangement, reads it back, proves it, and tries its manners. Raises ReadBack."""
    chart, machine = understood.chart, understood.machine
    assert chart is not None
    sequence = chart_logic(chart)
    met = occasions(machine, chart)
    relay = next(target for target in find_targets() if target.name == _TARGET)
    made = list(relay.emit(machine, chart, options=options))
    rows = []
    for artefact in made:
        if isinstance(artefact, Artefact) and artefact.implementation:
            told(f"proving {artefact.name}")
            logic = read_back(artefact, machine)
            assert isinstance(logic, CircuitLogic)
            printed = Printed(artefact, proof=prove(sequence, logic, machine))
            rows.append(_row(printed, logic, manners(machine, logic, met)))
    refused = tuple(thing for thing in made if isinstance(thing, Refusal))
    return Table(tuple(rows), refused, manners(machine, sequence, met))


def _row(printed: Printed, logic: CircuitLogic, behaved: Manners) -> Row:
    relays = {d.name.text for d in logic.circuit.devices if d.kind in (Kind.RELAY, Kind.LATCHING_RELAY)}
    poles = Counter(contact.name.text for contact in wired(logic.circuit) if contact.name.text in relays)
    parts = dict(printed.artefact.parts)
    parts["relays"] += parts.pop("latching relays", 0)
    name = printed.artefact.name.removesuffix(" rungs")
    return Row(name, printed, parts, max(poles.values(), default=0), len(logic.circuit.rungs), behaved)


def show(found: Table, title: str) -> None:
    """The tables on the screen, in 80 columns."""
    heading(title)
    _show_parts(found)
    _show_manners(found)
    if found.refused:
        heading("Do not fit")
        reasons: dict[str, list[str]] = {}
        for refusal in found.refused:
            reasons.setdefault(refusal.reason, []).append(refusal.name.removesuffix(" rungs"))
        for reason, names in reasons.items():
            paragraph(f"{', '.join(names)}: {reason}", 2)
    console().print()
    if found.proofs:
        paragraph(claim(found.proofs), 0, "dim")
        console().print()
    paragraph(CAUTION, 0)


def _grid(*columns: str, numbers: tuple[str, ...] = ()) -> Grid:
    from rich.table import Table as Grid

    grid = Grid(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
    for column in columns:
        grid.add_column(column, justify="right" if column in numbers else "left", no_wrap=column in numbers)
    return grid


def _show_parts(found: Table) -> None:
    """What each takes to build, and its verdict; what the verdicts assume stands below, by letter."""
    from rich.text import Text

    assumed = list(dict.fromkeys(need for proof in found.proofs for need in proof.needs))
    letters = dict(zip(assumed, ascii_lowercase, strict=False))
    counted = [column for column in _COLUMNS if column != "counters" or any(column in r.parts for r in found.rows)]
    grid = _grid("arrangement", *counted, "poles", "rungs", "verdict", numbers=(*_COLUMNS, "poles", "rungs"))
    for row in found.rows:
        numbers = [str(row.parts.get(column, 0) or "-") for column in counted]
        proof = row.printed.proof
        verdict = Text("")
        if proof is not None:
            needs = ", ".join(sorted(letters[need] for need in proof.needs))
            verdict = Text(f"{proof.standing} {needs}".rstrip(), style=STYLES[proof.standing])
        grid.add_row(row.name, *numbers, str(row.poles or "-"), str(row.rungs), verdict)
    console().print(grid, width=min(console().width, _WIDTH))
    paragraph("poles: the contacts of the relay that has most, a pole for each", 2, "dim")
    for need, letter in letters.items():
        paragraph(f"{letter}: {need}", 2, "dim")


def _show_manners(found: Table) -> None:
    """What becomes of a held START, of STOP and of a lost supply, the sequence itself first."""
    grid = _grid("", "START held", "STOP in mid-cycle", "supply lost and back")
    for name, behaved in [("as written", found.written), *((row.name, row.manners) for row in found.rows)]:
        grid.add_row(name, behaved.held, behaved.stopped, behaved.supply)
    console().print()
    console().print(grid, width=min(console().width, _WIDTH))


def table_json(found: Table, machine: Machine) -> str:
    """The same as JSON."""
    report = {
        "caution": CAUTION,
        "claim": claim(found.proofs) if found.proofs else "",
        "as written": asdict(found.written),
        "arrangements": [
            {
                "name": row.name,
                "parts": row.parts,
                "poles": row.poles,
                "rungs": row.rungs,
                "manners": asdict(row.manners),
                "verdict": None if row.printed.proof is None else proof_json(row.printed.proof, machine),
            }
            for row in found.rows
        ],
        "do not fit": [{"name": refusal.name, "reason": refusal.reason} for refusal in found.refused],
    }
    return json.dumps(report, indent=2, ensure_ascii=False)
