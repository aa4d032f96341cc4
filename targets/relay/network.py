"""Networks of contacts from conditions: series for ``and``, parallel for ``or``, and the opposite by De Morgan."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import product

from compiler.condition import (
    Active,
    Always,
    And,
    Condition,
    Counted,
    Elapsed,
    Not,
    Or,
    Rise,
    Signal,
    Sustained,
    both,
    either,
    walk,
)
from grammar.rungs.tree import Contact, Form, Name, Network, Parallel, Series

__all__ = [
    "WIRE",
    "Leaf",
    "Term",
    "Unfit",
    "complement",
    "contact",
    "factored",
    "nc",
    "network",
    "parallel",
    "series",
    "terms",
    "without_idle",
]

_OPPOSITE = {
    Form.NO: Form.NC,
    Form.NC: Form.NO,
    Form.NOTC: Form.NCTO,
    Form.NCTO: Form.NOTC,
    Form.NOTO: Form.NCTC,
    Form.NCTC: Form.NOTO,
}
_MOST_TERMS = 16

WIRE = Series(())

Leaf = Signal | Elapsed | Sustained | Active | Counted
"""A condition that a contact, or a few, can tell."""


class Unfit(Exception):
    """An arrangement does not fit; the reason, in plain words, is the only argument."""


def contact(name: str, form: Form = Form.NO) -> Contact:
    """A contact of the named device."""
    return Contact(Name(name), form)


def nc(name: str) -> Contact:
    """A normally closed contact of the named device."""
    return Contact(Name(name), Form.NC)


def series(*parts: Network) -> Network:
    """Networks one after another; plain wires vanish, and a part said twice stands once."""
    flat = [inner for part in parts for inner in (part.parts if isinstance(part, Series) else (part,))]
    once = tuple(dict.fromkeys(flat))
    return once[0] if len(once) == 1 else Series(once)


def parallel(*parts: Network) -> Network:
    """Networks side by side; a plain wire beside them leaves only the wire, and a branch said twice stands once."""
    if WIRE in parts:
        return WIRE
    flat = [inner for part in parts for inner in (part.parts if isinstance(part, Parallel) else (part,))]
    once = tuple(dict.fromkeys(flat))
    return once[0] if len(once) == 1 else Parallel(once)


def factored(*branches: Network) -> Network:
    """Networks side by side, and behind them, once for all, the parts that stand in every one of them."""
    parts = [branch.parts if isinstance(branch, Series) else (branch,) for branch in branches]
    common = [part for part in parts[0] if all(part in other for other in parts[1:])] if parts else []
    return series(parallel(*(series(*(part for part in own if part not in common)) for own in parts)), *common)


def without_idle(net: Network, before: Iterable[Network] = ()) -> Network:
    """The network without the contacts that stand in series with it, or in it, already; it conducts as it did behind
    the networks ``before`` it."""
    return _without(net, frozenset(c for one in before for c in _in_series(one)))


def _without(net: Network, given: frozenset[Contact]) -> Network:
    match net:
        case Contact():
            return WIRE if net in given else net
        case Series(parts=parts):
            own = given.union(part for part in parts if isinstance(part, Contact))
            return series(*(_without(part, given if isinstance(part, Contact) else own) for part in parts))
        case Parallel(parts=parts):
            return parallel(*(_without(part, given) for part in parts))


def _in_series(net: Network) -> frozenset[Contact]:
    """The contacts without which a network does not conduct."""
    match net:
        case Contact():
            return frozenset((net,))
        case Series(parts=parts):
            return frozenset[Contact]().union(*map(_in_series, parts))
        case Parallel(parts=()):
            return frozenset()
        case Parallel(parts=parts):
            return frozenset.intersection(*map(_in_series, parts))


def complement(net: Network) -> Network:
    """The network that conducts exactly when ``net`` does not. Raises Unfit for a plain wire."""
    match net:
        case Contact(name=name, form=form):
            return Contact(name, _OPPOSITE[form])
        case Series(parts=()):
            raise Unfit("it has a condition that can never be true")
        case Series(parts=parts):
            return parallel(*map(complement, parts))
        case Parallel(parts=parts):
            return series(*map(complement, parts))


def network(condition: Condition, leaf: Callable[[Leaf], Network]) -> Network:
    """The contacts of a condition; ``leaf`` gives those of its simplest parts. Raises Unfit where there are none."""
    match condition:
        case Always():
            return WIRE
        case Signal() | Elapsed() | Sustained() | Active() | Counted():
            return leaf(condition)
        case Not(of=part):
            return complement(network(part, leaf))
        case And(of=parts):
            return series(*(network(part, leaf) for part in parts))
        case Or(of=parts):
            return parallel(*(network(part, leaf) for part in parts))
        case Rise(device=name):
            raise Unfit(f"it waits for the moment {name} is pressed in a place where contacts can't tell it")


@dataclass(frozen=True, slots=True)
class Term:
    """One way for a condition to come true: the moment an input is actuated (or None), and what must hold then."""

    rise: str | None
    rest: Condition


def terms(condition: Condition) -> tuple[Term, ...]:
    """A condition as terms with at most one rise each; what has no rise in it keeps its shape.

    A sustained condition that looks at a device the term also looks at directly is written with its own contacts in
    series: they open at once, where the timed contact alone follows a moment late.

    Raises Unfit for two rises in one term, a rise under ``not``, or more than 16 terms.
    """
    return tuple(Term(term.rise, _prompt(term.rest, _direct(term.rest) | {term.rise})) for term in _terms(condition))


def _direct(condition: Condition) -> set[str | None]:
    """The devices a condition looks at without a time between."""
    match condition:
        case Signal(device=name):
            return {name}
        case Not(of=part):
            return _direct(part)
        case And(of=parts) | Or(of=parts):
            return set().union(*map(_direct, parts))
        case _:
            return set()


def _prompt(condition: Condition, direct: set[str | None]) -> Condition:
    match condition:
        case Sustained(of=part) if direct & _direct(part):
            return And(of=(condition, part))
        case Not(of=part):
            return Not(of=_prompt(part, direct))
        case And(of=parts):
            return And(of=tuple(_prompt(part, direct) for part in parts))
        case Or(of=parts):
            return Or(of=tuple(_prompt(part, direct) for part in parts))
        case _:
            return condition


def _terms(condition: Condition) -> tuple[Term, ...]:
    if not any(isinstance(part, Rise) for part in walk(condition)):
        return (Term(None, condition),)
    match condition:
        case Rise(device=name):
            return (Term(name, Always()),)
        case Or(of=parts):
            plain = [part for part in parts if not _has_rise(part)]
            edged = [term for part in parts if _has_rise(part) for term in _terms(part)]
            return _few((*edged, *([Term(None, either(*plain))] if plain else [])))
        case And(of=parts):
            return _few(tuple(_joined(choice) for choice in product(*map(_terms, parts))))
        case _:
            raise Unfit("it waits for the moment of a press not to come, which contacts can't tell")


def _has_rise(condition: Condition) -> bool:
    return any(isinstance(part, Rise) for part in walk(condition))


def _joined(choice: tuple[Term, ...]) -> Term:
    rises = {term.rise for term in choice if term.rise is not None}
    if len(rises) > 1:
        raise Unfit(f"{' and '.join(sorted(rises))} would have to be pressed at the very same moment")
    return Term(next(iter(rises), None), both(*(term.rest for term in choice)))


def _few(found: tuple[Term, ...]) -> tuple[Term, ...]:
    if len(found) > _MOST_TERMS:
        raise Unfit(f"a condition comes true in more than {_MOST_TERMS} ways")
    return found
