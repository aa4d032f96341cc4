"""The Logic of a printed rung list, from its text alone."""

from __future__ import annotations

from compiler.circuit import CircuitLogic, circuit_faults, circuit_logic, circuit_notices, machine_devices
from compiler.machine import Machine
from grammar.reading import ReadBack
from grammar.rungs import read as read_rungs
from grammar.source import Source

__all__ = ["read"]


def read(text: str, file: str, machine: Machine) -> CircuitLogic:
    """The Logic a rung list makes with a machine. Raises ReadBack, with every fault, when it can't be read."""
    source = Source(file, text)
    reading = read_rungs(source, machine_devices(machine))
    missing = circuit_faults(reading.tree, machine)
    if missing or not reading.sound:
        raise ReadBack(source, (*reading.diagnostics, *missing))
    _, colon, arrangement = reading.tree.title.rpartition(": ")
    logic = circuit_logic(reading.tree, machine, name=f"the {arrangement} rungs" if colon else "the rung list")
    logic.notices = (*reading.diagnostics, *circuit_notices(reading.tree, machine))
    return logic
