"""The parts of a circuit that move: contacts of inputs and relays, the clocks of timers, and contacts of timers.

A part stands at a small whole number. Contacts: 0 at rest, 1 in the middle where neither NO nor NC conducts, 2
operated; a part of which only one of the two forms is wired needs no middle: it would look like one of its sides. A
clock stands at its phase, and ``ANEW`` above it when it began again from zero since the stimulus; a count as in a
``CircuitLogic``, at twice itself and 1 more while the count coil is live. The contacts of a timer or a counter follow
these, however soon.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto

from compiler.circuit.wiring import coils_of
from compiler.timers import Phase, TimerKind, instant, operated
from grammar.rungs.tree import INPUTS, LOADS, Circuit, Contact, Device, Form, Kind, Terminal, contacts

__all__ = [
    "ANEW",
    "MAKES",
    "Part",
    "Role",
    "folded",
    "instant",
    "parts_of",
    "timed",
    "unsupported",
]

ANEW = 4


class Role(Enum):
    """What a part is of its device. A timer has a clock, and contacts that wait for it (TIMED) or don't (INSTANT); a
    counter has a count, and contacts that follow it (INSTANT)."""

    INPUT = auto()
    RELAY = auto()
    CLOCK = auto()
    LATCH = auto()
    COUNT = auto()
    TIMED = auto()
    INSTANT = auto()


MAKES = frozenset({Form.NO, Form.NOTC, Form.NOTO})
"""The contacts that conduct when their part is operated. The others conduct when it is at rest."""

_PLAIN = frozenset({Form.NO, Form.NC})
_COILS = {
    Kind.RELAY: Role.RELAY,
    Kind.TIMER: Role.CLOCK,
    Kind.LATCHING_RELAY: Role.LATCH,
    Kind.COUNTER: Role.COUNT,
}
"""What of each kind of coil remembers something: together the state of a ``CircuitLogic``."""

_FORMS = {
    Role.INPUT: _PLAIN,
    Role.RELAY: _PLAIN,
    Role.TIMED: frozenset({Form.NOTC, Form.NCTO, Form.NOTO, Form.NCTC}),
    Role.INSTANT: _PLAIN,
}


@dataclass(frozen=True, slots=True)
class Part:
    """``gap``: it has NO and NC contacts, so there is a middle in which neither conducts. A latching relay has it in
    any case: what becomes of one that is left there without current is open."""

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
        return frozenset(
            form in MAKES for name, form in used if name == folded(device) and form in _FORMS.get(role, ())
        )

    def part(device: Device, role: Role) -> Part:
        return Part(device, role, gap=role is Role.LATCH or len(wired(device, role)) == 2)

    found = [part(devices[name.casefold()], Role.INPUT) for name in inputs if name.casefold() in devices]
    found = [one for one in found if one.device.kind in INPUTS and wired(one.device, Role.INPUT)]
    found += [part(device, _COILS[device.kind]) for device in coils_of(circuit)]
    follow = [one.device for one in found if one.role in (Role.CLOCK, Role.COUNT)]
    return (*found, *(part(d, role) for d in follow for role in (Role.TIMED, Role.INSTANT) if wired(d, role)))


def timed(kind: TimerKind, phase: Phase) -> bool:
    """Whether the contacts of a timer that wait for its clock are operated."""
    return operated(kind, phase)


_KINDS = {*INPUTS, *LOADS, *_COILS}
_TERMINALS = {
    *(Terminal.COIL, Terminal.SUPPLY, Terminal.CONTROL),
    *(Terminal.LATCH, Terminal.UNLATCH, Terminal.COUNT, Terminal.RESET),
}


def unsupported(circuit: Circuit) -> str:
    """What is in a circuit that this analysis can't move, in plain words; empty when there is nothing."""
    strange = {f"a {device.kind}" for device in circuit.devices if device.kind not in _KINDS}
    fed = {feed.terminal for rung in circuit.rungs for feed in rung.feeds}
    strange |= {f"a terminal {terminal}" for terminal in fed - _TERMINALS}
    return f"the circuit has {', '.join(sorted(strange))}" if strange else ""
