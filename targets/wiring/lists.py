"""The lists as rows of text: from-to, terminal strip, contact usage, devices, bill of materials; and as CSV."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from compiler.machine import Machine
from grammar.rungs.tree import INPUTS, LOADS, Device, Kind
from targets.cells import csv_text
from targets.choices import Letters, Standard, Supply
from targets.target import CAUTION
from targets.wiring.bill import bill, set_to
from targets.wiring.colours import colour
from targets.wiring.connections import connections, strip, strip_name
from targets.wiring.designations import designations
from targets.wiring.nets import WiredCircuit

__all__ = ["Sheet", "as_csv", "sheets"]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A list: what it is, a short name for its file, the heads of its columns, and its rows."""

    title: str
    key: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def sheets(
    circuit: WiredCircuit,
    machine: Machine,
    *,
    standard: Standard = Standard.IEC,
    supply: Supply = Supply.DC,
    letters: Letters = Letters.AS_NAMED,
    poles: int = 4,
) -> tuple[Sheet, ...]:
    """Every list of a circuit."""
    names = designations(circuit.circuit.devices, letters)
    return (
        _from_to(circuit, names, standard, supply),
        _strip(circuit, names),
        _usage(circuit, names, poles),
        _devices(circuit, machine, names),
        Sheet(
            "Bill of materials, by rating",
            "parts",
            ("pieces", "what", "which", "note"),
            (*bill(circuit, names, supply, poles), _terminals(circuit)),
        ),
    )


def as_csv(sheet: Sheet) -> str:
    """A list as CSV, its heads in the first record and the caution in the last."""
    return csv_text((sheet.heads, *sheet.rows, (CAUTION, *[""] * (len(sheet.heads) - 1))))


def _from_to(circuit: WiredCircuit, names: dict[str, str], standard: Standard, supply: Supply) -> Sheet:
    rows = tuple(
        (
            str(c.wire),
            names.get(c.here[0], c.here[0]),
            c.here[1],
            names.get(c.there[0], c.there[0]),
            c.there[1],
            colour(c.wire, standard, supply),
        )
        for c in connections(circuit)
    )
    return Sheet("Wiring list", "wires", ("wire", "from", "from terminal", "to", "to terminal", "colour"), rows)


def _strip(circuit: WiredCircuit, names: dict[str, str]) -> Sheet:
    def said(points: Sequence[tuple[str, str]]) -> str:
        return " ".join(f"{names.get(device, device)}:{terminal}" for device, terminal in points)

    rows = tuple(
        (str(t.wire), _pieces(len(t.field)), said(t.panel[:1]), said(t.field), said(t.panel[1:]))
        for t in strip(circuit)
    )
    heads = ("terminal", "pieces", "panel side", "machine side", "on in the panel to")
    return Sheet(f"Terminal strip {strip_name(circuit)}", "strip", heads, rows)


def _pieces(conductors: int) -> str:
    """How many pieces a terminal takes: one a conductor from the machine, as one place holds one conductor unless it
    is made for more (IEC 60204-1:2016 13.1.1, from memory)."""
    return "1" if conductors < 2 else f"{conductors}, bridged"


def _terminals(circuit: WiredCircuit) -> tuple[str, str, str, str]:
    """The row of the bill for the strip."""
    pieces = sum(max(1, len(terminal.field)) for terminal in strip(circuit))
    return str(pieces), "terminal", strip_name(circuit), "those for the control supply are not counted"


def _usage(circuit: WiredCircuit, names: dict[str, str], poles: int) -> Sheet:
    return Sheet(
        "Contacts of relays and timers",
        "contacts",
        ("device", "contact", "terminals", "rung", "wires", "used of poles"),
        tuple(_used(circuit, names, poles)),
    )


def _used(circuit: WiredCircuit, names: dict[str, str], poles: int) -> Iterator[tuple[str, ...]]:
    inside = [d.name.text for d in circuit.circuit.devices if d.kind not in INPUTS | LOADS]
    for name in inside:
        for k, c in enumerate(circuit.contacts_of(name), 1):
            ends = f"{c.terminals[0]}-{c.terminals[1]}"
            of_poles = circuit.device(name).kind in (Kind.RELAY, Kind.LATCHING_RELAY)
            share = f"{k} of {poles}{', too many' * (k > poles)}" if of_poles else str(k)
            yield names[name], str(c.contact.form), ends, str(c.rung), f"{c.left}-{c.right}", share


def _devices(circuit: WiredCircuit, machine: Machine, names: dict[str, str]) -> Sheet:
    rows = tuple(
        (names[d.name.text], d.name.text, str(d.kind), _does(d, circuit, machine)) for d in circuit.circuit.devices
    )
    return Sheet("Devices", "devices", ("designation", "name", "kind", "what it is there for"), rows)


def _does(device: Device, circuit: WiredCircuit, machine: Machine) -> str:
    name = device.name.text
    if device.preset is not None:
        return set_to(device)
    if name in (machine.start, machine.stop):
        return "starts it" if name == machine.start else "stops it"
    for actuator in machine.actuators:
        valve = actuator.valve
        if name in (valve.extend, valve.retract):
            return f"sends {actuator.name} {'out' if name == valve.extend else 'back'}"
        for switch in actuator.limit_switches:
            if switch.name == name:
                return f"{actuator.name} at {switch.at_um / 1000:g} mm"
    fed = circuit.coil_of(name)
    return f"in rung {fed.rung}" if fed is not None else ""
