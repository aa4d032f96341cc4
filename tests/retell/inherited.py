"""Circuits and programs found on machines, with what they must be told as. All invented; each file says what it does.

What is expected was worked out by reading the rungs, not by running the teller.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.understand import understand
from grammar.source import Source
from targets import relay, structured_text

__all__ = ["INHERITED", "Inherited", "inherited"]

INHERITED = sorted((Path(__file__).parent / "inherited").glob("*.txt"))


@dataclass(frozen=True)
class Inherited:
    """An implementation and its machine; the cycle, home and rules it must be told as; the standing; the notes."""

    logic: Logic
    machine: Machine
    told: str
    verdict: str
    notes: tuple[str, ...]


def inherited(path: Path) -> Inherited:
    """Read a fixture: parts that begin with ``---- machine`` and so on, after a line that says what it is."""
    _, *parts = path.read_text(encoding="utf-8").split("---- ")
    named = {part.split("\n", 1)[0]: part.split("\n", 1)[1].strip() for part in parts}
    machine = understand(Source(path.name, named["machine"] + "\n")).machine
    if "circuit" in named:
        logic: Logic = relay.TARGET.read(named["circuit"] + "\n", path.name, machine)
    else:
        logic = structured_text.TARGET.read(named["program"] + "\n", path.name, machine)
    notes = tuple(note for note in named["notes"].split("\n") if note)
    return Inherited(logic, machine, named["told"], named["verdict"], notes)
