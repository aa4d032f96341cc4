"""Every order in which the parts of a circuit may move after one stimulus, as a graph of where they stand."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from compiler.logic import Bits
from compiler.proof.zone import Zone
from compiler.races.apart import Apart
from compiler.races.clocks import Clocks
from compiler.races.written_out import Move, State

__all__ = ["Node", "Orders", "Step", "explore", "way", "way_with_blink", "way_without_blink", "ways_to_ends"]

Node = tuple[State, Zone]
"""Where the parts stand, and the clocks of those that are asked to move."""

Step = tuple[Node, Move]
"""A move, and the node before it."""

_Any = TypeVar("_Any", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Orders:
    """``onward`` holds for every node that can be come to its moves and where each leads; ``ends`` have none."""

    start: Node
    onward: dict[Node, tuple[tuple[Move, Node], ...]]
    ends: tuple[Node, ...]


def explore(clocks: Clocks | Apart, start: State, inputs: Bits, *, limit: int) -> Orders | None:
    """Every order from a state that ``clocks`` leave room for; None beyond ``limit`` nodes."""
    first = (start, clocks.first(start, inputs))
    onward: dict[Node, tuple[tuple[Move, Node], ...]] = {}
    ends = []
    waiting = [first]
    known = {first}
    while waiting:
        if len(known) > limit:
            return None
        node = waiting.pop()
        moves = tuple((move, (state, zone)) for move, state, zone in clocks.onward(*node, inputs))
        onward[node] = moves
        if not moves:
            ends.append(node)
        for _, following in moves:
            if following not in known:
                known.add(following)
                waiting.append(following)
    return Orders(first, onward, tuple(sorted(ends)))


def way(
    orders: Orders,
    goal: Callable[[Node], bool],
    *,
    start: Node | None = None,
    within: frozenset[Node] | None = None,
) -> tuple[Step, ...] | None:
    """A shortest order from the start to a node that is a goal, ``within`` some nodes where that is asked."""
    first = orders.start if start is None else start
    if within is None:
        return _shortest(first, lambda node: orders.onward[node], goal)
    return _shortest(first, lambda node: tuple(step for step in orders.onward[node] if step[1] in within), goal)


def ways_to_ends(orders: Orders) -> dict[Node, tuple[Step, ...]]:
    """A shortest order to each end."""
    came = dict[Node, Step | None]()
    ends = set(orders.ends)
    _shortest(orders.start, lambda node: orders.onward[node], lambda node: ends.issubset(came), came)
    return {end: _followed(came, end) for end in orders.ends}


def way_with_blink(
    orders: Orders, lit: Callable[[Node], bool], *, before: bool, end: Node
) -> tuple[Step, ...] | None:
    """A shortest order to the end in which an output changes more often than it must, or None."""
    must = int(lit(end) != before)
    blinked = _shortest(
        (orders.start, int(lit(orders.start) != before)),
        lambda node: _counted(orders, lit, node),
        lambda node: node[1] > must,
    )
    if blinked is None:
        return None
    steps = tuple((node[0], move) for node, move in blinked)
    last = _after(orders, *steps[-1]) if steps else orders.start
    return (*steps, *(way(orders, lambda node: node == end, start=last) or ()))


def way_without_blink(
    orders: Orders, lit: Callable[[Node], bool], *, before: bool, end: Node
) -> tuple[Step, ...] | None:
    """A shortest order to the end in which an output changes no more often than it must, or None."""
    must = int(lit(end) != before)
    first = (orders.start, int(lit(orders.start) != before))
    if first[1] > must:
        return None
    steady = _shortest(
        first,
        lambda node: ((move, after) for move, after in _counted(orders, lit, node) if after[1] <= must),
        lambda node: node[0] == end,
    )
    return None if steady is None else tuple((node[0], move) for node, move in steady)


def _counted(
    orders: Orders, lit: Callable[[Node], bool], at: tuple[Node, int]
) -> Iterator[tuple[Move, tuple[Node, int]]]:
    """The moves from a node together with how often an output has changed by then."""
    node, changes = at
    for move, following in orders.onward[node]:
        yield move, (following, changes + (lit(node) != lit(following)))


def _after(orders: Orders, node: Node, move: Move) -> Node:
    return next(following for made, following in orders.onward[node] if made == move)


def _shortest(
    start: _Any,
    onward: Callable[[_Any], Iterator[tuple[Move, _Any]] | tuple[tuple[Move, _Any], ...]],
    goal: Callable[[_Any], bool],
    came: dict[_Any, tuple[_Any, Move] | None] | None = None,
) -> tuple[tuple[_Any, Move], ...] | None:
    """Breadth first: the nodes and moves on a shortest way to a goal. ``came`` is told from where each node was come
    to."""
    came = {} if came is None else came
    came[start] = None
    queue = deque([start])
    while queue:
        node = queue.popleft()
        if goal(node):
            return _followed(came, node)
        for move, following in onward(node):
            if following not in came:
                came[following] = (node, move)
                queue.append(following)
    return None


def _followed(came: dict[_Any, tuple[_Any, Move] | None], node: _Any) -> tuple[tuple[_Any, Move], ...]:
    """The nodes and moves on the way by which a node was come to."""
    steps = []
    link = came[node]
    while link is not None:
        steps.append(link)
        link = came[link[0]]
    return tuple(reversed(steps))
