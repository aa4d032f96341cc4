"""Read a function block or a program, printed or written by hand, from its text alone."""

from __future__ import annotations

from dataclasses import replace

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.program import ProgramLogic, program_logic
from grammar.reading import ReadBack
from grammar.source import Source
from grammar.structured_text import read as read_text
from grammar.structured_text.declared import declared
from targets.controller.names import borne

__all__ = ["read"]


def read(text: str, file: str, machine: Machine) -> Logic:
    """See ``targets.target.Target.read``."""
    source = Source(file, text.replace("\r\n", "\n").replace("\r", "\n"))
    reading = read_text(source)
    if reading.tree is None or not reading.sound:
        raise ReadBack(source, reading.diagnostics)
    names = borne([device.name for device in (*machine.inputs, *machine.loads)], declared(reading.tree))
    match program_logic(reading.tree, machine, names):
        case ProgramLogic() as logic:
            return replace(logic, notices=(*reading.diagnostics, *logic.notices))
        case faults:
            raise ReadBack(source, faults)
