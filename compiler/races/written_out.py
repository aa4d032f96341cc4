"""What can move in a circuit, written out as straight-line Python and compiled: every order is a great many looks.

Three functions of a state. ``moves``: every part that may move now, and where to. ``overdue``: where each clock goes
when it reaches its preset. ``outputs``: which loads are fed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from compiler.circuit.wiring import count_of, timer_kind
from compiler.logic import Bits
from compiler.races.parts import ANEW, MAKES, Part, Role, folded, instant, timed
from compiler.timers import Phase, TimerKind, advance
from grammar.rungs.tree import Circuit, Contact, Device, Form, Kind, Network, Parallel, Series, Terminal, contacts

__all__ = ["Move", "Net", "Nets", "State", "Written", "nets_of", "written_out"]

State = tuple[int, ...]
Move = tuple[int, int]
"""The index of a part, and where it moves to."""


class Written(NamedTuple):
    """See the module. ``moves`` is told the inputs as they will be once their contacts have made."""

    moves: Callable[[State, Bits], list[Move]]
    overdue: Callable[[State], tuple[int, ...]]
    outputs: Callable[[State], Bits]


class Net(NamedTuple):
    """What leads to a terminal. ``conducts`` is told of all parts in turn whether their breaking and their making
    contacts conduct; None where a part follows another without a wire, as contacts do their clock. ``leads`` are
    the parts it depends on."""

    conducts: Callable[[list[bool]], bool] | None
    leads: frozenset[int]


class Nets(NamedTuple):
    """The nets of every part's terminals, and of every load."""

    coils: tuple[tuple[Net, ...], ...]
    loads: tuple[Net, ...]


_NO_NET = Net(lambda _: False, frozenset())


def nets_of(circuit: Circuit, parts: tuple[Part, ...], loads: tuple[str, ...]) -> Nets:
    """The wiring of a circuit in terms of its parts. A terminal that no rung feeds has no net."""
    text = _Nets(circuit, parts)
    fed = [text.net(name.casefold(), Terminal.COIL) for name in loads]
    return Nets(tuple(text.of(part) for part in parts), tuple(net or _NO_NET for net in fed))


def written_out(
    circuit: Circuit, parts: tuple[Part, ...], inputs: tuple[str, ...], loads: tuple[str, ...]
) -> Written:
    """The three functions of a circuit; ``inputs`` and ``loads`` are the machine's, in its order."""
    text = "\n".join(_Text(circuit, parts).lines(inputs, loads))
    scope: dict[str, Any] = {}
    for k, kind in enumerate(TimerKind):
        scope |= {f"T{k}": _table(kind, expired=False), f"E{k}": _table(kind, expired=True)}
    exec(compile(text, "<relay contacts>", "exec"), scope)  # the text is ours: names of devices never enter it
    return Written(scope["moves"], scope["overdue"], scope["outputs"])


def _table(kind: TimerKind, *, expired: bool) -> tuple[int, ...]:
    """Where a clock goes: index position*2 + energised. It stays ANEW for as long as it runs on."""
    found = []
    for position in range(2 * ANEW):
        for energised in (False, True):
            turn = advance(kind, Phase(position % ANEW), energised, expired)
            runs = turn.phase in (Phase.RUNNING, Phase.RELEASED)
            anew = turn.started or (runs and position >= ANEW)
            found.append(turn.phase + ANEW * anew)
    return tuple(found)


