"""A rung on the drawing board, before it has a number: its contacts are counted and dealt out first."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from grammar.rungs.tree import Contact, Feed, Master, Network, Parallel, Series, contacts, shared

__all__ = ["Draft", "Use", "redrawn", "uses"]


@dataclass(frozen=True, slots=True)
class Draft:
    """``network`` are the contacts of the rung itself, without those of its ``masters``. ``says`` is its comment,
    ``words`` what it came from in the sequence."""

    network: Network
    feeds: tuple[Feed, ...]
    says: str
    words: str
    masters: tuple[Master, ...] = ()


@dataclass(frozen=True, slots=True)
class Use:
    """A contact as it must be wired: in one rung, or in the ``master`` of the rungs from ``first`` to ``last``."""

    contact: Contact
    first: int
    last: int
    master: bool = False


def uses(drafts: Sequence[Draft]) -> Iterator[Use]:
    """Every contact to be wired, in reading order: those of a master once for all the rungs behind it."""
    for k, draft in enumerate(drafts):
        before = drafts[k - 1].masters if k else ()
        for depth in range(shared(before, draft.masters), len(draft.masters)):
            behind = draft.masters[: depth + 1]
            last = k
            while last + 1 < len(drafts) and drafts[last + 1].masters[: depth + 1] == behind:
                last += 1
            yield from (Use(contact, k + 1, last + 1, True) for contact in contacts(draft.masters[depth].network))
        yield from (Use(contact, k + 1, k + 1) for contact in contacts(draft.network))


def redrawn(drafts: Sequence[Draft], another: Callable[[Contact], Contact]) -> list[Draft]:
    """The drafts with ``another`` contact in the place of each, asked for in the order of ``uses``."""
    found: list[Draft] = []
    for k, draft in enumerate(drafts):
        common = shared(drafts[k - 1].masters, draft.masters) if k else 0
        kept = found[k - 1].masters[:common] if k else ()
        fresh = tuple(replace(m, network=_redrawn(m.network, another)) for m in draft.masters[common:])
        found.append(replace(draft, network=_redrawn(draft.network, another), masters=(*kept, *fresh)))
    return found


def _redrawn(network: Network, another: Callable[[Contact], Contact]) -> Network:
    match network:
        case Contact():
            return another(network)
        case Series(parts=parts):
            return Series(tuple(_redrawn(part, another) for part in parts))
        case Parallel(parts=parts):
            return Parallel(tuple(_redrawn(part, another) for part in parts))
