"""The wiring of a circuit as Python expressions: when a terminal is live, and what a coil makes of it next.

Names of devices never enter the text, only the names of variables that the caller gives them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from compiler.logic import Bits
from compiler.timers import Phase, TimerKind, advance, instant, operated
from grammar.rungs.tree import Circuit, Contact, Device, Form, Kind, Network, Parallel, Series, Terminal, contacts

__all__ = ["TABLES", "Situation", "State", "Wiring", "closed", "coils_of", "count_of", "timer_kind"]

State = tuple[int, ...]
Situation = tuple[State, Bits]
"""A state that no coil wants to leave, and the loads in it."""

_ORDER = (Kind.RELAY, Kind.TIMER, Kind.LATCHING_RELAY, Kind.COUNTER)


def coils_of(circuit: Circuit) -> tuple[Device, ...]:
    """The devices that remember something, in the order of a state."""
    return tuple(device for kind in _ORDER for device in circuit.devices if device.kind is kind)


def timer_kind(device: Device) -> TimerKind:
    """The function of a timer."""
    return TimerKind(str(device.function))


def count_of(device: Device) -> int:
    """The count at which a counter operates."""
    if device.preset is None:
        raise ValueError(f"the counter {device.name.text} has no preset")
    return int(device.preset.number)


def _table(kind: TimerKind) -> tuple[int, ...]:
    """``advance`` as a table: index phase*4 + energised*2 + expired, value phase*2 + started."""
    turns = [advance(kind, phase, on, over) for phase in Phase for on in (False, True) for over in (False, True)]
    return tuple(turn.phase * 2 + turn.started for turn in turns)


_TABLE_OF = {kind: f"T{k}" for k, kind in enumerate(TimerKind)}
TABLES = {name: _table(kind) for kind, name in _TABLE_OF.items()}
"""What the expressions for timers look up, under the names they use."""


@dataclass(frozen=True, slots=True)
class Wiring:
    """``variables`` name, by folded name, the inputs of the machine and the coils of the circuit."""

    devices: dict[str, Device]
    fed: dict[tuple[str, Terminal], Network]
    variables: dict[str, str]

    @classmethod
    def of(cls, circuit: Circuit, variables: dict[str, str]) -> Wiring:
        devices = {d.name.text.casefold(): d for d in circuit.devices}
        fed = {(f.name.text.casefold(), f.terminal): rung.network for rung in circuit.rungs for f in rung.feeds}
        return cls(devices, fed, variables)

    def live(self, name: str, terminal: Terminal = Terminal.COIL, unfed: str = "False") -> str:
        """When a terminal is live; ``unfed`` when no rung feeds it."""
        network = self.fed.get((name.casefold(), terminal))
        return unfed if network is None else self._conducts(network)

    def seen_by(self, name: str) -> Iterator[Contact]:
        """The contacts in the rungs of a device, whichever of its terminals they feed."""
        for terminal in Terminal:
            yield from contacts(self.fed.get((name.casefold(), terminal), Series(())))

    def following(self, device: Device, expired: str) -> str:
        """What a coil stands at in the next round; a timer's value has the bit ``started`` below its phase.

        ``expired`` tells whether the time of a timer is over. A timer without its supply is reset at once, whatever
        it was doing. A counter counts as its count coil becomes live, up to its preset and no further; nothing is
        counted while it is being reset.
        """
        name = device.name.text
        now = self.variables[name.casefold()]
        match device.kind:
            case Kind.LATCHING_RELAY:
                unlatch = self.live(name, Terminal.UNLATCH)
                return f"({now} or {self.live(name, Terminal.LATCH)}) and not ({unlatch})"
            case Kind.COUNTER:
                live, most = self.live(name, Terminal.COUNT), 2 * count_of(device)
                counted = f"({now} if {now} & 1 else {now} + (3 if {now} < {most} else 1)) if {live} else {now} & -2"
                return f"({live}) * 1 if {self.live(name, Terminal.RESET)} else {counted}"
            case Kind.TIMER:
                supply = self.live(name, Terminal.SUPPLY, "True")
                alone = "True" if supply != "True" else "False"
                control = self.live(name, Terminal.COIL, self.live(name, Terminal.CONTROL, alone))
                return f"{_TABLE_OF[timer_kind(device)]}[{now} * 4 + ({control}) * 2 + {expired}] if {supply} else 0"
            case _:
                return self.live(name)

    def _conducts(self, network: Network) -> str:
        """An expression of comparisons, ``not``, ``and`` and ``or``, with no more brackets than it needs."""
        match network:
            case Contact(name=name, form=form):
                folded = name.text.casefold()
                return _closed(self.devices[folded], form, self.variables[folded])
            case Series(parts=()):
                return "True"
            case Series(parts=parts):
                texts = [(self._conducts(part), isinstance(part, Parallel)) for part in parts]
                return " and ".join([f"({text})" if parallel else text for text, parallel in texts])
            case Parallel(parts=parts):
                return " or ".join(map(self._conducts, parts))


def closed(device: Device, form: Form, value: int) -> bool:
    """Whether a contact is closed while its device stands so: actuated or not, a relay's bit, a timer's phase, or
    twice what a counter has counted, and one more while its count coil is live."""
    match device.kind:
        case Kind.TIMER:
            return _made(timer_kind(device), form, Phase(value))
        case Kind.COUNTER:
            return (value >= 2 * count_of(device)) is (form is Form.NO)
        case _:
            return bool(value) is (form is Form.NO)


def _closed(device: Device, form: Form, variable: str) -> str:
    match device.kind:
        case Kind.TIMER:
            return f"{variable} in {_phases(timer_kind(device), form)}"
        case Kind.COUNTER:
            return f"{variable} {'>=' if form is Form.NO else '<'} {2 * count_of(device)}"
        case _:
            return variable if form is Form.NO else f"not {variable}"


@cache
def _phases(kind: TimerKind, form: Form) -> tuple[int, ...]:
    """The phases in which a timer's contact is closed."""
    return tuple(int(phase) for phase in Phase if _made(kind, form, phase))


def _made(kind: TimerKind, form: Form, phase: Phase) -> bool:
    """Whether a timer's contact is closed. NO and NC of an on-delay and an off-delay follow its input at once."""
    match form:
        case Form.NO:
            return instant(kind, phase)
        case Form.NC:
            return not instant(kind, phase)
        case Form.NOTC | Form.NOTO:
            return operated(kind, phase)
        case Form.NCTO | Form.NCTC:
            return not operated(kind, phase)
