"""A relay circuit followed round by round: the contacts that moved, the rungs they stand in, the coils that followed.

In one round all coils are looked at together, and contacts follow their coil one round later, as the circuit settles
in ``compiler.circuit``.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass, field

from compiler.circuit.logic import CircuitLogic
from compiler.circuit.wiring import State, closed, coils_of
from compiler.logic import Bits
from compiler.walk.changes import CoilChange, ContactMove, Held, Refused, Sealed, TerminalChange
from compiler.walk.continuity import Cause, Key, brought_about, carries, conducts, key, missing, path
from grammar.rungs.tree import Contact, Device, Form, Kind, Rung, contacts

__all__ = ["Settled", "Tracer"]


@dataclass(frozen=True, slots=True)
class Settled:
    """How a circuit settled at one instant: the coils round by round; what holds itself from now on; the rungs that
    stayed live though a contact opened; by load, the last change of each terminal of a load; and contacts of inputs
    that closed in rungs which stay dead."""

    rounds: tuple[tuple[CoilChange, ...], ...] = ()
    sealed: tuple[Sealed, ...] = ()
    held: tuple[Held, ...] = ()
    loads: dict[str, TerminalChange] = field(default_factory=dict)
    refused: tuple[Refused, ...] = ()


class Tracer:
    """Follows a circuit from the moment its supply comes on."""

    def __init__(self, logic: CircuitLogic) -> None:
        self._logic = logic
        circuit = logic.circuit
        self._coils = coils_of(circuit)
        self._devices = {device.name.text.casefold(): device for device in circuit.devices}
        self._rungs_with: dict[str, list[Rung]] = {}
        self._contacts_of: dict[str, dict[Key, Contact]] = {}
        for rung in circuit.rungs:
            for contact in contacts(rung.network):
                folded = contact.name.text.casefold()
                rungs = self._rungs_with.setdefault(folded, [])
                if rung not in rungs[-1:]:
                    rungs.append(rung)
                self._contacts_of.setdefault(folded, {})[key(contact)] = contact
        self._state: State | None = None
        self._inputs: Bits = ()
        self._closed: dict[Key, bool] = {}
        self._live: dict[int, bool] = {}

    def off(self) -> Settled:
        """The supply is lost: every coil drops out."""
        if self._state is None:
            return Settled()
        rest = next(self._logic.rounds(None, self._inputs))
        dropped = tuple(
            CoilChange(device, before, after)
            for device, before, after in zip(self._coils, self._state, rest, strict=True)
            if _told(device, before) != _told(device, after)
        )
        self._state = None
        return Settled((dropped,) if dropped else ())

    def settle(self, inputs: Bits, expired: frozenset[int]) -> Settled:
        """These inputs, and the timers that just ran out. Not to be asked of a circuit that does not settle."""
        start: Hashable | None = self._state
        rounds = list(self._logic.rounds(start, inputs, expired))
        before, began = dict(self._closed), start is None
        moved = self._move(inputs, rounds[0], began)
        timers = [device for device in self._coils if device.kind is Kind.TIMER]
        over = {timers[k].name.text for k in expired}
        told: list[tuple[CoilChange, ...]] = []
        loads: dict[str, TerminalChange] = {}
        picked: list[TerminalChange] = []
        held: tuple[Held, ...] = ()
        closing = [] if began else [c for c in moved if self._closed[key(c)]]
        for number, state in enumerate(rounds):
            live = dict(self._live)
            changes = self._terminals(before, moved, began and number == 0)
            if number == 0 and not began:
                held = tuple(self._held(before, moved, live))
            loads |= {c.feed.name.text: c for c in changes if not self._is_coil(c)}
            if number + 1 == len(rounds):
                break
            before, after = dict(self._closed), rounds[number + 1]
            moved = self._move(inputs, after, began=False)
            told.append(tuple(self._coil_changes(state, after, changes, before, over if number == 0 else set())))
            picked += [c for c in changes if self._is_coil(c) and c.live]
        self._state, self._inputs = rounds[-1], inputs
        still = len(rounds) == 1 and not loads
        refused = tuple(self._refused(closing)) if still else ()
        return Settled(tuple(one for one in told if one), tuple(self._seals(picked)), held, loads, refused)

    # --- one round ------------------------------------------------------------------------------------------

    def _move(self, inputs: Bits, state: State, began: bool) -> list[Contact]:
        """Bring every contact to where it stands with these inputs and coils. Those that moved."""
        values: dict[str, int] = {n.casefold(): int(bit) for n, bit in zip(self._logic.inputs, inputs, strict=True)}
        values |= {device.name.text.casefold(): v for device, v in zip(self._coils, state, strict=True)}
        moved = []
        for folded, found in self._contacts_of.items():
            device = self._devices[folded]
            for k, contact in found.items():
                now = closed(device, contact.form, values[folded])
                if began or self._closed[k] is not now:
                    self._closed[k] = now
                    moved.append(contact)
        return moved

    def _terminals(self, before: dict[Key, bool], moved: list[Contact], began: bool) -> list[TerminalChange]:
        """The terminals that became live or dead as these contacts moved; as the supply comes on, all that are
        live."""
        found: list[TerminalChange] = []
        for rung in self._logic.circuit.rungs if began else self._rungs_of(moved):
            live = conducts(rung.network, self._closed)
            if live is (False if began else self._live[rung.number]):
                self._live[rung.number] = live
                continue
            self._live[rung.number] = live
            cause = Cause() if began else brought_about(rung.network, before, self._closed)
            past = [key(c) for c in cause.contacts]
            through = path(rung.network, self._closed, past) if live else ()
            found += [TerminalChange(feed, rung.number, live, cause, through) for feed in rung.feeds]
        return found

    def _rungs_of(self, moved: Iterable[Contact]) -> list[Rung]:
        found = {rung.number: rung for c in moved for rung in self._rungs_with[c.name.text.casefold()]}
        return [found[number] for number in sorted(found)]

    def _coil_changes(
        self, state: State, after: State, changes: list[TerminalChange], before: dict[Key, bool], over: set[str]
    ) -> Iterable[CoilChange]:
        for device, was, now in zip(self._coils, state, after, strict=True):
            if _told(device, was) == _told(device, now):
                continue
            name = device.name.text
            terminals = tuple(c for c in changes if c.feed.name.text.casefold() == name.casefold())
            yield CoilChange(device, was, now, terminals, name in over, tuple(self._moves(name, before)))

    def _moves(self, name: str, before: dict[Key, bool]) -> Iterable[ContactMove]:
        """The contacts of a device that moved, each once for every rung it stands in."""
        for k, contact in self._contacts_of.get(name.casefold(), {}).items():
            if before[k] is not self._closed[k]:
                for rung in self._rungs_with[name.casefold()]:
                    if any(key(c) == k for c in contacts(rung.network)):
                        yield ContactMove(contact, rung.number, self._closed[k])

    # --- what holds -----------------------------------------------------------------------------------------

    def _seals(self, picked: list[TerminalChange]) -> Iterable[Sealed]:
        """The relays brought in that now hold themselves."""
        for change in picked:
            name = change.feed.name.text
            own = (name.casefold(), Form.NO)
            contact = self._contacts_of.get(name.casefold(), {}).get(own)
            if contact is None or self._devices[name.casefold()].kind is not Kind.RELAY:
                continue
            network = next(r.network for r in self._logic.circuit.rungs if r.number == change.rung)
            brought = {key(c) for c in change.cause.contacts if self._closed[key(c)]}
            stays = brought and conducts(network, self._closed, brought)
            if stays and not conducts(network, self._closed, brought | {own}):
                yield Sealed(name, change.rung, contact)

    def _held(self, before: dict[Key, bool], moved: list[Contact], live: dict[int, bool]) -> Iterable[Held]:
        for rung in self._rungs_of(moved):
            if not (live[rung.number] and self._live[rung.number]):
                continue
            opened = [c for c in moved if not self._closed[key(c)] and carries(rung.network, before, key(c))]
            if opened:
                yield Held(rung.feeds, rung.number, tuple(opened), path(rung.network, self._closed))

    def _refused(self, closing: list[Contact]) -> Iterable[Refused]:
        """Contacts that closed in rungs which stay dead, and what those rungs still want."""
        for contact in closing:
            for rung in self._rungs_with[contact.name.text.casefold()]:
                if not self._live[rung.number] and any(key(c) == key(contact) for c in contacts(rung.network)):
                    wanted = missing(rung.network, self._closed, key(contact))
                    if wanted:
                        yield Refused(contact, rung.number, wanted)

    def _is_coil(self, change: TerminalChange) -> bool:
        device = self._devices[change.feed.name.text.casefold()]
        return device.kind in (Kind.RELAY, Kind.TIMER, Kind.LATCHING_RELAY, Kind.COUNTER)


def _told(device: Device, value: int) -> int:
    """A value as far as it is told: of a counter only the count, not that its coil is live."""
    return value // 2 if device.kind is Kind.COUNTER else value
