"""Functions as patterns: one bit for each of many runs, so that all of them are carried on at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

__all__ = ["Patterns", "lanes_of"]


class Patterns:
    """All patterns of so many lanes. ``true`` is on in every one."""

    def __init__(self, lanes: int) -> None:
        self.lanes = lanes
        self.true = (1 << lanes) - 1
        self.false = 0

    def no(self, f: int) -> int:
        return self.true ^ f

    def both(self, f: int, g: int) -> int:
        return f & g

    def either(self, f: int, g: int) -> int:
        return f | g

    def choose(self, condition: int, f: int, g: int) -> int:
        return g ^ (condition & (f ^ g))

    def all(self, functions: Iterable[int]) -> int:
        found = self.true
        for f in functions:
            found &= f
        return found

    def any(self, functions: Iterable[int]) -> int:
        found = 0
        for f in functions:
            found |= f
        return found


def lanes_of(pattern: int) -> Iterator[int]:
    """The lanes in which a pattern is on."""
    while pattern:
        lowest = pattern & -pattern
        yield lowest.bit_length() - 1
        pattern ^= lowest
