"""Whether a rung list and a machine fit together: the inputs and loads of the list must be the machine's."""

from __future__ import annotations

from compiler.machine import Machine
from grammar.diagnostic import Diagnostic
from grammar.rungs.faults import fault
from grammar.rungs.tree import INPUTS, LOADS, Circuit, Device, Kind, Name

__all__ = ["circuit_faults", "machine_devices"]


def machine_devices(machine: Machine) -> tuple[Device, ...]:
    """The inputs and loads of a machine as devices that a rung list read against it need not declare."""
    named = [(i.name, str(i.kind)) for i in machine.inputs] + [(load.name, str(load.kind)) for load in machine.loads]
    return tuple(Device(Kind(kind), Name(name), implied=True) for name, kind in named)


def circuit_faults(circuit: Circuit, machine: Machine) -> tuple[Diagnostic, ...]:
    """What a circuit has and the machine does not: an input, a load, or another meaning for a name of the machine."""
    inputs = {i.name.casefold(): str(i.kind) for i in machine.inputs}
    loads = {load.name.casefold(): str(load.kind) for load in machine.loads}
    found = []
    for device in circuit.devices:
        name, kind = device.name, device.kind
        of_kind = inputs if kind in INPUTS else loads if kind in LOADS else {}
        folded = name.text.casefold()
        if folded in of_kind:
            continue
        theirs = (inputs | loads).get(folded)
        if theirs is not None:
            message = f"{name.text} is a {kind} here, a {theirs} on the machine"
            cure = f"write '{theirs} {name.text}', or give the {kind} another name"
            found.append(fault("RW426", message, name.span.start, name.span.end, cure=cure))
        elif kind in INPUTS or kind in LOADS:
            message = f"the machine has no {kind} {name.text}"
            cure = "correct the name, or add the device to the machine"
            found.append(fault("RW425", message, name.span.start, name.span.end, cure=cure))
    return tuple(found)
