"""What to buy for a circuit, by rating and not by maker, and what to think of before buying."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from compiler.machine import Machine
from grammar.rungs.tree import INPUTS, Device, Form, Kind
from targets.choices import Supply
from targets.wiring.nets import WiredCircuit

__all__ = ["bill", "set_to"]

_BLOCKS = 4
"""Contact blocks that fit behind most pushbuttons and selectors (common practice)."""
_RELAY = "feed an input relay from one contact and use its contacts (one device more, which this circuit has not)"

_PLACES = 9
"""First figures of terminals that EN 50005 has."""
_CHANGEOVER = "a changeover contact is marked 11-12-14 (EN 50005): what is 13-14 here is 11-14 there"


_DELAYED = "a delayed changeover contact is marked 15-16-18 (EN 50005): what is 17-18 here is 15-18 there"
_MOTOR = "taken for one that the contacts here can switch; of a larger one, the coil of its contactor"


def bill(
    circuit: WiredCircuit, machine: Machine, names: Mapping[str, str], supply: Supply, poles: int
) -> tuple[tuple[str, str, str, str], ...]:
    """Rows: how many pieces, of what, which devices, and a note where something is unusual. ``poles`` is how many
    contacts a relay is taken to have."""
    made = _Bill(circuit, machine, "24 V dc" if supply is Supply.DC else "120 V ac", poles)
    wanted: dict[_Wanted, list[str]] = {}
    for device in sorted(circuit.circuit.devices, key=lambda d: _first(circuit, d.kind)):
        wanted.setdefault(made.wanted(device), []).append(names[device.name.text])
    return tuple((str(len(which)), one.what, ", ".join(which), one.note) for one, which in wanted.items())


def set_to(device: Device) -> str:
    """What a timer or a counter does and is set to; empty for any other device."""
    if device.preset is None:
        return ""
    return f"{device.function or 'preset'} {device.preset.number} {device.preset.unit}".strip()


def _first(circuit: WiredCircuit, kind: Kind) -> int:
    """Where a kind is first met, so that pieces of one kind stand together."""
    return next(k for k, device in enumerate(circuit.circuit.devices) if device.kind is kind)


@dataclass(frozen=True, slots=True)
class _Wanted:
    what: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class _Bill:
    circuit: WiredCircuit
    machine: Machine
    voltage: str
    poles: int

    def wanted(self, device: Device) -> _Wanted:
        """What to ask for in the place of a device."""
        used = Counter(one.contact.form for one in self.circuit.contacts_of(device.name.text))
        if device.kind in (Kind.RELAY, Kind.LATCHING_RELAY):
            return self.relay(device.kind, used.total())
        if device.kind in (Kind.TIMER, Kind.COUNTER):
            note = _DELAYED if device.kind is Kind.TIMER and used[Form.NOTC] + used[Form.NOTO] else ""
            return _Wanted(f"{device.kind}, {set_to(device)}, supply {self.voltage}, {_contacts(used)}", note)
        if device.kind in INPUTS:
            return _Wanted(f"{device.kind}{self.pressure(device)}, {_contacts(used)}", _advice(device.kind, used))
        if device.kind is Kind.CONTACTOR:
            return _Wanted(f"contactor, coil {self.voltage}", "main contacts by the motor's current")
        return _Wanted(f"{device.kind}, {self.voltage}", _MOTOR if device.kind is Kind.MOTOR else "")

    def pressure(self, device: Device) -> str:
        """What a pressure switch is to be set to, where the machine says."""
        gauges = [one for actuator in self.machine.actuators for one in actuator.pressure_switches]
        return next((f" set to {one.pressure_bar:g} bar" for one in gauges if one.name == device.name.text), "")

    def relay(self, kind: Kind, contacts: int) -> _Wanted:
        """A relay; one with more contacts than a relay has is asked for by itself."""
        latching = kind is Kind.LATCHING_RELAY
        coils = f"two coils {self.voltage} (latch A1-A2, unlatch B1-B2)" if latching else f"coil {self.voltage}"
        if contacts <= self.poles:
            return _Wanted(f"{kind}, {coils}, {self.poles} changeover contacts", _CHANGEOVER)
        note = f"more than the {self.poles} of one relay"
        return _Wanted(f"{kind}, {coils}, {contacts} contacts", f"{note}{_beyond(contacts)}")


def _contacts(used: Counter[Form]) -> str:
    return " and ".join(f"{used[form]} {form}" for form in Form if used[form]) or "no contact used"


def _advice(kind: Kind, used: Counter[Form]) -> str:
    """What is unusual about so many contacts. A switch has 1 NO and 1 NC as a rule, a sensor one output, a button as
    many blocks as fit behind it (common practice)."""
    if kind is Kind.SENSOR and used.total() > 1:
        return f"a sensor has one output: {_RELAY}"
    if kind in (Kind.LIMIT_SWITCH, Kind.PRESSURE_SWITCH) and max(used.values(), default=0) > 1:
        return f"rare in a {kind}, which has 1 NO and 1 NC as a rule: {_RELAY}{_beyond(used.total())}"
    if kind in (Kind.PUSHBUTTON, Kind.SELECTOR) and used.total() > _BLOCKS:
        return f"more blocks than fit behind most of them: {_RELAY}{_beyond(used.total())}"
    return ""


def _beyond(contacts: int) -> str:
    """What to say of more contacts than there are first figures for."""
    return "; EN 50005 numbers nine places, here they go on with 10" if contacts > _PLACES else ""
