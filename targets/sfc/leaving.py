"""How parallel work is left all at once, branch by branch: what STOP does where it is held.

Each branch gets a step of our own in which nothing is on. Every step of the branch goes there while STOP is called,
and once all branches have, they are joined. So the text grows with the steps and not with their combinations.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from compiler.chart import Transition

__all__ = ["Leaving", "leaving"]

Move = tuple[tuple[str, ...], str]
"""The steps that are left together, and the one they lead to."""


@dataclass(frozen=True, slots=True)
class Leaving:
    """``called`` are the moves while STOP is called, ``joining`` those that follow at once; ``steps`` are our own."""

    called: tuple[Move, ...]
    joining: tuple[Move, ...]
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Branch:
    steps: frozenset[str]
    fork: Transition
    out: str


def leaving(
    transitions: Sequence[Transition], situations: Sequence[frozenset[str]], home: str, *, new: Callable[[], str]
) -> Leaving | None:
    """The moves that lead from each of these situations to the step ``home`` alone; None where branches are so
    entangled that they do not. ``new`` gives names for steps."""
    branches = sorted(_branches(transitions, new), key=lambda branch: len(branch.steps))
    inner = {name: branch.out for branch in reversed(branches) for name in branch.steps}
    steps = sorted(frozenset().union(*situations))
    called = tuple(((name,), inner.get(name, home)) for name in steps if name != home)
    forks = {id(branch.fork): branch.fork for branch in branches}
    joining = tuple(
        (tuple(branch.out for branch in branches if branch.fork is fork), inner.get(fork.sources[0], home))
        for fork in forks.values()
    )
    ends = all(_end(situation, called, joining) == {home} for situation in situations)
    return Leaving(called, joining, tuple(branch.out for branch in branches)) if ends else None


def _branches(transitions: Sequence[Transition], new: Callable[[], str]) -> Iterator[_Branch]:
    for fork in transitions:
        if len(fork.targets) > 1:
            for target in fork.targets:
                yield _Branch(_reached(transitions, target), fork, new())


def _reached(transitions: Sequence[Transition], first: str) -> frozenset[str]:
    """The steps that can be reached from one without the help of any other; what breaks off work is left out."""
    steps = {first}
    grown = True
    while grown:
        grown = False
        for t in transitions:
            if not t.aborts and steps.issuperset(t.sources) and not steps.issuperset(t.targets):
                steps.update(t.targets)
                grown = True
    return frozenset(steps)


def _end(situation: frozenset[str], called: Sequence[Move], joining: Sequence[Move]) -> frozenset[str]:
    """Where the moves lead, all together in each scan."""
    alone: Mapping[str, str] = {sources[0]: target for sources, target in called}
    for _ in range(len(joining) + 2):
        moved = frozenset(alone.get(name, name) for name in situation)
        for sources, target in joining:
            if situation.issuperset(sources):
                moved = moved - set(sources) | {target}
        if moved == situation:
            break
        situation = moved
    return situation
