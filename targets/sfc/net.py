"""The steps and transitions of a chart as an SFC has them.

An SFC has no order that forces a situation and no transition that breaks off work. While STOP is held, parallel work
is left branch by branch (``leaving.py``); the rest is told by a transition for every combination of steps that can be
active then, ahead of all others that leave one of them.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum, auto
from itertools import combinations, count, groupby

from compiler.chart import Chart, Step, Transition, Words
from compiler.condition import Active, Always, Condition, Counted, Elapsed, Rise, both, walk
from targets.controller.exclusive import can_hold
from targets.sfc.leaving import leaving

__all__ = ["Kind", "Net", "Unfit", "Way", "net"]

_MOST_SITUATIONS = 3000
_MOST_COMBINATIONS = 300

Situation = frozenset[str]


class Unfit(Exception):
    """Why a chart can't be told as an SFC, in plain words."""


class Kind(Enum):
    """What a transition of the SFC is in the chart, in the order in which they go first."""

    FORCING = auto()
    JOINING = auto()
    BREAKING = auto()
    PLAIN = auto()


@dataclass(frozen=True, slots=True)
class Way:
    """A transition of the SFC. ``name`` is that of the chart's, for which several may stand. ``priority`` is 0 where
    no other leaves one of its steps. ``unless_forced`` says that it must look at the forcing condition itself, since
    no transition tells that there is one."""

    kind: Kind
    sources: tuple[str, ...]
    targets: tuple[str, ...]
    condition: Condition
    words: Words
    name: str
    priority: int = 0
    unless_forced: bool = False


@dataclass(frozen=True, slots=True)
class Net:
    """``parts`` are the steps that hang together, each with its ways. Steps of our own lead to the initial steps of a
    part that has several, since a part of an SFC begins in one step, and out of parallel work."""

    chart: Chart
    parts: tuple[tuple[tuple[Step, ...], tuple[Way, ...]], ...]


def net(chart: Chart) -> Net:
    """The SFC of a chart. Raises Unfit."""
    chart, start = _one_beginning(chart)
    forced = _forced(chart, start)
    _no_two_ways(chart)
    parts = []
    for steps in _parts(chart, forced):
        transitions = [t for t in chart.transitions if t.sources[0] in steps]
        begin = frozenset(step.name for step in chart.steps if step.initial and step.name in steps)
        situations = _situations(begin, transitions, None if forced is None else forced & steps)
        _all_reached(steps, situations)
        _no_two_break_off(transitions, situations)
        _counted_apart(chart, situations)
        ways, out = _forcing(chart, transitions, situations, forced)
        ways += _breaking(chart, transitions, situations, forced)
        combined = sum(len(way.sources) > 1 for way in ways if way.kind is not Kind.JOINING)
        if combined > _MOST_COMBINATIONS:
            raise Unfit(
                f"STOP or a fault would break off parallel work in {combined} combinations of steps, and an SFC has "
                f"to name each; up to {_MOST_COMBINATIONS} are printed"
            )
        ways += [_plain(t, forced) for t in transitions if not t.aborts]
        words = Words() if chart.forcing is None else chart.forcing.words
        own = tuple(Step(name=name, words=words) for name in out)
        chart = chart.model_copy(update={"steps": (*chart.steps, *own)})
        listed = tuple(step for step in chart.steps if step.name in steps)
        parts.append(((*listed, *own), tuple(_ranked(ways))))
    _counted_in_one_part(chart, [steps for steps, _ in parts])
    return Net(chart, tuple(parts))


def _forced(chart: Chart, start: Collection[str]) -> Situation | None:
    if chart.forcing is None:
        return None
    initial = {step.name for step in chart.steps if step.initial}
    for transition in chart.transitions:
        if set(transition.sources) & initial & set(start):
            initial = initial - set(transition.sources) | set(transition.targets)
    return frozenset(chart.forcing.steps or initial)


# --- the chart, part by part ----------------------------------------------------------------------------------


