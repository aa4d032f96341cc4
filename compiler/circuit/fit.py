"""Whether a rung list and a machine fit together: the inputs and loads of the list must be the machine's."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.machine import Contact as Wiring
from compiler.machine import InputKind, Machine
from grammar.diagnostic import Diagnostic
from grammar.rungs.faults import fault, warning
from grammar.rungs.tree import (
    INPUTS,
    LOADS,
    Circuit,
    Contact,
    Device,
    Form,
    Kind,
    Name,
    Network,
    Parallel,
    Rung,
    Series,
    Terminal,
    contacts,
)

__all__ = ["circuit_faults", "circuit_notices", "machine_devices"]


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


def circuit_notices(circuit: Circuit, machine: Machine) -> tuple[Diagnostic, ...]:
    """What is most likely not meant: a normally closed button of the machine that stands where a stop stands, with
    contacts that make, and no contact of it anywhere that breaks."""
    buttons = [i for i in machine.inputs if i.kind is InputKind.PUSHBUTTON]
    closed = {i.name.casefold() for i in buttons if i.contact is Wiring.NORMALLY_CLOSED}
    broken = {
        contact.name.text.casefold()
        for rung in circuit.rungs
        for contact in contacts(rung.network)
        if contact.form is Form.NC
    }
    bare = {
        (contact.span.start, contact.span.end): contact
        for rung in circuit.rungs
        for contact in _as_a_stop(rung)
        if contact.name.text.casefold() in closed - broken
    }
    return tuple(_bare(contact) for contact in bare.values())


# What these terminals feed ends something, so that a contact which makes may well be a press asked for.
_ENDING = frozenset({Terminal.UNLATCH, Terminal.RESET})


def _bare(contact: Contact) -> Diagnostic:
    name, span = contact.name.text, contact.span
    message = f"{name} is normally closed on the machine, and this contact makes only while it is pressed"
    cure = f"for the contact that a stop circuit wants, write {name} NC"
    return warning("RW430", message, span.start, span.end, cure=cure)


def _as_a_stop(rung: Rung) -> Iterator[Contact]:
    """The NO contacts that stand in series with all the rest of a rung, or with the contact it seals itself in by."""
    if all(feed.terminal in _ENDING for feed in rung.feeds):
        return
    fed = {feed.name.text.casefold() for feed in rung.feeds}
    for series in _series_of(rung.network):
        sealed = any(c.name.text.casefold() in fed for part in series.parts for c in contacts(part))
        if series is rung.network or sealed:
            yield from (part for part in series.parts if isinstance(part, Contact) and part.form is Form.NO)


def _series_of(network: Network) -> Iterator[Series]:
    match network:
        case Series(parts=parts):
            yield network
            for part in parts:
                yield from _series_of(part)
        case Parallel(parts=parts):
            for part in parts:
                yield from _series_of(part)
