"""Which parts of two logics belong together: those that were never seen to take every combination of their values.

Parts of different branches of parallel work take every combination, those of one branch do not, nor do a step and
its relay. Each set found is one in which every two belong together; sets may share parts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

__all__ = ["combinations_of", "together"]

_MOST_SEEN = 150
"""A set grows no further once it was seen in so many combinations."""

_MORE = 6
"""A set that is made of two takes at most so many combinations more than the two together."""

_RARE = 0.01
"""What would be met in fewer moments than this share of all may have been missed by chance."""

Seen = Sequence[dict[int, int]]
"""For each part, by value, the moments at which it had it, a bit each."""


def together(
    seen: Seen, *, every_two: bool, exclusive: Mapping[int, frozenset[int]] | None = None
) -> list[tuple[int, ...]]:
    """Sets of parts, by their places, every part in one at least; ``every_two``: and every two that belong together
    as well. The fewer sets the quicker, and two that only seem to belong together cost the most. Of the parts in
    ``exclusive`` it is known with which of them they belong together."""
    exclusive = exclusive or {}
    bound = _bound(seen, exclusive)
    near: list[set[int]] = [set() for _ in seen]
    for p, q in bound:
        near[p].add(q)
        near[q].add(p)
    found: list[tuple[int, ...]] = []
    covered: set[tuple[int, int]] = set()
    inside: set[int] = set()
    for p, q in sorted(bound, key=lambda pair: -bound[pair]):
        if (p, q) not in covered and (every_two or q in exclusive.get(p, ()) or not {p, q} <= inside):
            grown = _grown(p, q, near, bound, seen)
            covered |= set(combinations(grown, 2))
            inside |= set(grown)
            found.append(grown)
    found += [(part,) for part in range(len(seen)) if part not in inside and len(seen[part]) > 1]
    alone = [(part,) for part in range(len(seen)) if part not in inside and len(seen[part]) == 1]
    return _merged(found, seen) + alone


def combinations_of(parts: Sequence[int], seen: Seen) -> dict[tuple[int, ...], int]:
    """The combinations of values in which some parts were seen, and the moments of each."""
    found: dict[tuple[int, ...], int] = {(): -1}
    for part in parts:
        found = {
            (*values, value): there
            for values, moments in found.items()
            for value, f in seen[part].items()
            if (there := moments & f)
        }
    return found


def _merged(sets: list[tuple[int, ...]], seen: Seen) -> list[tuple[int, ...]]:
    """Sets of which one says something about the other that they do not say each by itself: made one."""
    moments = max(max(f.bit_length() for f in part.values()) for part in seen)
    waiting = [(parts, combinations_of(parts, seen)) for parts in sets]
    found: list[tuple[tuple[int, ...], dict[tuple[int, ...], int]]] = []
    while waiting:
        parts, taken = waiting.pop()
        for k, (others, also_taken) in enumerate(found):
            if not _apart(parts, taken, others, also_taken, moments):
                union = tuple(sorted({*parts, *others}))
                together = combinations_of(union, seen)
                # Where nearly every combination is taken they have little to do with each other after all.
                if len(together) <= min(_MOST_SEEN, len(taken) + len(also_taken) + _MORE):
                    del found[k]
                    waiting.append((union, together))
                    break
        else:
            found.append((parts, taken))
    return [parts for parts, _ in reversed(found)]


def _apart(
    some: tuple[int, ...],
    taken: dict[tuple[int, ...], int],
    others: tuple[int, ...],
    also_taken: dict[tuple[int, ...], int],
    moments: int,
) -> bool:
    """Whether two sets were seen in every combination in which they have the parts that they share alike, but for
    those that would be rare."""
    shared = [(some.index(part), others.index(part)) for part in some if part in others]
    alike: dict[tuple[int, ...], int] = {}
    for values, f in taken.items():
        key = tuple(values[k] for k, _ in shared)
        alike[key] = alike.get(key, 0) | f
    for values, f in taken.items():
        key = tuple(values[k] for k, _ in shared)
        for other_values, g in also_taken.items():
            if key == tuple(other_values[k] for _, k in shared) and not f & g:
                expected = f.bit_count() * g.bit_count() / alike[key].bit_count()
                if expected > _RARE * moments:
                    return False
    return True


def _bound(seen: Seen, exclusive: Mapping[int, frozenset[int]]) -> dict[tuple[int, int], float]:
    """For two parts that belong together, how unlikely that would be by chance: how often the combinations that were
    never seen would have been, had each part its values by itself."""
    found = {}
    for p, q in combinations(range(len(seen)), 2):
        if p in exclusive and q in exclusive and q not in exclusive[p]:
            continue
        unseen = 0
        for a in seen[p].values():
            for b in seen[q].values():
                if not a & b:
                    unseen += a.bit_count() * b.bit_count()
        if unseen or q in exclusive.get(p, ()):
            found[p, q] = float(unseen)
    return found


def _grown(p: int, q: int, near: list[set[int]], bound: dict[tuple[int, int], float], seen: Seen) -> tuple[int, ...]:
    """A set with these two, as large as can be: first come those that are bound the most."""
    members = {p, q}
    others = near[p] & near[q]
    while others:
        best = max(others, key=lambda r: (sum(bound[min(r, m), max(r, m)] for m in members), -r))
        if len(combinations_of((*members, best), seen)) > _MOST_SEEN:
            others.discard(best)
            continue
        members.add(best)
        others &= near[best]
    return tuple(sorted(members))
