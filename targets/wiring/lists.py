"""The lists as rows of text: from-to, terminal strip, contact usage, devices, bill of materials; and as CSV."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from compiler.machine import Machine
from grammar.rungs.tree import INPUTS, LOADS, Kind
from targets.cells import csv_text
from targets.choices import Letters, Standard, Supply
from targets.target import CAUTION
from targets.wiring.bill import bill, set_to
from targets.wiring.colours import colour, colour_rule
from targets.wiring.connections import connections, strip, strip_name
from targets.wiring.designations import called_in, designations
from targets.wiring.nets import WiredCircuit, WiredCoil, WiredContact
from targets.wiring.purposes import Asked, brought_in, purpose

__all__ = ["Sheet", "as_csv", "sheets"]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A list: what it is, a short name for its file, the heads of its columns, its rows, and what a file that holds
    nothing else has to say of them."""

    title: str
    key: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


def sheets(
    circuit: WiredCircuit,
    machine: Machine,
    *,
    standard: Standard = Standard.IEC,
    supply: Supply = Supply.DC,
    letters: Letters = Letters.AS_NAMED,
    poles: int = 4,
    asked: Asked | None = None,
) -> tuple[Sheet, ...]:
    """Every list of a circuit. ``asked`` is what the sequence asks of inputs, where there is one."""
    names = designations(circuit.circuit.devices, letters)
    return (
        _from_to(circuit, names, standard, supply),
        _strip(circuit, names),
        _usage(circuit, names, poles),
        _devices(circuit, machine, names, asked or {}),
        Sheet(
            "Bill of materials, by rating",
            "parts",
            ("pieces", "what", "which", "note"),
            (*bill(circuit, machine, names, supply, poles), _terminals(circuit)),
        ),
    )


def as_csv(sheet: Sheet) -> str:
    """A list as CSV: its heads in the first record, in the last the caution, before it its note."""
    blank = [""] * (len(sheet.heads) - 1)
    said = [(text, *blank) for text in (sheet.note, CAUTION) if text]
    return csv_text((sheet.heads, *sheet.rows, *said))


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
    heads = ("wire", "from", "from terminal", "to", "to terminal", "colour")
    return Sheet("Wiring list", "wires", heads, rows, colour_rule(standard, supply))


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


def _devices(circuit: WiredCircuit, machine: Machine, names: dict[str, str], asked: Asked) -> Sheet:
    rungs: dict[str, list[int]] = {}
    both: tuple[WiredContact | WiredCoil, ...] = (*circuit.contacts, *circuit.coils)
    for one in sorted(both, key=lambda one: one.rung):
        rungs.setdefault(one.device.casefold(), []).append(one.rung)
    said, fed_in = called_in(names), brought_in(circuit.circuit)
    rows = tuple(
        (
            names[d.name.text],
            d.name.text,
            str(d.kind),
            set_to(d),
            said(purpose(d, fed_in.get(d.name.text.casefold()), machine, asked)),
            " ".join(map(str, dict.fromkeys(rungs.get(d.name.text.casefold(), ())))),
        )
        for d in circuit.circuit.devices
    )
    heads = ("designation", "name", "kind", "set to", "what it is there for", "in rungs")
    return Sheet("Devices", "devices", heads, rows)
