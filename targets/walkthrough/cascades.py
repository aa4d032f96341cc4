"""Relays that follow one another in one moment, each by a contact of one that went before: told in one sentence, as
an instructor runs a finger along a chain, and not rung by rung."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from compiler.walk.changes import CoilChange, Instant
from grammar.rungs.tree import Form, Kind, Terminal

__all__ = ["Cascade", "cascades"]

_FEWEST = 3  # rounds one after another: of fewer, each relay has its own sentence


@dataclass(frozen=True, slots=True)
class Cascade:
    """Relays that follow a ``first`` one: each ``members`` by contacts of those before it alone. ``at`` is the round
    in which the first of them moves."""

    first: str
    members: tuple[CoilChange, ...]
    at: int
    up: bool

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(change.signal for change in self.members)

    @property
    def rungs(self) -> tuple[int, ...]:
        return tuple(t.rung for change in self.members for t in change.terminals)


def cascades(instant: Instant) -> tuple[Cascade, ...]:
    """Those of a moment, in the order in which they begin."""
    return tuple(sorted(_found(instant), key=lambda one: one.at))


def _found(instant: Instant) -> Iterator[Cascade]:
    last: dict[str, CoilChange] = {}
    root: dict[int, CoilChange] = {}  # by the identity of a change that follows, the change it all began with
    chains: dict[int, tuple[CoilChange, list[CoilChange], list[int]]] = {}
    sealed = {seal.device for seal in instant.sealed}
    for number, changes in enumerate(instant.coils):
        for change in changes:
            before = _leader(change, last, sealed)
            if before is not None:
                begun = root.get(id(before), before)
                root[id(change)] = begun
                _, members, rounds = chains.setdefault(id(begun), (begun, [], []))
                members.append(change)
                rounds.append(number)
        last.update({change.signal.casefold(): change for change in changes})
    for begun, members, rounds in chains.values():
        if len(set(rounds)) >= _FEWEST:
            yield Cascade(begun.signal, tuple(members), rounds[0], bool(begun.after))


def _leader(change: CoilChange, last: dict[str, CoilChange], sealed: set[str]) -> CoilChange | None:
    """The relay that a relay follows, where contacts of relays that moved the same way just before are all that moves
    it; what picks up must need no more than that, and not hold itself in."""
    if change.device.kind is not Kind.RELAY or len(change.terminals) != 1:
        return None
    (terminal,) = change.terminals
    moved = terminal.cause.contacts
    if terminal.feed.terminal is not Terminal.COIL or not moved or any(c.form is not Form.NO for c in moved):
        return None
    leaders = [last.get(contact.name.text.casefold()) for contact in moved]
    relays = [one for one in leaders if one is not None and one.device.kind is Kind.RELAY]
    if len(relays) < len(leaders) or any(bool(one.after) is not bool(change.after) for one in relays):
        return None
    alone = len(terminal.through) == len(moved) and change.signal not in sealed
    return relays[0] if alone or not change.after else None
