"""Binary decision diagrams: boolean functions as shared graphs, so that equal functions are one and the same number.

An edge is twice its node and one more when it means the opposite, so that negation costs nothing; the edge to the
higher branch of a node is never negated, which keeps functions canonical. Variables are asked in the order in which
they were made.

Source: R. E. Bryant, "Graph-based algorithms for boolean function manipulation", 1986; K. S. Brace, R. L. Rudell and
R. E. Bryant, "Efficient implementation of a BDD package", 1990 (both from memory).
"""

from __future__ import annotations

import random
from collections.abc import Iterable

__all__ = ["FALSE", "TRUE", "Diagrams", "TooLarge"]

TRUE = 0
FALSE = 1
_BOTTOM = 1 << 60
"""The level of the one node without a variable."""


class TooLarge(Exception):
    """There are more nodes than anybody wants to wait for."""


class Diagrams:
    """All functions of one set of variables. Operations raise TooLarge beyond so many nodes."""

    def __init__(self, most: int) -> None:
        self.most = most
        self.variables = 0
        self._level = [_BOTTOM]
        self._high = [TRUE]
        self._low = [TRUE]
        self._known: dict[tuple[int, int, int], int] = {}
        self._products: dict[tuple[int, int], int] = {}
        self._supports: dict[int, frozenset[int]] = {0: frozenset()}

    true = TRUE
    false = FALSE

    def __len__(self) -> int:
        return len(self._level)

    def variable(self) -> int:
        """A new variable, after all others."""
        self.variables += 1
        return self._node(self.variables - 1, TRUE, FALSE)

    def _node(self, level: int, high: int, low: int) -> int:
        if high == low:
            return high
        turned = high & 1
        key = (level, high ^ turned, low ^ turned)
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = 2 * len(self._level)
            if len(self._level) > self.most:
                raise TooLarge
            self._level.append(level)
            self._high.append(high ^ turned)
            self._low.append(low ^ turned)
        return known ^ turned

    def no(self, f: int) -> int:
        """Not f."""
        return f ^ 1

    def both(self, f: int, g: int) -> int:
        """f and g."""
        if f > g:
            f, g = g, f
        if f in (TRUE, g):
            return g
        if f in (FALSE, g ^ 1):
            return FALSE
        known = self._products.get((f, g))
        if known is not None:
            return known
        a, b = f >> 1, g >> 1
        level = self._level
        at, other = level[a], level[b]
        top = at if at < other else other
        if at == top:
            turned = f & 1
            f1, f0 = self._high[a] ^ turned, self._low[a] ^ turned
        else:
            f1 = f0 = f
        if other == top:
            turned = g & 1
            g1, g0 = self._high[b] ^ turned, self._low[b] ^ turned
        else:
            g1 = g0 = g
        found = self._node(top, self.both(f1, g1), self.both(f0, g0))
        self._products[f, g] = found
        return found

    def either(self, f: int, g: int) -> int:
        """f or g."""
        return self.both(f ^ 1, g ^ 1) ^ 1

    def choose(self, condition: int, f: int, g: int) -> int:
        """f where the condition holds, g elsewhere."""
        if f == g or condition == TRUE:
            return f
        if condition == FALSE:
            return g
        return self.either(self.both(condition, f), self.both(condition ^ 1, g))

    def all(self, functions: Iterable[int]) -> int:
        """All of them."""
        found = TRUE
        for f in functions:
            found = self.both(found, f)
        return found

    def any(self, functions: Iterable[int]) -> int:
        """Any of them."""
        return self.all(f ^ 1 for f in functions) ^ 1

    def support(self, f: int) -> frozenset[int]:
        """The variables that f depends on, by their numbers."""
        node = f >> 1
        known = self._supports.get(node)
        if known is None:
            parts = self.support(self._high[node]) | self.support(self._low[node])
            known = self._supports[node] = parts | {self._level[node]}
        return known

    def way(self, f: int, rng: random.Random) -> dict[int, bool]:
        """Values of some variables, by their numbers, with which f holds whatever the others are; f is not FALSE."""
        found: dict[int, bool] = {}
        while f != TRUE:
            node, turned = f >> 1, f & 1
            high, low = self._high[node] ^ turned, self._low[node] ^ turned
            on = low == FALSE or (high != FALSE and rng.random() < 0.5)
            found[self._level[node]] = on
            f = high if on else low
        return found
