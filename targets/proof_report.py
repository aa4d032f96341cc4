"""Proofs on the screen and as JSON."""

from __future__ import annotations

import json
from collections.abc import Sequence

from compiler.machine import Machine
from compiler.proof.telling import sentence
from compiler.proof.verdict import Outside, Proof, Standing
from compiler.proof.world import Assumed
from compiler.simulation.timeline import timeline
from targets.screen import console, heading, paragraph, write_text
from targets.target import CAUTION

__all__ = ["CLAIM", "STYLES", "outside_line", "proof_json", "proofs_json", "show_proof", "show_table"]

STYLES = {
    Standing.SAME: "green",
    Standing.SAME_ONLY_IF: "yellow",
    Standing.DIFFERS: "bold red",
    Standing.NOT_SETTLED: "bold magenta",
}
CLAIM = (
    "Proved over every run: every stroke time within its limits, every moment of every press, the supply lost and "
    "back at any moment, and a jam of one rod that stays. Assumed: switches work, contacts and scans act at once."
)
_BEYOND = {
    Assumed.CAREFUL: "without a careful operator",
    Assumed.APART: "with START and STOP down together",
    Assumed.EXACT: "with strokes quicker than their greatest time",
    Assumed.NO_JAM: "when a stroke jams",
}


def outside_line(outside: Outside, machine: Machine) -> str:
    """When it differs, and how, in one sentence."""
    when = "" if outside.beyond is None else f"{_BEYOND[outside.beyond]}: "
    if outside.run is None:
        return f"{when}they differ only where two things happen at the very same instant"
    return when + sentence(outside.run, machine)


def show_proof(proof: Proof, machine: Machine, *, draw: bool) -> None:
    """A verdict with its reasons, each drawn if asked for."""
    heading(f"{proof.shadow} beside {proof.driver}")
    paragraph(proof.headline, 2, STYLES[proof.standing])
    if proof.chatters:
        paragraph(f"{proof.driver} never settles in some runs: {', '.join(proof.chatters)}", 4, "bold red")
    for outside in proof.outside:
        paragraph(outside_line(outside, machine), 4)
        if draw and outside.run is not None:
            console().print()
            write_text(timeline(outside.run, machine, width=min(console().width, 80)))
            console().print()


def show_table(proofs: Sequence[Proof]) -> None:
    """Several verdicts, a line each."""
    from rich.table import Table
    from rich.text import Text

    table = Table("", "beside", "verdict", "only if", box=None, pad_edge=False, header_style="bold")
    for proof in proofs:
        verdict = Text(str(proof.standing), style=STYLES[proof.standing])
        table.add_row(proof.shadow, proof.driver, verdict, ", ".join(proof.needs))
    console().print(table)


def proof_json(proof: Proof, machine: Machine) -> dict[str, object]:
    """One verdict as JSON."""
    return {
        "by": "proof",
        "driver": proof.driver,
        "shadow": proof.shadow,
        "standing": str(proof.standing),
        "needs": [str(assumption) for assumption in proof.needs],
        "holds": proof.holds,
        "situations": proof.situations,
        "zones": proof.zones,
        "line": proof.headline,
        "driver never settles": list(proof.chatters),
        "differences": [
            {
                "beyond": None if outside.beyond is None else str(outside.beyond),
                "line": outside_line(outside, machine),
                "run": None if outside.run is None else outside.run.model_dump(mode="json"),
            }
            for outside in proof.outside
        ],
    }


def proofs_json(proofs: Sequence[Proof], machine: Machine) -> str:
    """All verdicts of a command as JSON."""
    report = {"caution": CAUTION, "claim": CLAIM, "verdicts": [proof_json(proof, machine) for proof in proofs]}
    return json.dumps(report, indent=2, ensure_ascii=False)