def _one_beginning(chart: Chart) -> tuple[Chart, tuple[str, ...]]:
    """The chart with one initial step in each part, and the steps that were put before several."""
    start: list[str] = []
    names = {step.name.casefold() for step in chart.steps}
    for part in _parts(chart, frozenset(chart.forcing.steps) or None if chart.forcing else None):
        begin = tuple(step.name for step in chart.steps if step.initial and step.name in part)
        if len(begin) < 2:
            continue
        name = next(n for n in ("Start_up", *(f"Start_up_{k}" for k in range(2, 99))) if n.casefold() not in names)
        names.add(name.casefold())
        start.append(name)
        steps = tuple(s.model_copy(update={"initial": False}) if s.name in begin else s for s in chart.steps)
        first = Transition(name=f"T_{name}", sources=(name,), targets=begin, condition=Always())
        chart = chart.model_copy(
            update={
                "steps": (Step(name=name, initial=True), *steps),
                "transitions": (first, *chart.transitions),
            }
        )
    return chart, tuple(start)


def _parts(chart: Chart, forced: Situation | None) -> list[Situation]:
    """The steps that hang together. What has no beginning of its own, or is left with no step by forcing, goes with
    the part that has one."""
    part = {step.name: {step.name} for step in chart.steps}
    for t in chart.transitions:
        _join(part, (*t.sources, *t.targets, *t.aborts))
    initial = [step.name for step in chart.steps if step.initial]
    for steps in list(_distinct(part)):
        if not steps & set(initial):
            _join(part, (initial[0], *steps))
    if forced is not None:
        home = next(step.name for step in chart.steps if step.name in forced)
        for steps in list(_distinct(part)):
            if not steps & forced:
                _join(part, (home, *steps))
    return [frozenset(steps) for steps in _distinct(part)]


def _join(part: dict[str, set[str]], names: Iterable[str]) -> None:
    first, *others = {id(part[name]): part[name] for name in names}.values()
    for other in others:
        first, smaller = (first, other) if len(first) >= len(other) else (other, first)
        first |= smaller
        part.update(dict.fromkeys(smaller, first))


def _distinct(part: Mapping[str, set[str]]) -> Iterable[set[str]]:
    return {id(steps): steps for steps in part.values()}.values()


def _situations(begin: Situation, transitions: Sequence[Transition], forced: Situation | None) -> list[Situation]:
    """The sets of steps that can be active together, whatever the conditions, in the order found."""
    exits: dict[str, list[Transition]] = {}
    for t in transitions:
        exits.setdefault(t.sources[0], []).append(t)
    found = dict.fromkeys([begin, *([] if forced is None else [forced])])
    waiting = deque(found)
    combined = 0
    while waiting:
        now = waiting.popleft()
        for t in (t for step in sorted(now) for t in exits.get(step, ())):
            after = now - {*t.sources, *t.aborts} | set(t.targets)
            if now.issuperset(t.sources) and after not in found:
                found[after] = None
                waiting.append(after)
                combined += len(after) > 1
        if combined > _MOST_SITUATIONS:
            raise Unfit(f"more than {_MOST_SITUATIONS} combinations of steps can be active together")
    return list(found)


# --- what does not fit ----------------------------------------------------------------------------------------


def _no_two_ways(chart: Chart) -> None:
    """Of transitions that leave one step an SFC clears one, the chart all that hold (IEC 60848:2013 rule 4)."""
    exits: dict[str, list[Transition]] = {}
    for t in chart.transitions:
        for name in t.sources:
            exits.setdefault(name, []).append(t)
    for name, several in exits.items():
        for one, other in combinations(several, 2):
            if can_hold(both(one.condition, other.condition), *one.sources, *other.sources, alone=False):
                raise Unfit(
                    f"{one.name} and {other.name} both leave {name} and can be true together: the sequence then goes "
                    "both ways, and an SFC one way only"
                )


def _no_two_break_off(transitions: Sequence[Transition], situations: Sequence[Situation]) -> None:
    """Of two that break off the same work, neither the other's, the chart clears both and an SFC one."""
    for one, other in combinations([t for t in transitions if t.aborts], 2):
        each_other = set(one.aborts) & set(other.sources) or set(other.aborts) & set(one.sources)
        if each_other or not set(one.aborts) & set(other.aborts):
            continue
        sources = {*one.sources, *other.sources}
        if any(situation >= sources for situation in situations):
            raise Unfit(f"{one.name} and {other.name} can break off the same work at one moment")


def _all_reached(steps: Situation, situations: Sequence[Situation]) -> None:
    missing = sorted(steps.difference(*situations))
    if missing:
        raise Unfit(f"no way leads to {missing[0]}")


def _counted_apart(chart: Chart, situations: Sequence[Situation]) -> None:
    for name in chart.counters:
        steps = _counting(chart, name)
        if any(len(steps & situation) > 1 for situation in situations):
            raise Unfit(f"two steps that count {name} or clear it can be active together")


