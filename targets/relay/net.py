"""A chart read for step relays: one relay a step, whatever branches, joins, loops and stations there are.

Two changes are made that nobody sees in a situation that lasts. Where relays break each other, two steps that lead to
each other would each wait for the other's relay to drop out, so a passing step, left as soon as it is entered, comes
between them; so it does between two steps that count on the same counter, whose coil would not drop out between
them. And a partial chart of two steps that only remembers something is read as one relay that is set and reset.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import combinations

from compiler.chart import ActionKind, Chart, CountingKind, Step, Transition, Words
from compiler.condition import Always, And, Condition, Counted, Elapsed, Not, Or, Rise, both, either, walk
from targets.relay.network import Unfit

__all__ = ["Memory", "Net", "Way", "counting", "net", "written"]


@dataclass(frozen=True, slots=True)
class Way:
    """A transition. ``aborts`` are only those steps that can be active as it clears."""

    sources: tuple[str, ...]
    targets: tuple[str, ...]
    condition: Condition
    aborts: tuple[str, ...] = ()
    words: Words = field(default_factory=Words)


@dataclass(frozen=True, slots=True)
class Memory:
    """A partial chart of two steps that is no more than a relay: in while ``on`` is active, out while ``off`` is."""

    off: str
    on: str
    sets: Way
    resets: Way


@dataclass(frozen=True, slots=True)
class Net:
    """``steps`` have a relay each, in the order written, which is their ``rank``; the ``passing`` ones were added.

    ``starts`` are those active as the supply comes on, ``forced`` those that a stop leads to. ``beside`` tells of
    each step which others can be active with it, other stations aside, and ``station`` which it belongs to.
    """

    steps: tuple[Step, ...]
    ways: tuple[Way, ...]
    memories: tuple[Memory, ...]
    passing: frozenset[str]
    starts: tuple[str, ...]
    forced: tuple[str, ...]
    beside: dict[str, set[str]]
    station: dict[str, int]
    out_of: dict[str, list[Way]]
    into: dict[str, list[Way]]
    aborting: dict[str, list[Way]]
    named: dict[str, Step]
    rank: dict[str, int]

    def leaving(self, step: str) -> list[Way]:
        """The ways by which a step ceases to be active: those out of it, and those that abort it."""
        return [*self.out_of.get(step, ()), *self.aborting.get(step, ())]

    def together(self, one: str, other: str) -> bool:
        """Whether two steps can be active at the same time."""
        return self.station[one] != self.station[other] or other in self.beside[one]


def net(chart: Chart, *, parted: bool = True) -> Net:
    """The steps and ways of a chart. Raises Unfit, with the reason, where step relays cannot do what it says.

    ``parted``: each relay breaks the one before, so passing steps must part those that cannot follow each other.
    """
    counted = {c for step in chart.steps for c in counting(step, CountingKind.COUNT)}
    ways = [
        Way(t.sources, t.targets, condition, t.aborts, t.words)
        for t in chart.transitions
        if (condition := _possible(t.condition, counted)) is not None
    ]
    if parted:
        _plain(chart.transitions)
    initial = tuple(step.name for step in chart.steps if step.initial)
    forced = (chart.forcing.steps or initial) if chart.forcing is not None else initial
    station = _stations(chart, ways)
    memories = tuple(_memories(chart, ways, station, forced))
    remembered = {name for memory in memories for name in (memory.off, memory.on)}
    ways = [way for way in ways if not remembered.intersection(way.sources)]
    steps = [step for step in chart.steps if step.name not in remembered]
    if parted:
        steps, ways = _passing(steps, ways, station)
    beside = _beside(ways, (initial, forced))
    steps = [step for step in steps if step.name in beside]
    ways = [_needed(way, beside) for way in ways if all(source in beside for source in way.sources)]
    out_of: dict[str, list[Way]] = {step.name: [] for step in steps}
    into: dict[str, list[Way]] = {step.name: [] for step in steps}
    aborting: dict[str, list[Way]] = {}
    for way in ways:
        for name in way.sources:
            out_of[name].append(way)
        for name in way.targets:
            into[name].append(way)
        for name in way.aborts:
            aborting.setdefault(name, []).append(way)
    found = Net(
        steps=tuple(steps),
        ways=tuple(ways),
        memories=memories,
        passing=frozenset(s.name for s in steps) - {s.name for s in chart.steps},
        starts=tuple(name for name in initial if name not in remembered),
        forced=tuple(name for name in forced if name not in remembered),
        beside=beside,
        station=station,
        out_of=out_of,
        into=into,
        aborting=aborting,
        named={step.name: step for step in steps},
        rank={step.name: k for k, step in enumerate(steps)},
    )
    _stored_and_counted(found, again=chart.forcing is not None)
    return found


def _possible(condition: Condition, counted: set[str]) -> Condition | None:
    """The condition without the counters that nothing counts; None where it can then never hold."""
    match condition:
        case Counted(counter=name):
            return condition if name in counted else None
        case Not(of=part):
            inner = _possible(part, counted)
            return Always() if inner is None else None if isinstance(inner, Always) else Not(of=inner)
        case And(of=parts):
            every = [_possible(part, counted) for part in parts]
            return None if None in every else both(*(part for part in every if part is not None))
        case Or(of=parts):
            left = [kept for part in parts if (kept := _possible(part, counted)) is not None]
            return Always() if Always() in left else either(*left) if left else None
        case _:
            return condition


def _plain(transitions: Iterable[Transition]) -> None:
    for transition in transitions:
        again = set(transition.sources) & set(transition.targets)
        if again:
            raise Unfit(f"step {sorted(again)[0]} leads to itself, and a relay cannot break itself to make itself")


def _stations(chart: Chart, ways: Iterable[Way]) -> dict[str, int]:
    """A number for each step, the same for all that any transition joins."""
    above = {step.name: step.name for step in chart.steps}

    def top(name: str) -> str:
        while above[name] != name:
            above[name] = above[above[name]]
            name = above[name]
        return name

    for way in ways:
        for name in (*way.sources[1:], *way.targets, *way.aborts):
            above[top(name)] = top(way.sources[0])
    numbers: dict[str, int] = {}
    return {step.name: numbers.setdefault(top(step.name), len(numbers)) for step in chart.steps}


def _memories(chart: Chart, ways: list[Way], station: dict[str, int], forced: tuple[str, ...]) -> Iterator[Memory]:
    sizes = Counter(station.values())
    of: dict[int, list[Way]] = {}
    for way in ways:
        of.setdefault(station[way.sources[0]], []).append(way)
    for off in chart.steps:
        here = of.get(station[off.name], [])
        if not off.initial or sizes[station[off.name]] != 2 or len(here) != 2:
            continue
        sets, resets = here if here[0].sources == (off.name,) else here[::-1]
        on = next(s for s in chart.steps if s is not off and station[s.name] == station[off.name])
        timed = {p.step for c in chart.conditions for p in walk(c) if isinstance(p, Elapsed)}
        if (sets.sources, sets.targets, resets.sources) != ((off.name,), (on.name,), (on.name,)) or on.initial:
            continue
        if off.actions or off.counting or on.counting or any(a.kind is not ActionKind.CONTINUOUS for a in on.actions):
            continue
        if sets.aborts or resets.aborts or {off.name, on.name} & timed or on.name in forced:
            continue
        if any(isinstance(part, Rise | Always) for part in walk(resets.condition)):
            continue
        yield Memory(off.name, on.name, sets, resets)


def _passing(steps: list[Step], ways: list[Way], station: dict[str, int]) -> tuple[list[Step], list[Way]]:
    """The steps and ways, with a passing step wherever two steps cannot follow each other at once."""
    leads = {(source, target) for way in ways for source in way.sources for target in way.targets}
    counts = {s.name: counting(s, CountingKind.COUNT) for s in steps}
    parted: set[tuple[str, str]] = set()
    found: list[Way] = []
    after: dict[str, list[Step]] = {}
    entered: dict[str, set[str]] = {}
    for way in ways:
        pairs = [(source, target) for source in way.sources for target in way.targets]
        loops = [(s, t) for s, t in pairs if (t, s) in leads and (t, s) not in parted]
        if not loops and not any(counts[s] & counts[t] for s, t in pairs):
            found.append(way)
            continue
        parted.update(loops)
        first = way.sources[0]
        between = Step(name=f"{first} to {way.targets[0]} {len(found)}", words=way.words)
        station[between.name] = station[first]
        counts[between.name] = set()
        found.append(replace(way, targets=(between.name,)))
        found.append(Way((between.name,), way.targets, Always(), (), way.words))
        after.setdefault(first, []).append(between)
        entered[between.name] = set(way.targets)
    for k, way in enumerate(found):
        # What breaks off the steps after a passing one breaks that off, too.
        also = tuple(name for name, targets in entered.items() if targets <= set(way.aborts))
        found[k] = replace(way, aborts=(*way.aborts, *also)) if way.aborts else way
    return [s for step in steps for s in (step, *after.get(step.name, ()))], found


def _beside(ways: list[Way], situations: Iterable[tuple[str, ...]]) -> dict[str, set[str]]:
    """For each step that can be reached: the others that can be active with it.

    The rule for free-choice nets (Kovalyov and Esparza, from memory), which finds too many in others: what can be
    active with all sources of a transition can be active with its targets, and the targets with one another.
    """
    beside: dict[str, set[str]] = {}
    leaving: dict[str, list[int]] = {}
    for k, way in enumerate(ways):
        for source in way.sources:
            leaving.setdefault(source, []).append(k)
    waiting: dict[int, None] = {}

    def meet(one: str, other: str) -> None:
        if one != other and other not in beside[one]:
            beside[one].add(other)
            beside[other].add(one)
            waiting.update(dict.fromkeys((*leaving.get(one, ()), *leaving.get(other, ()))))

    def reach(names: tuple[str, ...], with_: Iterable[str] = ()) -> None:
        for name in names:
            if name not in beside:
                beside[name] = set()
                waiting.update(dict.fromkeys(leaving.get(name, ())))
        for one, other in combinations(names, 2):
            meet(one, other)
        for name in names:
            for other in with_:
                meet(name, other)

    for situation in situations:
        reach(situation)
    while waiting:
        k = next(iter(waiting))
        del waiting[k]
        way = ways[k]
        if all(s in beside for s in way.sources) and all(b in beside[a] for a, b in combinations(way.sources, 2)):
            others = set.intersection(*(beside[s] for s in way.sources)) - set(way.aborts)
            twice = others.intersection(way.targets)
            if twice:
                raise Unfit(f"step {sorted(twice)[0]} may be entered while it is active already")
            reach(way.targets, sorted(others))
    return beside


def _needed(way: Way, beside: dict[str, set[str]]) -> Way:
    """The way with only those steps to abort that can be active with its sources."""
    return replace(
        way, aborts=tuple(s for s in way.aborts if s in beside and all(s in beside[a] for a in way.sources))
    )


def written(step: Step) -> dict[str, bool]:
    """The outputs that a step sets or resets as it is entered; of two such actions the last one counts."""
    return {a.output: a.kind is ActionKind.SET_ON_ENTRY for a in step.actions if a.kind is not ActionKind.CONTINUOUS}


def counting(step: Step, kind: CountingKind) -> set[str]:
    """The counters that a step counts on, or clears."""
    return {c.counter for c in step.counting if c.kind is kind}


def _stored_and_counted(read: Net, *, again: bool) -> None:
    """Raises Unfit where contacts, which tell how long a step is active, would differ from what it does on entry."""
    led_to = {*read.starts, *read.forced} if again else set()
    sets: dict[str, list[str]] = {}
    resets: dict[str, list[str]] = {}
    counts: dict[str, list[str]] = {}
    clears: dict[str, list[str]] = {}
    for step in read.steps:
        for action in step.actions:
            if action.kind in (ActionKind.SET_ON_EXIT, ActionKind.RESET_ON_EXIT):
                raise Unfit(f"{action.output} changes as step {step.name} is left, which no contact tells")
        for output, on in written(step).items():
            (sets if on else resets).setdefault(output, []).append(step.name)
            if on and step.name in led_to:
                raise Unfit(f"{output} is set in step {step.name}, in which a stop leaves it off")
        for counter in counting(step, CountingKind.COUNT):
            counts.setdefault(counter, []).append(step.name)
        for counter in counting(step, CountingKind.CLEAR):
            clears.setdefault(counter, []).append(step.name)
    for one, other, name in (*_both(sets, resets), *_both(counts, clears), *_both(counts, counts)):
        if one == other and name in clears and one in clears[name]:
            raise Unfit(f"{name} is cleared and counts in one step, {one}")
        if one != other and read.together(one, other):
            raise Unfit(f"{name} is written in steps {one} and {other}, which may be active at the same time")


def _both(first: dict[str, list[str]], second: dict[str, list[str]]) -> Iterator[tuple[str, str, str]]:
    for name, steps in first.items():
        yield from ((one, other, name) for one in steps for other in second.get(name, ()))
