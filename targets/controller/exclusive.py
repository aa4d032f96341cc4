"""Whether two transitions can be true together.

Where both leave one step the chart then clears both and two steps become active (IEC 60848:2013, evolution rule 4,
from memory), which one step number can't say. Found by trying, with what is not decided yet left open (three-valued).
"""

from __future__ import annotations

from collections.abc import Mapping

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

__all__ = ["can_hold"]

_MOST_TRIES = 20_000


def can_hold(condition: Condition, *active: str, alone: bool = True) -> bool:
    """Whether a condition can be true while these steps are active, and no other unless they are not ``alone``.
    Undecided counts as yes."""
    facts = both(condition, *_implied(condition))
    known: dict[Condition, bool] = {}
    atoms: list[Condition] = []
    for part in dict.fromkeys(walk(facts)):
        match part:
            case Active(step=step) | Elapsed(step=step) if alone and step not in active:
                known[part] = False
            case Active(step=step) if step in active:
                known[part] = True
            case Active() | Signal() | Rise() | Elapsed() | Sustained() | Counted():
                atoms.append(part)
            case _:
                pass
    return _search(facts, atoms, known, [_MOST_TRIES])


def _implied(condition: Condition) -> list[Condition]:
    """What always goes with the parts of a condition: a rise with its signal, a longer time with a shorter, a
    greater number with a smaller."""
    parts = list(dict.fromkeys(walk(condition)))
    elapsed = [c for c in parts if isinstance(c, Elapsed)]
    counted = [c for c in parts if isinstance(c, Counted)]
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
            case Counted(counter=counter, at_least=number):
                fewer = [c for c in counted if c.counter == counter and c.at_least < number]
                implied += [either(Not(of=part), c) for c in fewer]
            case _:
                pass
    return implied


def _search(facts: Condition, atoms: list[Condition], known: Mapping[Condition, bool], tries: list[int]) -> bool:
    tries[0] -= 1
    value = _value(facts, known)
    if value is not None or tries[0] <= 0:
        return value is not False
    atom, *rest = atoms
    return any(_search(facts, rest, {**known, atom: guess}, tries) for guess in (True, False))


def _value(condition: Condition, known: Mapping[Condition, bool]) -> bool | None:
    match condition:
        case Always():
            return True
        case Not(of=of):
            value = _value(of, known)
            return None if value is None else not value
        case And(of=parts):
            values = {_value(part, known) for part in parts}
            return False if False in values else None if None in values else True
        case Or(of=parts):
            values = {_value(part, known) for part in parts}
            return True if True in values else None if None in values else False
        case _:
            return known.get(condition)
