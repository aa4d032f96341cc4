"""Stations and branches of parallel work, as an engineer sees them in a chart. Only comments and order go by this."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from compiler.chart import Chart, Step, Transition

__all__ = ["Branch", "Station", "branches", "heading_for", "span", "stations"]


@dataclass(frozen=True, slots=True)
class Station:
    """Steps that hang together. ``heading`` names them where there is more than one station, else it is empty."""

    heading: str
    steps: tuple[Step, ...]
    transitions: tuple[Transition, ...]


@dataclass(frozen=True, slots=True)
class Branch:
    """One of ``many`` branches of the parallel work that a transition starts, numbered from 1."""

    fork: str
    number: int
    many: int
    steps: frozenset[str]

    @property
    def heading(self) -> str:
        """What stands above it."""
        return f"Branch {self.number} of {self.many}, from {self.fork} on"


def stations(chart: Chart) -> tuple[Station, ...]:
    """The stations of a chart, in the order of their first steps."""
    place = {step.name: k for k, step in enumerate(chart.steps)}
    together = list(range(len(chart.steps)))

    def head(k: int) -> int:
        while together[k] != k:
            k = together[k]
        return k

    initial = {step.name for step in chart.steps if step.initial}
    for transition in chart.transitions:
        if len(transition.targets) > 1 and initial.issuperset(transition.targets):
            continue  # a way back to rest that several stations share
        first, *others = (
            head(place[name]) for name in (*transition.sources, *transition.targets, *transition.aborts)
        )
        for other in others:
            low, high = sorted((head(first), head(other)))
            together[high] = low
    groups: dict[int, list[Step]] = {}
    for k, step in enumerate(chart.steps):
        groups.setdefault(head(k), []).append(step)
    working = sum(any(step.actions for step in steps) for steps in groups.values())
    return tuple(
        Station(
            _heading(chart, steps, number, alone=working < 2) if len(groups) > 1 else "",
            tuple(steps),
            tuple(t for t in chart.transitions if head(place[t.sources[0]]) == k),
        )
        for number, (k, steps) in enumerate(groups.items(), 1)
    )


def _heading(chart: Chart, steps: Sequence[Step], number: int, *, alone: bool) -> str:
    """The name that all its steps begin with, else its number and the steps it has. Steps that drive nothing
    remember something for others."""
    names = [step.name for step in steps]
    name, mark, _ = names[0].rpartition("_")
    listed = names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"
    if not any(step.actions for step in steps):
        return f"Remembered for others: {listed}"
    if chart.forcing and not any(step.initial for step in steps) and set(names) & set(chart.forcing.steps):
        return f"{chart.forcing.words.text or 'The way back'}: {listed}"
    if mark and all(other.startswith(f"{name}_") for other in names):
        return f"Station {name}: {listed}"
    return f"The cycle: {listed}" if alone else f"Station {number}: {listed}"


def branches(chart: Chart) -> tuple[Branch, ...]:
    """Every branch of parallel work, those inside others first."""
    return tuple(sorted(_all_branches(chart), key=lambda branch: len(branch.steps)))


def heading_for(names: Collection[str], known: Sequence[Branch]) -> str:
    """What stands above something that all these steps share: the innermost branch they are in."""
    return next((branch.heading for branch in known if branch.steps.issuperset(names)), "Main line")


def span(chart: Chart, names: Collection[str]) -> str:
    """Steps in words: from the first to the last where all between are meant, else one by one."""
    places = [k for k, step in enumerate(chart.steps) if step.name in names]
    if len(places) > 2 and places[-1] - places[0] == len(places) - 1:
        return f"{chart.steps[places[0]].name} to {chart.steps[places[-1]].name}"
    return ", ".join(chart.steps[k].name for k in places)


def _all_branches(chart: Chart) -> Iterator[Branch]:
    for fork in chart.transitions:
        if len(fork.targets) < 2:
            continue
        reached = [_reached(chart, target) for target in fork.targets]
        apart = sum(map(len, reached)) == len(frozenset().union(*reached))
        if apart and not any(set(fork.sources) & steps for steps in reached):
            for number, steps in enumerate(reached, 1):
                yield Branch(fork.name, number, len(reached), steps)


def _reached(chart: Chart, first: str) -> frozenset[str]:
    """The steps that can be reached from one without the help of any other; what breaks off work is left out."""
    steps = {first}
    grown = True
    while grown:
        grown = False
        for t in chart.transitions:
            if not t.aborts and steps.issuperset(t.sources) and not steps.issuperset(t.targets):
                steps.update(t.targets)
                grown = True
    return frozenset(steps)
