"""The lists as rows of text: from-to, terminal strip, contact usage, devices, bill of materials; and as CSV."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from compiler.machine import Machine
from grammar.rungs.tree import INPUTS, LOADS, Device, Form, Kind
from targets.cells import csv_text
from targets.choices import Letters, Standard, Supply
from targets.target import CAUTION
from targets.wiring.colours import colour
from targets.wiring.connections import connections, strip, strip_name
from targets.wiring.designations import designations
from targets.wiring.nets import WiredCircuit

__all__ = ["Sheet", "as_csv", "sheets"]

_MOST_BLOCKS = 4


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
        _bill(circuit, names, supply, poles),
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
    return Sheet("Wiring list", "wires", ("wire", "from", "terminal", "to", "terminal", "colour"), rows)


def _strip(circuit: WiredCircuit, names: dict[str, str]) -> Sheet:
    def said(points: Sequence[tuple[str, str]]) -> str:
        return " ".join(f"{names.get(device, device)}:{terminal}" for device, terminal in points)

    rows = tuple((str(t.wire), said(t.panel), said(t.field)) for t in strip(circuit))
    return Sheet(f"Terminal strip {strip_name(circuit)}", "strip", ("terminal", "panel side", "machine side"), rows)


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
            share = f"{k} of {poles}" if circuit.device(name).kind is Kind.RELAY else str(k)
            yield names[name], str(c.contact.form), ends, str(c.rung), f"{c.left}-{c.right}", share


def _devices(circuit: WiredCircuit, machine: Machine, names: dict[str, str]) -> Sheet:
    rows = tuple((names[d.name.text], d.name.text, str(d.kind), _does(d, machine)) for d in circuit.circuit.devices)
    return Sheet("Devices", "devices", ("designation", "name", "kind", "what it is there for"), rows)


def _does(device: Device, machine: Machine) -> str:
    name = device.name.text
    if device.preset is not None:
        return f"{device.function or 'preset'} {device.preset.number} {device.preset.unit}".strip()
    for actuator in machine.actuators:
        valve = actuator.valve
        if name in (valve.extend, valve.retract):
            return f"sends {actuator.name} {'out' if name == valve.extend else 'back'}"
        for switch in actuator.limit_switches:
            if switch.name == name:
                return f"{actuator.name} at {switch.at_um / 1000:g} mm"
    return ""


def _bill(circuit: WiredCircuit, names: dict[str, str], supply: Supply, poles: int) -> Sheet:
    """What to buy, by rating and not by maker, and what to think of before."""

    def listed(devices: Sequence[Device]) -> str:
        return ", ".join(names[d.name.text] for d in devices)

    kinds = Counter(d.kind for d in circuit.circuit.devices)
    forms: dict[str, Counter[Form]] = {}
    for contact in circuit.contacts:
        forms.setdefault(contact.device.casefold(), Counter())[contact.contact.form] += 1
    voltage = "24 V dc" if supply is Supply.DC else "120 V ac"
    rows: list[tuple[str, str, str, str]] = []
    for kind, count in kinds.items():
        devices = [d for d in circuit.circuit.devices if d.kind is kind]
        if kind in (Kind.RELAY, Kind.LATCHING_RELAY):
            rows.append((str(count), f"{kind}, coil {voltage}, {poles} changeover contacts", listed(devices), ""))
        elif kind in (Kind.TIMER, Kind.COUNTER):
            rows += [("1", f"{kind}, {_set(d)}, supply {voltage}", listed([d]), "") for d in devices]
        elif kind in INPUTS:
            for used, some in _by_blocks(devices, forms).items():
                rows.append((str(len(some)), f"{kind}, {_blocks(used)}", listed(some), _advice(kind, used)))
        else:
            rows.append((str(count), f"{kind}, {voltage}", listed(devices), ""))
    return Sheet("Bill of materials, by rating", "parts", ("pieces", "what", "which", "note"), tuple(rows))


_Blocks = tuple[int, int]
"""How many contacts of an input device are used that make, and how many that break."""


def _by_blocks(devices: Sequence[Device], forms: dict[str, Counter[Form]]) -> dict[_Blocks, list[Device]]:
    """Input devices by the contact blocks they need."""
    found: dict[_Blocks, list[Device]] = {}
    for device in devices:
        used = forms.get(device.name.text.casefold(), Counter())
        found.setdefault((used[Form.NO], used[Form.NC]), []).append(device)
    return found


def _blocks(used: _Blocks) -> str:
    counted = zip(used, (Form.NO, Form.NC), strict=True)
    return " and ".join(f"{number} {form}" for number, form in counted if number) or "no contact used"


def _advice(kind: Kind, used: _Blocks) -> str:
    """What is unusual about so many contacts. A switch has 1 NO and 1 NC as a rule, a sensor one output, a button as
    many blocks as fit behind it (common practice)."""
    relay = "feed an input relay from one contact and use its contacts (one device more, which this circuit has not)"
    if kind is Kind.SENSOR and sum(used) > 1:
        return f"a sensor has one output: {relay}"
    if kind in (Kind.LIMIT_SWITCH, Kind.PRESSURE_SWITCH) and max(used) > 1:
        return f"rare in a {kind}, which has 1 NO and 1 NC as a rule: {relay}"
    if kind in (Kind.PUSHBUTTON, Kind.SELECTOR) and sum(used) > _MOST_BLOCKS:
        return f"more blocks than fit behind most of them: {relay}"
    return ""


def _set(device: Device) -> str:
    assert device.preset is not None
    return f"{device.function or 'preset'} {device.preset.number} {device.preset.unit}".strip()
