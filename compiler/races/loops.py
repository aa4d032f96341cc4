"""Loops among the orders: whether a circuit may go on moving for ever, and how many orders there are at all.

Every relay moves within some time, so an order in which one is asked to move all along and never does is none. A
loop counts only if no part is asked the same thing all round it (weak fairness, as the literature on concurrency
calls it; from memory): a part that moves in it is not, for having moved it is asked something else. If that fails
for a whole knot of loops it fails for each of them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from compiler.knots import knots as knots_of
from compiler.races.orders import Node, Orders, Step, way

__all__ = ["count_orders", "knots", "loop", "may_last"]

_Knot = frozenset[Node]
_MOST_TRIED = 50


def knots(orders: Orders) -> Iterator[_Knot]:
    """The knots of the orders, each after all it leads to."""
    return knots_of((orders.start,), lambda node: (following for _, following in orders.onward[node]))


def count_orders(orders: Orders) -> int:
    """The number of different orders from the start to where it ends; going round a loop counts for nothing."""
    ways: dict[Node, int] = {}
    total = 1
    for knot in knots(orders):
        total = sum(ways[after] for node in knot for _, after in orders.onward[node] if after not in knot) or 1
        ways |= dict.fromkeys(knot, total)
    return total


def may_last(orders: Orders) -> _Knot | None:
    """A knot that the circuit may stay in for ever, or None."""
    return next((knot for knot in knots(orders) if len(knot) > 1 and _fair(orders, knot)), None)


def _fair(orders: Orders, nodes: Collection[Node]) -> bool:
    """Whether no part is asked for one and the same move in all these nodes."""
    return not frozenset.intersection(*(frozenset(move for move, _ in orders.onward[node]) for node in nodes))


def loop(orders: Orders, knot: _Knot) -> tuple[tuple[Step, ...], tuple[Step, ...]]:
    """A way to the knot, and a short loop in it, one that may last if a few tries find it."""
    found = [_round(orders, node, knot) for node in sorted(knot)[:_MOST_TRIED]]
    lasting = [steps for steps in found if _fair(orders, [node for node, _ in steps])]
    best = min(lasting or found, key=len)
    first = best[0][0]
    return way(orders, lambda node: node == first) or (), best


def _round(orders: Orders, node: Node, knot: _Knot) -> tuple[Step, ...]:
    """A shortest way from a node of a knot back to itself; nothing leads back from outside the knot."""
    rounds = []
    for move, following in orders.onward[node]:
        if following not in knot:
            continue
        back = way(orders, lambda other: other == node, start=following, within=knot)
        if back is not None:
            rounds.append(((node, move), *back))
    return min(rounds, key=len)
