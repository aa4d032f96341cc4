"""Transitions that break off other work, and what they keep from clearing at the same moment.

Of those that would break off one another the first written clears, and nothing clears out of a step that is broken
off (see ``compiler.chart.Transition``). What breaks off the same steps, whichever step it comes from, is one group,
so that the rest can say ``NOT Aborted_1`` instead of naming each.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from compiler.chart import Chart, Transition
from compiler.condition import both
from targets.controller.exclusive import can_hold

__all__ = ["Group", "first_ones", "groups", "kept_back_by"]


@dataclass(frozen=True, slots=True)
class Group:
    """Transitions of which each leaves all these ``steps``, mostly by breaking them off, some as its own source."""

    steps: frozenset[str]
    members: tuple[Transition, ...]


def groups(chart: Chart) -> tuple[Group, ...]:
    """The groups of a chart, in the order written: as few as may be.

    Where each breaks off the other branches, what it breaks off is the same for a branch; where each breaks off all
    else, that and its own source together are the same for all.
    """
    breaking = [t for t in chart.transitions if t.aborts]
    others = _grouped((frozenset(t.aborts), t) for t in breaking)
    with_own = _grouped((frozenset((*t.aborts, *t.sources)), t) for t in breaking)
    return min(others, with_own, key=len)


def _grouped(pairs: Iterable[tuple[frozenset[str], Transition]]) -> tuple[Group, ...]:
    found: dict[frozenset[str], list[Transition]] = {}
    for steps, transition in pairs:
        found.setdefault(steps, []).append(transition)
    return tuple(Group(steps, tuple(members)) for steps, members in found.items())


def first_ones(chart: Chart, transition: Transition) -> tuple[Transition, ...]:
    """Of the transitions written before one that breaks off work: those with which it can't clear."""
    before = chart.transitions[: chart.transitions.index(transition)]
    return tuple(
        other
        for other in before
        if other.aborts and (_broken_off(other, transition) or _broken_off(transition, other))
    )


def kept_back_by(transition: Transition, known: Sequence[Group]) -> tuple[tuple[Group, ...], tuple[Transition, ...]]:
    """What keeps back a transition that breaks off nothing: whole groups, and single transitions of other groups.

    A group is told whole where those of its members that do not break off a source of the transition can't hold
    together with it in any case.
    """
    whole: list[Group] = []
    single: list[Transition] = []
    for group in known:
        against = [other for other in group.members if _broken_off(other, transition)]
        others = [other for other in group.members if other not in against]
        if against and not any(_can_both_hold(other, transition) for other in others):
            whole.append(group)
        else:
            single += against
    return tuple(whole), tuple(single)


def _broken_off(by: Transition, transition: Transition) -> bool:
    """Whether one transition breaks off a source of the other."""
    return bool((set(by.aborts) - set(by.sources)) & set(transition.sources))


def _can_both_hold(first: Transition, second: Transition) -> bool:
    return can_hold(both(first.condition, second.condition), *first.sources, *second.sources, alone=False)
