"""Read a sequential function chart, printed or written by hand, from its text alone."""

from __future__ import annotations

from dataclasses import replace

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.program import ProgramLogic, program_logic
from compiler.program.sfc import program_of
from grammar.diagnostic import Severity
from grammar.reading import ReadBack
from grammar.sfc import read as read_text
from grammar.source import Source, Span
from grammar.structured_text.check import check
from grammar.structured_text.declared import declared
from targets.controller.names import borne

__all__ = ["read"]


def read(text: str, file: str, machine: Machine) -> Logic:
    """See ``targets.target.Target.read``."""
    source = Source(file, text.replace("\r\n", "\n").replace("\r", "\n"))
    reading = read_text(source)
    if reading.tree is None:
        raise ReadBack(source, reading.diagnostics)
    unit = program_of(reading.tree)
    # A condition or a time that is read in several places is told once.
    said = dict.fromkeys([*reading.diagnostics, *check(unit, reading.tree.lost)])
    told = tuple(sorted(said, key=lambda d: d.span or Span(0, 0)))
    if any(one.severity is Severity.FAULT for one in told):
        raise ReadBack(source, told)
    names = borne([device.name for device in (*machine.inputs, *machine.loads)], declared(unit))
    match program_logic(unit, machine, names):
        case ProgramLogic() as logic:
            return replace(logic, notices=(*told, *logic.notices), name="the function chart")
        case faults:
            raise ReadBack(source, faults)
