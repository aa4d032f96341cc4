"""The times that requirements speak of: which there are, and what each of them counts from."""

from __future__ import annotations

from collections.abc import Iterable

from compiler.condition import Active, Condition, Elapsed, Sustained, walk

__all__ = ["Timed", "counts_from", "times_in"]

Timed = Sustained | Elapsed


def times_in(conditions: Iterable[Condition]) -> tuple[Timed, ...]:
    """Every time in some conditions, each once; one inside another comes before it."""
    found = [part for c in conditions for part in reversed(list(walk(c))) if isinstance(part, Timed)]
    return tuple(dict.fromkeys(found))


def counts_from(timed: Timed) -> Condition:
    """What must be true without a break while a time runs."""
    match timed:
        case Sustained(of=of):
            return of
        case Elapsed(step=step):
            return Active(step=step)