class _Text:
    """The text, line by line."""

    def __init__(self, circuit: Circuit, parts: tuple[Part, ...]) -> None:
        self.parts = parts
        self.devices = {folded(device): device for device in circuit.devices}
        self.place = {(folded(part.device), part.role): k for k, part in enumerate(parts)}
        self.fed = {(feed.name.text.casefold(), feed.terminal): rung for rung in circuit.rungs for feed in rung.feeds}

    def lines(self, inputs: tuple[str, ...], loads: tuple[str, ...]) -> Iterator[str]:
        names = [name.casefold() for name in inputs]
        unpack = f"    ({''.join(f'v{k}, ' for k in range(len(self.parts)))}) = s" if self.parts else "    pass"
        yield from ["def moves(s, i):", unpack, "    m = []"]
        for k, part in enumerate(self.parts):
            yield from self._moves(k, part, names)
        yield from ["    return m", "def overdue(s):", unpack]
        clocks = [self._turn(k, part, "E") for k, part in enumerate(self.parts) if part.role is Role.CLOCK]
        yield f"    return ({''.join(f'{clock}, ' for clock in clocks)})"
        yield from ["def outputs(s):", unpack]
        fed = [self._coil(name.casefold(), Terminal.COIL, "False") for name in loads]
        yield f"    return ({''.join(f'{net}, ' for net in fed)})"

    def _moves(self, k: int, part: Part, inputs: list[str]) -> Iterator[str]:
        """A part with a middle goes there first, and from there wherever it is asked to be by then."""
        match part.role:
            case Role.INPUT:  # it left the middle out, or went there, at the stimulus
                yield f"    if v{k} == 1: m.append(({k}, 2 if i[{inputs.index(folded(part.device))}] else 0))"
            case Role.CLOCK:
                yield from self._to(k, self._turn(k, part, "T"))
            case Role.COUNT:
                yield from self._to(k, self._count(k, part.device))
            case Role.LATCH:
                yield from self._latch(k, part.device)
            case Role.RELAY:
                yield from self._contacts_to(k, part, self._coil(folded(part.device), Terminal.COIL, "False"))
            case Role.TIMED | Role.INSTANT:
                yield from self._contacts_to(k, part, self._operated(part.device, part.role))

    def _to(self, k: int, place: str) -> Iterator[str]:
        yield f"    w = {place}"
        yield f"    if w != v{k}: m.append(({k}, w))"

    def _contacts_to(self, k: int, part: Part, asked: str) -> Iterator[str]:
        yield f"    w = 2 if {asked} else 0"
        yield f"    if w != v{k}: m.append(({k}, {f'1 if v{k} != 1 else w' if part.gap else 'w'}))"

    def _latch(self, k: int, device: Device) -> Iterator[str]:
        """Unlatching wins. Without current it stays where it is; in the middle it may fall to either side."""
        yield f"    out = {self._coil(folded(device), Terminal.UNLATCH, 'False')}"
        yield f"    into = not out and {self._coil(folded(device), Terminal.LATCH, 'False')}"
        yield f"    if (v{k} == 0 and into) or (v{k} == 2 and out): m.append(({k}, 1))"
        yield f"    if v{k} == 1 and not out: m.append(({k}, 2))"
        yield f"    if v{k} == 1 and not into: m.append(({k}, 0))"

    def _count(self, k: int, device: Device) -> str:
        """Up to the preset and no further, one as the count coil becomes live; nothing while it is being reset."""
        live = self._coil(folded(device), Terminal.COUNT, "False")
        counted = (
            f"(v{k} if v{k} & 1 else v{k} + (3 if v{k} < {2 * count_of(device)} else 1)) if {live} else v{k} & -2"
        )
        return f"({live}) * 1 if {self._coil(folded(device), Terminal.RESET, 'False')} else {counted}"

    def _turn(self, k: int, part: Part, table: str) -> str:
        """Without its supply a timer is reset at once, whatever it was doing."""
        name = folded(part.device)
        supply = self._coil(name, Terminal.SUPPLY, "")
        control = self._coil(name, Terminal.COIL, "") or self._coil(
            name, Terminal.CONTROL, "True" if supply else "False"
        )
        turn = f"{table}{list(TimerKind).index(timer_kind(part.device))}[v{k} * 2 + bool({control})]"
        return f"({turn} if {supply} else 0)" if supply else turn

    def _coil(self, name: str, terminal: Terminal, unfed: str) -> str:
        rung = self.fed.get((name, terminal))
        return unfed if rung is None else self._network(rung.network)

    def _network(self, network: Network) -> str:
        match network:
            case Contact():
                return self._contact(network)
            case Series(parts=()):
                return "True"
            case Series(parts=parts):
                return f"({' and '.join(map(self._network, parts))})"
            case Parallel(parts=parts):
                return f"({' or '.join(map(self._network, parts))})"

    def _contact(self, contact: Contact) -> str:
        return f"v{self.place[self.part_of(contact)]} == {2 if contact.form in MAKES else 0}"

    def part_of(self, contact: Contact) -> tuple[str, Role]:
        """The part that a contact belongs to, by name and role."""
        match self.devices[folded(contact)].kind, contact.form:
            case Kind.TIMER, Form.NO | Form.NC:
                role = Role.INSTANT
            case Kind.TIMER, _:
                role = Role.TIMED
            case Kind.COUNTER, _:
                role = Role.INSTANT
            case Kind.RELAY, _:
                role = Role.RELAY
            case Kind.LATCHING_RELAY, _:
                role = Role.LATCH
            case _:
                role = Role.INPUT
        return folded(contact), role

    def _operated(self, device: Device, role: Role) -> str:
        """Whether the phase of a timer, or the count of a counter, has its contacts operated."""
        if device.kind is Kind.COUNTER:
            return f"v{self.place[folded(device), Role.COUNT]} >= {2 * count_of(device)}"
        follows = timed if role is Role.TIMED else instant
        phases = [int(phase) for phase in Phase if follows(timer_kind(device), phase)]
        values = "".join(f"{phase}, {phase + ANEW}, " for phase in phases)
        return f"v{self.place[folded(device), Role.CLOCK]} in ({values})"


class _Nets(_Text):
    """The same wiring, each contact an item of one list."""

    def of(self, part: Part) -> tuple[Net, ...]:
        name = folded(part.device)
        match part.role:
            case Role.INPUT:
                return ()
            case Role.TIMED | Role.INSTANT:
                role = Role.COUNT if part.device.kind is Kind.COUNTER else Role.CLOCK
                return (Net(None, frozenset({self.place[name, role]})),)
            case _:
                return tuple(net for terminal in Terminal if (net := self.net(name, terminal)))

    def net(self, name: str, terminal: Terminal) -> Net | None:
        rung = self.fed.get((name, terminal))
        if rung is None:
            return None
        conducts = eval(f"lambda c: {self._network(rung.network)}", {})  # the text is ours here too
        return Net(conducts, frozenset(self.place[self.part_of(contact)] for contact in contacts(rung.network)))

    def _contact(self, contact: Contact) -> str:
        return f"c[{2 * self.place[self.part_of(contact)] + (contact.form in MAKES)}]"
