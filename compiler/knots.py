"""Knots of a graph: nodes that all lead to one another, so that going on from one may come back to it."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator
from typing import TypeVar

__all__ = ["knots"]

Node = TypeVar("Node", bound=Hashable)


def knots(starts: Iterable[Node], onward: Callable[[Node], Iterable[Node]]) -> Iterator[frozenset[Node]]:
    """The strongly connected components of what the starts lead to, each after all it leads to itself (R. Tarjan
    1972, from memory). A node that leads nowhere back is one by itself."""
    number: dict[Node, int] = {}
    lowest: dict[Node, int] = {}
    done: set[Node] = set()
    path: list[Node] = []
    calls: list[tuple[Node, Iterator[Node]]] = []

    def enter(node: Node) -> None:
        number[node] = lowest[node] = len(number)
        path.append(node)
        calls.append((node, iter(onward(node))))

    for start in starts:
        if start not in number:
            enter(start)
        while calls:
            node, rest = calls[-1]
            for following in rest:
                if following not in number:
                    enter(following)
                    break
                if following not in done:
                    lowest[node] = min(lowest[node], number[following])
            else:
                calls.pop()
                if calls:
                    lowest[calls[-1][0]] = min(lowest[calls[-1][0]], lowest[node])
                if lowest[node] == number[node]:
                    knot: list[Node] = []
                    while not knot or knot[-1] != node:
                        knot.append(path.pop())
                    done.update(knot)
                    yield frozenset(knot)
