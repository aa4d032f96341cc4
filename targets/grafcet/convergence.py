"""Where the ways of a chart come together again and which of them lead back: loops and immediate post-dominators.

Loops close by edges back to a step that was passed on the way (depth first from the initial steps). With those taken
out, a step's ways come together at its immediate post-dominator (Lengauer and Tarjan 1979 for the notion; computed by
iteration to a fixed point, Cooper, Harvey and Kennedy 2001).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from compiler.chart import Chart, Transition

__all__ = ["Convergence", "Node", "Return"]


@dataclass(frozen=True, slots=True)
class Return:
    """The place where the ways back to a step come together."""

    to: str


Node = str | Return


class Convergence:
    """What leads back and what comes together in a chart. ``onward``: each step's transitions, faults apart."""

    def __init__(self, chart: Chart, onward: Mapping[str, list[Transition]]) -> None:
        self._onward = onward
        self._initial = {step.name for step in chart.steps if step.initial}
        self._backward = _backward([s.name for s in chart.steps if s.initial], onward)
        self.loops = {to for _, to in self._backward}
        self._after = self._post_dominators(chart)

    def returns(self, transition: Transition, loop: str | None) -> bool:
        """Whether a transition leads back to the top of the loop around it."""
        back = [(source, loop) for source in transition.sources]
        return loop is not None and transition.targets == (loop,) and any(edge in self._backward for edge in back)

    def back(self, step: str, loop: str | None) -> Transition | None:
        """The way from a step back to the top of the loop, where that step has other ways on as well. None for the
        whole cycle: it closes at its end, and whatever returns to rest sooner is drawn as a reference."""
        if loop in self._initial:
            return None
        ways = [t for t in self._onward[step] if self.returns(t, loop)]
        return ways[0] if len(ways) == 1 and len(self._onward[step]) > 1 else None

    def lasts(self, loop: str) -> list[str]:
        """The steps from which a loop goes back; several where loops inside one another begin together."""
        return [source for source, to in self._backward if to == loop]

    def after(self, step: str) -> Node | None:
        """Where the ways out of a step have all come together again, or None."""
        return self._after.get(step)

    def _edges(self, name: str) -> list[Node]:
        """What follows a step, ways back leading to a place of their own; a way back beside others is left out."""
        found: list[Node] = []
        for t in self._onward[name]:
            found += [Return(to) if (name, to) in self._backward else to for to in t.targets]
        ahead = [node for node in found if isinstance(node, str)]
        return list(ahead) if ahead else found

    def _post_dominators(self, chart: Chart) -> dict[str, Node]:
        edges: dict[Node, list[Node]] = {step.name: self._edges(step.name) for step in chart.steps}
        order = _from_the_ends(edges)
        rank = {node: k for k, node in enumerate(order)}
        nearest: dict[Node, Node | None] = {}
        changed = True
        while changed:
            changed = False
            for node in order:
                known = [n for n in edges.get(node, ()) if n in nearest]
                meeting: Node | None = known[0] if known else None
                for other in known[1:]:
                    meeting = _meet(meeting, other, nearest, rank)
                if node not in nearest or nearest[node] != meeting:
                    nearest[node], changed = meeting, True
        return {name: node for name, node in nearest.items() if isinstance(name, str) and node is not None}


def _meet(
    one: Node | None, other: Node | None, nearest: dict[Node, Node | None], rank: dict[Node, int]
) -> Node | None:
    while one != other:
        if one is None or other is None:
            return None
        if rank[one] > rank[other]:
            one = nearest[one]
        else:
            other = nearest[other]
    return one


def _from_the_ends(edges: Mapping[Node, list[Node]]) -> list[Node]:
    """Every node after all that follow it (the edges make no circle)."""
    order: list[Node] = []
    seen: set[Node] = set()
    for start in edges:
        waiting: list[tuple[Node, bool]] = [(start, False)]
        while waiting:
            node, done = waiting.pop()
            if done:
                order.append(node)
            elif node not in seen:
                seen.add(node)
                waiting.append((node, True))
                waiting.extend((n, False) for n in edges.get(node, ()))
    return order


def _backward(starts: list[str], onward: Mapping[str, list[Transition]]) -> set[tuple[str, str]]:
    """The edges that lead to a step passed on the way, depth first in written order."""
    found: set[tuple[str, str]] = set()
    state: dict[str, bool] = {}  # True: on the way; False: done with
    for start in (*starts, *onward):
        waiting: list[tuple[str, bool]] = [(start, False)]
        while waiting:
            name, leaving = waiting.pop()
            if leaving:
                state[name] = False
                continue
            if name in state:
                continue
            state[name] = True
            waiting.append((name, True))
            ahead = [to for t in onward[name] for to in t.targets]
            found |= {(name, to) for to in ahead if state.get(to) is True}
            waiting.extend((to, False) for to in reversed(ahead) if to not in state)
    return found
