"""Whether two transitions that leave one step can be true together.

The chart then clears both and two steps become active (IEC 60848:2013, evolution rule 4, from memory), which
one step number can't say. Found by trying, with what is not decided yet left open (three-valued).
"""

from __future__ import annotations

from collections.abc import Mapping

from compiler.condition import (
    Active,
    Always,
    And,
    Condition,
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

__all__ = ["can_hold"]

_MOST_TRIES = 20_000


def can_hold(condition: Condition, step: str) -> bool:
    """Whether a condition can be true while a step, and no other, is active. Undecided counts as yes."""
    facts = both(condition, *_implied(condition))
    atoms: list[Condition] = list(
        dict.fromkeys(c for c in walk(facts) if isinstance(c, Signal | Rise | Elapsed | Sustained))
    )
    tries = [_MOST_TRIES]
    return _search(facts, atoms, {}, step, tries)


def _implied(condition: Condition) -> list[Condition]:
    """What always goes with the parts of a condition: a rise with its signal, a longer time with a shorter."""
    parts = list(dict.fromkeys(walk(condition)))
    elapsed = [c for c in parts if isinstance(c, Elapsed)]
    implied: list[Condition] = []
    for part in parts:
        match part:
            case Rise(device=device):
                implied.append(either(Not(of=part), Signal(device=device)))
            case Sustained(of=of):
                implied.append(either(Not(of=part), of))
            case Elapsed(step=step, time_us=time):
                shorter = [c for c in elapsed if c.step == step and c.time_us < time]
                implied += [either(Not(of=part), c) for c in shorter]
            case _:
                pass
    return implied


def _search(
    facts: Condition, atoms: list[Condition], known: Mapping[Condition, bool], step: str, tries: list[int]
) -> bool:
    tries[0] -= 1
    value = _value(facts, known, step)
    if value is not None or tries[0] <= 0:
        return value is not False
    atom, *rest = atoms
    return any(_search(facts, rest, {**known, atom: guess}, step, tries) for guess in (True, False))


def _value(condition: Condition, known: Mapping[Condition, bool], step: str) -> bool | None:
    match condition:
        case Always():
            return True
        case Active(step=active):
            return active == step
        case Elapsed(step=active) if active != step:
            return False
        case Not(of=of):
            value = _value(of, known, step)
            return None if value is None else not value
        case And(of=parts):
            values = {_value(part, known, step) for part in parts}
            return False if False in values else None if None in values else True
        case Or(of=parts):
            values = {_value(part, known, step) for part in parts}
            return True if True in values else None if None in values else False
        case _:
            return known.get(condition)
