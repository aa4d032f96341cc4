"""Every order in which the parts of a circuit may move after one stimulus, as a graph of where they stand."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from compiler.logic import Bits
from compiler.races.motion import Motion
from compiler.races.written_out import Move, State

__all__ = ["Orders", "Step", "explore", "way", "way_with_blink", "way_without_blink"]

Step = tuple[State, Move]
"""A move, and where the parts stood before it."""

_Node = TypeVar("_Node", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Orders:
    """``onward`` holds for every state that can be come to its moves and where each leads; ``ends`` have none."""

    start: State
    onward: dict[State, tuple[tuple[Move, State], ...]]
    ends: tuple[State, ...]


def explore(motion: Motion, start: State, inputs: Bits, *, limit: int) -> Orders | None:
    """Every order from a state, each part moving for as long as it is asked to; None beyond ``limit`` states."""
    onward: dict[State, tuple[tuple[Move, State], ...]] = {}
    ends = []
    waiting = [start]
    known = {start}
    while waiting:
        if len(known) > limit:
            return None
        state = waiting.pop()
        moves = motion.moves(state, inputs)
        onward[state] = tuple((move, motion.step(state, move)) for move in moves)
        if not moves:
            ends.append(state)
        for _, following in onward[state]:
            if following not in known:
                known.add(following)
                waiting.append(following)
    return Orders(start, onward, tuple(sorted(ends)))


def way(orders: Orders, goal: Callable[[State], bool], *, start: State | None = None) -> tuple[Step, ...] | None:
    """A shortest order from the start to a state that is a goal."""
    first = orders.start if start is None else start
    return _shortest(first, lambda state: orders.onward[state], goal)


def way_with_blink(
    orders: Orders, lit: Callable[[State], bool], *, before: bool, end: State
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
    return (*steps, *(way(orders, lambda state: state == end, start=last) or ()))


def way_without_blink(
    orders: Orders, lit: Callable[[State], bool], *, before: bool, end: State
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
    orders: Orders, lit: Callable[[State], bool], node: tuple[State, int]
) -> Iterator[tuple[Move, tuple[State, int]]]:
    """The moves from a state together with how often an output has changed by then."""
    state, changes = node
    for move, following in orders.onward[state]:
        yield move, (following, changes + (lit(state) != lit(following)))


def _after(orders: Orders, state: State, move: Move) -> State:
    return next(following for made, following in orders.onward[state] if made == move)


def _shortest(
    start: _Node,
    onward: Callable[[_Node], Iterator[tuple[Move, _Node]] | tuple[tuple[Move, _Node], ...]],
    goal: Callable[[_Node], bool],
) -> tuple[tuple[_Node, Move], ...] | None:
    """Breadth first: the nodes and moves on a shortest way to a goal."""
    came: dict[_Node, tuple[_Node, Move] | None] = {start: None}
    queue = deque([start])
    while queue:
        node = queue.popleft()
        if goal(node):
            steps = []
            link = came[node]
            while link is not None:
                steps.append(link)
                link = came[link[0]]
            return tuple(reversed(steps))
        for move, following in onward(node):
            if following not in came:
                came[following] = (node, move)
                queue.append(following)
    return None
