"""The plainest condition that is true in given rows of a truth table: prime implicants, then as few as cover.

Quine 1952 and McCluskey 1956 (from memory); the cover is chosen greedily, which for a handful of inputs is the
least or nearly so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations, product

from compiler.condition import Condition, Signal, both, either, negated

__all__ = ["plainest"]

_Cube = tuple[bool | None, ...]  # None: whatever it is


def plainest(names: Sequence[str], holds: Callable[[dict[str, bool]], bool]) -> Condition | None:
    """The condition over ``names`` that is true where ``holds`` says so; None where it never is."""
    rows = [row for row in product((True, False), repeat=len(names)) if holds(dict(zip(names, row, strict=True)))]
    if not rows:
        return None
    return either(*(_words(names, cube) for cube in _cover(_primes(rows), rows)))


def _words(names: Sequence[str], cube: _Cube) -> Condition:
    signals = ((Signal(device=name), on) for name, on in zip(names, cube, strict=True))
    return both(*(signal if on else negated(signal) for signal, on in signals if on is not None))


def _primes(rows: Sequence[_Cube]) -> list[_Cube]:
    """The cubes that cannot be made larger."""
    level, primes = set(rows), set[_Cube]()
    while level:
        merged, larger = set[_Cube](), set[_Cube]()
        for one, other in combinations(level, 2):
            apart = [k for k, (a, b) in enumerate(zip(one, other, strict=True)) if a != b]
            if len(apart) == 1 and None not in (one[apart[0]], other[apart[0]]):
                larger.add((*one[: apart[0]], None, *one[apart[0] + 1 :]))
                merged |= {one, other}
        primes |= level - merged
        level = larger
    return sorted(primes, key=lambda cube: ([k is not None for k in cube].count(True), str(cube)))


def _cover(primes: list[_Cube], rows: Sequence[_Cube]) -> list[_Cube]:
    left, chosen = set(rows), list[_Cube]()
    while left:
        best = max(primes, key=lambda cube: sum(_holds(cube, row) for row in left))
        chosen.append(best)
        left = {row for row in left if not _holds(best, row)}
    return chosen


def _holds(cube: _Cube, row: _Cube) -> bool:
    return all(wanted is None or wanted == is_ for wanted, is_ in zip(cube, row, strict=True))
