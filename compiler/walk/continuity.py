"""Continuity: whether a network of contacts conducts, through which of them, and which of them brought that about."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from grammar.rungs.tree import Contact, Form, Network, Parallel, Series, contacts

__all__ = ["Cause", "Key", "brought_about", "carries", "conducts", "key", "missing", "path"]

Key = tuple[str, Form]
"""All the contacts of one form that a device has: they move together. The name is folded."""


@dataclass(frozen=True, slots=True)
class Cause:
    """The contacts whose moving brought a change of continuity about. Each of them was ``needed``; or else any of
    them would have done, and only all of them together the other way would leave the network as it was."""

    contacts: tuple[Contact, ...] = ()
    needed: bool = True


def key(contact: Contact) -> Key:
    """What a contact moves with."""
    return contact.name.text.casefold(), contact.form


def conducts(network: Network, closed: Mapping[Key, bool], other: Collection[Key] = ()) -> bool:
    """Whether a network conducts, with those ``other`` contacts the other way than they are."""
    match network:
        case Contact():
            return closed[key(network)] is not (key(network) in other)
        case Series(parts=parts):
            return all(conducts(part, closed, other) for part in parts)
        case Parallel(parts=parts):
            return any(conducts(part, closed, other) for part in parts)


def carries(network: Network, closed: Mapping[Key, bool], wanted: Key) -> bool:
    """Whether current may flow through such a contact of a network."""
    match network:
        case Contact():
            return key(network) == wanted and closed[wanted]
        case Series(parts=parts):
            return conducts(network, closed) and any(carries(part, closed, wanted) for part in parts)
        case Parallel(parts=parts):
            return any(carries(part, closed, wanted) for part in parts)


def path(network: Network, closed: Mapping[Key, bool], past: Collection[Key] = ()) -> tuple[Contact, ...]:
    """One way through a network that conducts, in reading order: of branches side by side the first that conducts,
    but sooner one with a contact of ``past``. Each contact once."""
    match network:
        case Contact():
            return (network,)
        case Series(parts=parts):
            found = [c for part in parts for c in path(part, closed, past)]
            return tuple({key(c): c for c in found}.values())
        case Parallel(parts=parts):
            live = [part for part in parts if conducts(part, closed)]
            through = [part for part in live if any(carries(part, closed, wanted) for wanted in past)]
            return path((through or live)[0], closed, past)


def brought_about(network: Network, before: Mapping[Key, bool], now: Mapping[Key, bool]) -> Cause:
    """Why a network conducts now and did not before, or no longer does."""
    live = conducts(network, now)
    unlike = {key(c): c for c in contacts(network) if now[key(c)] is live and before[key(c)] is not live}
    needed = tuple(c for k, c in unlike.items() if conducts(network, now, (k,)) is not live)
    if needed:
        return Cause(needed)
    # With all of them the other way fewer contacts help than before, so it would be as it was: leave out what can be.
    group = dict(unlike)
    for k in unlike:
        fewer = [other for other in group if other != k]
        if conducts(network, now, fewer) is not live:
            del group[k]
    return Cause(tuple(group.values()), needed=False)


def missing(network: Network, closed: Mapping[Key, bool], wanted: Key) -> tuple[Contact, ...]:
    """The open contacts that keep current from flowing through a closed one: together they would let it, and none of
    them can be left out. Empty where it flows, or never will."""
    if carries(network, closed, wanted):
        return ()
    shut = {key(c): c for c in contacts(network) if not closed[key(c)]}
    if not carries(network, {**closed, **dict.fromkeys(shut, True)}, wanted):
        return ()
    for k in list(shut):
        fewer = {**closed, **dict.fromkeys((other for other in shut if other != k), True)}
        if carries(network, fewer, wanted):
            del shut[k]
    return tuple(shut.values())
