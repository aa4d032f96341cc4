"""A record held against the circuit by an evaluation of its own: every way through a network is written out, and
contacts are looked up in a table of the trade, so that nothing here is the code that made the record."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from itertools import product

from compiler.chart import Chart
from compiler.timers import Phase
from compiler.walk.changes import CoilChange, Fact, Instant, PumpChange, TerminalChange
from grammar.rungs.tree import (
    Circuit,
    Contact,
    Device,
    Form,
    Kind,
    Network,
    Parallel,
    Rung,
    Series,
    TimerFunction,
    contacts,
)
from targets.walkthrough.moments import Teller
from targets.walkthrough.told import Sentence

Key = tuple[str, Form]

# Which phases of a timer close its contacts: instantaneous ones follow the input of a delay and the pulse of a
# one-shot, timed ones wait (common practice).
_INSTANT = {
    TimerFunction.ON_DELAY: {Phase.RUNNING, Phase.DONE},
    TimerFunction.OFF_DELAY: {Phase.DONE},
    TimerFunction.ONE_SHOT: {Phase.RUNNING, Phase.RELEASED},
    TimerFunction.RETRIGGERABLE: {Phase.RUNNING, Phase.RELEASED},
}
_TIMED = _INSTANT | {
    TimerFunction.ON_DELAY: {Phase.DONE},
    TimerFunction.OFF_DELAY: {Phase.DONE, Phase.RUNNING},
}


def key(contact: Contact) -> Key:
    return contact.name.text.casefold(), contact.form


@cache
def ways(network: Network) -> list[frozenset[Key]]:
    """Every way through a network, as the contacts that must be closed for it."""
    match network:
        case Contact():
            return [frozenset([key(network)])]
        case Series(parts=parts):
            return [frozenset().union(*choice) for choice in product(*map(ways, parts))]
        case Parallel(parts=parts):
            return [way for part in parts for way in ways(part)]


def live(network: Network, closed: set[Key]) -> bool:
    return any(way <= closed for way in ways(network))


def stands(device: Device, form: Form, value: int) -> bool:
    """Whether a contact is closed."""
    if device.kind is Kind.TIMER:
        assert device.function is not None
        on = Phase(value) in (_INSTANT if form in (Form.NO, Form.NC) else _TIMED)[device.function]
        return on is (form in (Form.NO, Form.NOTC, Form.NOTO))
    if device.kind is Kind.COUNTER:
        assert device.preset is not None
        return (value // 2 >= int(device.preset.number)) is (form is Form.NO)
    return bool(value) is (form is Form.NO)


@dataclass
class Replay:
    """The values of all devices, brought on by what the record says and by nothing else."""

    circuit: Circuit
    values: dict[str, int] = field(default_factory=dict)
    seen: list[set[Key]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.values = {d.name.text.casefold(): 0 for d in self.circuit.devices}
        self.devices = {d.name.text.casefold(): d for d in self.circuit.devices}
        self.used = {key(c) for rung in self.circuit.rungs for c in contacts(rung.network)}
        self.rungs: dict[int, Rung] = {rung.number: rung for rung in self.circuit.rungs}

    def closed(self) -> set[Key]:
        return {(name, form) for name, form in self.used if stands(self.devices[name], form, self.values[name])}

    def follow(self, instant: Instant) -> None:
        """Check every claim of an instant, and go on."""
        for change in instant.inputs:
            if change.signal.casefold() in self.values:
                self.values[change.signal.casefold()] = int(change.on)
        self.seen = [self.closed()]
        for changes in instant.coils:
            for coil in changes:
                self._coil(coil)
            for coil in changes:
                self.values[coil.signal.casefold()] = coil.after
            self.seen.append(self.closed())
            for move in (move for coil in changes for move in coil.contacts):
                assert (key(move.contact) in self.seen[-1]) is move.closed is not (key(move.contact) in self.seen[-2])
        now = self.seen[-1]
        for output in instant.outputs:
            if output.terminal is not None:
                network = self.rungs[output.terminal.rung].network
                assert live(network, now) is output.on
                assert any(self._true(output.terminal, closed) for closed in self.seen)
        for seal in instant.sealed:
            network, own = self.rungs[seal.rung].network, (seal.device.casefold(), Form.NO)
            assert live(network, now - self._brought(instant, seal.device))
            assert not live(network, now - self._brought(instant, seal.device) - {own})
        for held in instant.held:
            assert live(self.rungs[held.rung].network, self.seen[0])
            assert {key(c) for c in held.through} <= self.seen[0]
            assert any(way <= {key(c) for c in held.through} for way in ways(self.rungs[held.rung].network))
            assert not {key(c) for c in held.opened} & self.seen[0]

    def _coil(self, change: CoilChange) -> None:
        assert (
            self.values[change.signal.casefold()] // 2 == change.before // 2 or change.device.kind is not Kind.COUNTER
        )
        if change.device.kind is not Kind.COUNTER:
            assert self.values[change.signal.casefold()] == change.before
        for terminal in change.terminals:
            assert self._true(terminal, self.seen[-1])

    def _true(self, change: TerminalChange, closed: set[Key]) -> bool:
        """Whether the rung is as is said, and the contacts blamed are to blame: with each of them the other way it
        would not be so; of those that share the blame, with all of them and no fewer."""
        network = self.rungs[change.rung].network
        blamed = [key(c) for c in change.cause.contacts]
        if live(network, closed) is not change.live:
            return False
        if change.live and not any(way <= {key(c) for c in change.through} for way in ways(network)):
            return False
        if change.live and not {key(c) for c in change.through} <= closed:
            return False
        if not blamed:
            return True  # as the supply comes on
        if change.cause.needed:
            return all(live(network, closed ^ {one}) is not change.live for one in blamed)
        whole = live(network, closed ^ set(blamed)) is not change.live
        return whole and all(live(network, closed ^ (set(blamed) - {one})) is change.live for one in blamed)

    def _brought(self, instant: Instant, device: str) -> set[Key]:
        coils = [c for one in instant.coils for c in one if c.signal == device]
        return {key(c) for coil in coils[-1:] for t in coil.terminals for c in t.cause.contacts}


def told_once(sentences: list[Sentence], instants: tuple[Instant, ...]) -> None:
    """Every change of the run is told in exactly one sentence, and nothing else is."""
    wanted: list[Fact] = [f for i in instants for f in i.facts if not isinstance(f, PumpChange)]
    found = [f for s in sentences for f in s.facts]
    everything = [f for i in instants for f in (*i.facts, *i.sealed, *i.held)]
    for fact in wanted:
        assert sum(one is fact for one in found) == 1, fact
    for told in found:
        assert any(one is told for one in everything), told
    for sentence in sentences:
        for told in sentence.facts:
            name = getattr(told, "signal", "")
            assert name in sentence.text, (name, sentence.text)


def all_told(teller: Teller, instants: tuple[Instant, ...]) -> list[Sentence]:
    return [sentence for instant in instants for sentence in teller.full(instant)]


NO_CHART = Chart.model_validate({"inputs": [], "outputs": [], "steps": [{"name": "S0", "initial": True}]})
