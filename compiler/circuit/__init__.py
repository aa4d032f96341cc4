"""A rung list as a Logic, and what it must have in common with its machine.

Works on the tree of a rung list that is sound in itself; reads no text. Knows of timers only what
``compiler.timers`` says, and nothing of plants or of how fast relays are.
"""

from compiler.circuit.fit import circuit_faults, circuit_notices, machine_devices
from compiler.circuit.logic import CircuitLogic, circuit_logic

__all__ = ["CircuitLogic", "circuit_faults", "circuit_logic", "circuit_notices", "machine_devices"]
