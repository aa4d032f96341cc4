"""Whether conditions can hold at all, each of their parts taken as true or false by itself."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from compiler.condition import Always, And, Condition, Counted, Not, Or, both, negated, walk

__all__ = ["covered", "possible"]

_MOST_PARTS = 10  # a thousand cases; beyond that nothing is said


def possible(condition: Condition) -> bool:
    """Whether some state of its parts makes a condition true. True also where it has too many parts to try."""
    parts: list[Condition] = list(
        dict.fromkeys(p for p in walk(condition) if not isinstance(p, Not | And | Or | Always))
    )
    if len(parts) > _MOST_PARTS:
        return True
    cases: Iterator[dict[Condition, bool]] = (
        dict(zip(parts, states, strict=True)) for states in product((True, False), repeat=len(parts))
    )
    return any(_true(condition, case) for case in cases if _counts(case))


def covered(condition: Condition, others: list[Condition]) -> bool:
    """Whether one of the others holds whenever the condition does."""
    return bool(others) and not possible(both(condition, *(negated(other) for other in others)))


def _counts(case: dict[Condition, bool]) -> bool:
    """Whether counters agree with themselves: what has reached a number has reached every smaller one."""
    counts = [(part, true) for part, true in case.items() if isinstance(part, Counted)]
    return not any(
        true and not other_true and part.counter == other.counter and part.at_least >= other.at_least
        for part, true in counts
        for other, other_true in counts
    )


def _true(condition: Condition, case: dict[Condition, bool]) -> bool:
    match condition:
        case Always():
            return True
        case Not(of=of):
            return not _true(of, case)
        case And(of=parts):
            return all(_true(part, case) for part in parts)
        case Or(of=parts):
            return any(_true(part, case) for part in parts)
        case _:
            return case[condition]
