"""The parts of a circuit that move: contacts of inputs and relays, the clocks of timers, and contacts of timers.

A part stands at a small whole number. Contacts: 0 at rest, 1 in the middle where neither NO nor NC conducts, 2
operated; a part of which only one of the two forms is wired needs no middle: it would look like one of its sides. A
clock stands at its phase, and ``ANEW`` above it when it began again from zero since the stimulus; the contacts of a
timer follow it, however soon.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto

from compiler.timers import Phase, TimerKind, operated
from grammar.rungs.tree import INPUTS, LOADS, Circuit, Contact, Device, Form, Kind, Terminal, contacts

__all__ = ["ANEW", "MAKES", "Part", "Role", "folded", "instant", "kind_of", "parts_of", "timed", "unsupported"]

ANEW = 4


class Role(Enum):
    """What a part is of its device. A timer has a clock, and contacts that wait for it (TIMED) or don't (INSTANT)."""

    INPUT = auto()
    RELAY = auto()
    CLOCK = auto()
    TIMED = auto()
    INSTANT = auto()


MAKES = frozenset({Form.NO, Form.NOTC, Form.NOTO})
"""The contacts that conduct when their part is operated. The others conduct when it is at rest."""

_PLAIN = frozenset({Form.NO, Form.NC})
_FORMS = {
    Role.INPUT: _PLAIN,
    Role.RELAY: _PLAIN,
    Role.CLOCK: frozenset[Form](),
    Role.TIMED: frozenset({Form.NOTC, Form.NCTO, Form.NOTO, Form.NCTC}),
    Role.INSTANT: _PLAIN,
}


@dataclass(frozen=True, slots=True)
class Part:
    """``gap``: it has NO and NC contacts, so there is a middle in which neither conducts."""

    device: Device
    role: Role
    gap: bool = False

    @property
    def name(self) -> str:
        return self.device.name.text


def folded(device: Device | Contact) -> str:
    """The name under which a device is looked up: letter case does not tell names apart."""
    return device.name.text.casefold()


def parts_of(circuit: Circuit, inputs: tuple[str, ...]) -> tuple[Part, ...]:
    """All parts, in the order of a state: inputs in the machine's order, relays, clocks, contacts of timers. Inputs
    and contacts of timers that no rung looks at are left out."""
    used = {(folded(contact), contact.form) for rung in circuit.rungs for contact in contacts(rung.network)}
    devices = {folded(device): device for device in circuit.devices}

    def wired(device: Device, role: Role) -> frozenset[bool]:
        """Whether contacts that make, and contacts that break, are in use."""
        return frozenset(form in MAKES for name, form in used if name == folded(device) and form in _FORMS[role])

    def part(device: Device, role: Role) -> Part:
        return Part(device, role, gap=len(wired(device, role)) == 2)

    found = [part(devices[name.casefold()], Role.INPUT) for name in inputs if name.casefold() in devices]
    found = [one for one in found if one.device.kind in INPUTS and wired(one.device, Role.INPUT)]
    timers = [device for device in circuit.devices if device.kind is Kind.TIMER]
    found += [part(device, Role.RELAY) for device in circuit.devices if device.kind is Kind.RELAY]
    found += [Part(timer, Role.CLOCK) for timer in timers]
    return (*found, *(part(t, role) for t in timers for role in (Role.TIMED, Role.INSTANT) if wired(t, role)))


def kind_of(timer: Device) -> TimerKind:
    """The function of a timer, as ``compiler.timers`` knows it."""
    return TimerKind(str(timer.function))


def timed(kind: TimerKind, phase: Phase) -> bool:
    """Whether the contacts of a timer that wait for its clock are operated."""
    return operated(kind, phase)


def instant(kind: TimerKind, phase: Phase) -> bool:
    """Whether NO and NC of a timer are operated: they follow its input at once, and on a one-shot its pulse."""
    match kind:
        case TimerKind.ON_DELAY:
            return phase is not Phase.IDLE
        case TimerKind.OFF_DELAY:
            return phase is Phase.DONE
        case TimerKind.ONE_SHOT | TimerKind.RETRIGGERABLE:
            return operated(kind, phase)


_KINDS = {*INPUTS, *LOADS, Kind.RELAY, Kind.TIMER}


def unsupported(circuit: Circuit) -> str:
    """What is in a circuit that this analysis can't move, in plain words; empty when there is nothing."""
    strange = sorted({str(d.kind) for d in circuit.devices if d.kind not in _KINDS})
    if strange:
        return f"the circuit has a {', a '.join(strange)}"
    terminals = {feed.terminal for rung in circuit.rungs for feed in rung.feeds}
    strange = sorted(str(t) for t in terminals - {Terminal.COIL, Terminal.SUPPLY, Terminal.CONTROL})
    return f"the circuit feeds a {', a '.join(strange)}" if strange else ""