def _counted_in_one_part(chart: Chart, parts: Sequence[Sequence[Step]]) -> None:
    for name in chart.counters:
        steps = _counting(chart, name)
        if sum(any(step.name in steps for step in part) for part in parts) > 1:
            raise Unfit(f"{name} is counted or cleared by two stations, perhaps at one moment")


def _counting(chart: Chart, counter: str) -> set[str]:
    return {step.name for step in chart.steps if any(c.counter == counter for c in step.counting)}


# --- ways -----------------------------------------------------------------------------------------------------


def _forcing(
    chart: Chart, transitions: Sequence[Transition], situations: Sequence[Situation], forced: Situation | None
) -> tuple[list[Way], tuple[str, ...]]:
    """What leads to the situation that is forced, and the steps of our own on the way there."""
    if forced is None or chart.forcing is None:
        return [], ()
    condition, words = chart.forcing.condition, chart.forcing.words
    here = forced & frozenset().union(*situations)
    if len(here) == 1 and _lasts(condition) and any(len(situation) > 1 for situation in situations):
        (home,) = here
        found = leaving(transitions, situations, home, new=_new_names(chart, "Out"))
        if found is not None:
            place = _places(chart)
            called = sorted(found.called, key=lambda move: place[move[0][0]])
            ways = [Way(Kind.FORCING, sources, (target,), condition, words, "") for sources, target in called]
            ways += [Way(Kind.JOINING, sources, (target,), Always(), words, "") for sources, target in found.joining]
            return ways, found.steps
    return list(_forcing_each(chart, situations, here)), ()


def _lasts(condition: Condition) -> bool:
    """Whether a condition goes by inputs alone, so that it still holds when the chart has come to rest."""
    return not any(isinstance(part, Rise | Active | Elapsed | Counted) for part in walk(condition))


def _new_names(chart: Chart, word: str) -> Callable[[], str]:
    """Names for steps that the chart does not have, letter case ignored."""
    taken = {step.name.casefold() for step in chart.steps}
    numbers = (k for k in count(1) if f"{word}_{k}".casefold() not in taken)
    return lambda: f"{word}_{next(numbers)}"


def _forcing_each(chart: Chart, situations: Sequence[Situation], here: Situation) -> Iterator[Way]:
    """A way for every combination of steps that can be active."""
    assert chart.forcing is not None
    place = _places(chart)
    for situation in sorted(situations, key=len, reverse=True):
        if situation != here:
            yield Way(
                Kind.FORCING,
                _in_order(place, situation),
                _in_order(place, here),
                chart.forcing.condition,
                chart.forcing.words,
                "",
            )


def _breaking(
    chart: Chart, transitions: Sequence[Transition], situations: Sequence[Situation], forced: Situation | None
) -> Iterator[Way]:
    place = _places(chart)
    for t in (t for t in transitions if t.aborts):
        left = {*t.sources, *t.aborts}
        combined = dict.fromkeys(situation & left for situation in situations if situation.issuperset(t.sources))
        for steps in combined:
            looks = forced is not None and steps <= forced
            sources = _in_order(place, steps)
            yield Way(Kind.BREAKING, sources, t.targets, t.condition, t.words, t.name, unless_forced=looks)


def _plain(t: Transition, forced: Situation | None) -> Way:
    looks = forced is not None and forced.issuperset(t.sources)
    return Way(Kind.PLAIN, t.sources, t.targets, t.condition, t.words, t.name, unless_forced=looks)


def _places(chart: Chart) -> Mapping[str, int]:
    return {step.name: k for k, step in enumerate(chart.steps)}


def _in_order(place: Mapping[str, int], names: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(names, key=lambda name: place[name]))


def _ranked(ways: Sequence[Way]) -> Iterator[Way]:
    """The ways with their priorities: of two that leave one step the earlier goes first. Those that stand for one
    transition of the chart never meet, and bear one priority."""
    groups = [list(group) for _, group in groupby(ways, key=lambda way: (way.kind, way.name))]
    left = [frozenset(name for way in group for name in way.sources) for group in groups]
    several = {name for name, count in Counter(name for names in left for name in names).items() if count > 1}
    last: dict[str, int] = {}
    for group, names in zip(groups, left, strict=True):
        priority = 1 + max((last.get(name, 0) for name in names), default=0)
        last.update(dict.fromkeys(names, priority))
        for way in group:
            yield replace(way, priority=priority if several & set(way.sources) else 0)
