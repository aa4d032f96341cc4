"""Slave relays for a step chain: relays that repeat another one for the contacts it has no poles for.

Coils in parallel pick up and drop out in any order, and a step chain lives on its order. A slave is fed through an NO
contact of its relay (CR2, CR2A), so that it comes in after it and drops out after it, never before. The slaves of a
step relay hang on one another, and what comes next hangs on the last of them: the next relay comes in, and drops out,
only when all of them have. So relays and slaves come in one after another, and drop out in that same order, as the
relays alone did; a contact on a slave differs only while its own relay has moved and the slave has not.

The rule for that little while, in two sentences. The contact that seals a relay in and those by which it locks
others out stay on the relay itself, then come the contacts of loads, timers and the like, NC before NO, so that one
load is off before another comes on. What a relay feeds next is fed by its last slave, and so is what the last relay
of a cycle or of a pass breaks, which begins anew only when that relay and all its slaves are out.

What it costs is time: a step begins later by as many pick-ups as there are slaves before it, and a load that hangs on
a slave goes off later by as many drop-outs, also when a stop drops out the first relay.

A relay beside the chain, which remembers a stop or a press, feeds all its slaves by one contact. One that repeats a
button or a switch has no slaves but others with their coils in parallel: were its NO contacts later than its NC ones,
a button would seem pressed as it is seen released.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from string import ascii_uppercase

from grammar.rungs.tree import Contact, Device, Feed, Form, Kind, Name, shared
from targets.relay.draft import Draft, Use, redrawn, uses
from targets.relay.network import Unfit, contact

__all__ = ["Chained", "enslaved", "lettered"]


@dataclass(frozen=True, slots=True)
class Chained:
    """The relays of a chain, which come in one after another and drop out in that order. The ``last`` ones drop out
    the first relay of a cycle, or of a pass, and are the last to go themselves."""

    relays: frozenset[str]
    last: frozenset[str]


class _Rank(IntEnum):
    """Where a contact belongs, from the relay itself to its last slave."""

    SEALS = 0
    LOCKS = 1
    OPENS = 2
    CLOSES = 3
    HANDS_ON = 4


@dataclass(frozen=True, slots=True)
class _Line:
    """A relay and its slaves, in order, and how many contacts each has left besides what feeds the slaves."""

    relays: tuple[str, ...]
    room: tuple[int, ...]
    one_by_one: bool

    def feeding(self) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Which relay feeds which slaves."""
        first, *slaves = self.relays
        if self.one_by_one:
            yield from ((fed_by, (slave,)) for fed_by, slave in zip(self.relays, slaves, strict=False))
        else:
            yield first, tuple(slaves)


def enslaved(
    devices: Sequence[Device], drafts: list[Draft], poles: int, chained: Chained, taken: set[str]
) -> tuple[list[Device], list[Draft], tuple[str, ...]]:
    """The devices and rungs with slaves for every relay that has more contacts than poles, and which got some."""
    asked: dict[str, list[_Rank]] = {d.name.text: [] for d in devices if d.kind is Kind.RELAY}
    for use in uses(drafts):
        if use.contact.name.text in asked:
            asked[use.contact.name.text].append(_rank(use, drafts[use.first - 1], chained))
    lines = {
        relay: _line(relay, len(ranks), poles, taken, one_by_one=relay in chained.relays)
        for relay, ranks in asked.items()
        if len(ranks) > poles
    }
    if not lines:
        return list(devices), drafts, ()
    given = {relay: iter(_dealt(asked[relay], line)) for relay, line in lines.items()}

    def another(asked_for: Contact) -> Contact:
        names = given.get(asked_for.name.text)
        return asked_for if names is None else replace(asked_for, name=Name(next(names)))

    found = [
        replace(device, name=Name(name))
        for device in devices
        for name in (lines[device.name.text].relays if device.name.text in lines else (device.name.text,))
    ]
    told = tuple(
        f"{relay} needs {len(asked[relay])} contacts: {', '.join(line.relays[1:])}" for relay, line in lines.items()
    )
    return found, list(_with_slaves(redrawn(drafts, another), lines)), told


def lettered(relay: str, taken: set[str]) -> str:
    """The next free name beside a relay: CR2A, CR2B. Raises Unfit when there are none left."""
    for letters in (*ascii_uppercase, *(a + b for a in ascii_uppercase for b in ascii_uppercase)):
        name = f"{relay}{letters}"
        if name.casefold() not in taken:
            taken.add(name.casefold())
            return name
    raise Unfit(f"{relay} needs more contacts than can be named")


def _rank(use: Use, draft: Draft, chained: Chained) -> _Rank:
    name, opens = use.contact.name.text, use.contact.form is Form.NC
    fed = {feed.name.text for feed in draft.feeds}
    if name in fed:
        return _Rank.SEALS
    if use.master:
        return _Rank.LOCKS
    if fed.isdisjoint(chained.relays):
        return _Rank.OPENS if opens else _Rank.CLOSES
    return _Rank.LOCKS if opens and name not in chained.last else _Rank.HANDS_ON


def _line(relay: str, needed: int, poles: int, taken: set[str], *, one_by_one: bool) -> _Line:
    """As few slaves as will do."""
    slaves = -((poles - needed) // (poles - 1)) if one_by_one else -((poles - 1 - needed) // poles)
    relays = (relay, *(lettered(relay, taken) for _ in range(slaves)))
    room = (poles - 1,) * slaves + (poles,) if one_by_one else (poles - 1,) + (poles,) * slaves
    return _Line(relays, room, one_by_one)


def _dealt(ranks: list[_Rank], line: _Line) -> list[str]:
    """For each contact in reading order, whose it is: what is handed on from the last slave backward, the rest from
    the relay itself onward, so that poles left over are between."""
    places = [name for name, room in zip(line.relays, line.room, strict=True) for _ in range(room)]
    order = sorted(range(len(ranks)), key=ranks.__getitem__)
    handed = [k for k in order if ranks[k] is _Rank.HANDS_ON]
    kept = order[: len(order) - len(handed)]
    found = [""] * len(ranks)
    for k, name in (*zip(kept, places, strict=False), *zip(handed, reversed(places), strict=False)):
        found[k] = name
    return found


def _with_slaves(drafts: list[Draft], lines: dict[str, _Line]) -> Iterator[Draft]:
    """The rungs, and after each, outside any master, those of the slaves of what it feeds."""
    waiting: list[Draft] = []
    for draft, following in zip(drafts, (*drafts[1:], None), strict=True):
        yield draft
        for name in dict.fromkeys(feed.name.text for feed in draft.feeds):
            waiting += _repeating(lines[name], draft.words) if name in lines else ()
        if following is None or not shared(draft.masters, following.masters):
            yield from waiting
            waiting.clear()


def _repeating(line: _Line, words: str) -> Iterator[Draft]:
    for fed_by, slaves in line.feeding():
        repeats = "repeats" if len(slaves) == 1 else "repeat"
        says = f"{' and '.join(slaves)} {repeats} {line.relays[0]}, which has too few contacts of its own."
        yield Draft(contact(fed_by), tuple(Feed(Name(slave)) for slave in slaves), says, words)
