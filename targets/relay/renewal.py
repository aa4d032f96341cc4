"""A net read for relays that stay in: what each waits for, which drops out which, and repeats made into lines.

A relay that stays in cannot come in again. So a repeat is a chain within the chain. A relay tells that it has begun;
behind it the steps of a pass come in one after another; and a renewing relay, which follows the last of them where
another pass is due, breaks the first. Then the pass drops out in the order in which it came in, the renewing relay
last of all, and only now the first step can come in again. The end of the cycle is the same thing once more: the last
relay breaks the first. What is left when repeats are taken apart like this has no loops.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from compiler.chart import CountingKind, Step
from compiler.condition import Always, Counted, walk
from compiler.knots import knots
from targets.relay.net import Net, Way, counting
from targets.relay.network import Unfit

__all__ = ["Lines", "lines", "reached"]

_INSTEAD = "the one-hot chain can do that"


@dataclass(frozen=True, slots=True)
class Lines:
    """A net without loops. ``net`` has the added steps among its own; ways that led to a step of rest lead to the
    last step of its station.

    ``first`` tells for each step which one its relay is named for: the steps of a fork have one between them.
    ``rest`` is the step of rest of each station, ``over`` the last one, where any way leads there. The relays that
    seal themselves in belong to ``starts``, the steps a start leads to; to ``faults``, in the order in which they
    count; and to ``forced``, the step a stop leads to. ``renewing`` tells for each step that renews a pass which one
    that is begun again; ``begun`` tells for each step that says a repeat has begun which ones renew a pass of it, and
    ``beside`` which other ones say so of the same repeat, where it can begin with one step or another. ``passes`` has
    the steps of the pass that a step renews.
    """

    net: Net
    first: dict[str, str]
    rest: dict[int, str]
    over: dict[int, str]
    starts: dict[int, tuple[str, ...]]
    faults: dict[int, tuple[str, ...]]
    forced: dict[int, str]
    renewing: dict[str, str]
    begun: dict[str, tuple[str, ...]]
    beside: dict[str, tuple[str, ...]]
    passes: dict[str, set[str]]

    def after_stop(self, station: int) -> tuple[str, ...]:
        """The step that a stop leads to, if any."""
        return (self.forced[station],) if station in self.forced else ()

    def sealed(self, station: int) -> tuple[str, ...]:
        """The steps of a station whose relays seal themselves in, one for each relay."""
        return (*self.starts.get(station, ()), *self.faults.get(station, ()), *self.after_stop(station))


@dataclass
class _Making:
    """Steps and ways while they are changed; ``station`` is that of every step."""

    steps: list[Step]
    ways: list[Way]
    station: dict[str, int]
    rest: dict[int, str]
    over: dict[int, str] = field(default_factory=dict)
    renewing: dict[str, str] = field(default_factory=dict)
    begun: dict[str, tuple[str, ...]] = field(default_factory=dict)
    beside: dict[str, tuple[str, ...]] = field(default_factory=dict)
    passes: dict[str, set[str]] = field(default_factory=dict)

    def add(self, name: str, like: Way, *, before: str = "", **more: tuple[object, ...]) -> str:
        """A step of our own, ``before`` another one or else at the end, with the words of a way; its name."""
        while any(step.name == name for step in self.steps):
            name += "'"
        step = Step(name=name, words=like.words).model_copy(update=more)
        place = next((k for k, step in enumerate(self.steps) if step.name == before), len(self.steps))
        self.steps.insert(place, step)
        self.station[name] = self.station[like.sources[0]]
        return name

    def turn(self, ways: Iterable[Way], name: str) -> None:
        """These ways lead to a step of our own instead."""
        turned = set(ways)
        self.ways = [replace(way, targets=(name,)) if way in turned else way for way in self.ways]


def lines(read: Net) -> Lines:
    """The lines of a net. Raises Unfit, with the reason, where relays that stay in cannot do what it says."""
    rest = {read.station[name]: name for name in read.starts}
    if len(rest) < len(read.starts):
        raise Unfit(f"a station begins with several steps; {_INSTEAD}")
    making = _Making(list(read.steps), list(read.ways), dict(read.station), rest)
    _rests_alone(making)
    forced = {read.station[name]: name for name in read.forced if name not in read.starts}
    faults = _faults(read, making, forced)
    leading = {name for of in faults.values() for name in of} | set(forced.values())
    _end(making)
    _settle_counts(making, leading)
    _renew(making, leading)
    _start_apart(making)
    first = _shared(making)
    starts: dict[int, tuple[str, ...]] = {}
    for way in making.ways:
        station = making.station[way.targets[0]]
        if way.sources == (rest.get(station),):
            starts[station] = tuple(dict.fromkeys((*starts.get(station, ()), first[way.targets[0]])))
    found = Lines(
        _net(read, making),
        first,
        rest,
        making.over,
        starts,
        faults,
        forced,
        making.renewing,
        making.begun,
        making.beside,
        making.passes,
    )
    _kept_apart(found)
    return found


def _rests_alone(making: _Making) -> None:
    rest = set(making.rest.values())
    for way in making.ways:
        if rest.intersection(way.sources) and rest.intersection(way.targets):
            raise Unfit(f"step {way.sources[0]} leads to itself")
        for names in (way.sources, way.targets):
            if len(names) > 1 and rest.intersection(names):
                raise Unfit(f"the step at rest is one of several at a fork or a join, {', '.join(names)}; {_INSTEAD}")


def _faults(read: Net, making: _Making, forced: dict[int, str]) -> dict[int, tuple[str, ...]]:
    """The steps that break off the cycle of their station as they are entered."""
    found: dict[int, tuple[str, ...]] = {}
    rest = set(making.rest.values())
    for way in making.ways:
        target = way.targets[0]
        if not (way.aborts or read.named[target].fault or target in rest):
            continue
        station = read.station[target]
        beside = set.intersection(*(read.beside[name] for name in way.sources))
        left = sorted(name for name in beside - {*way.aborts, *way.sources} if read.station[name] == station)
        if left or len(way.targets) > 1:
            told = way.words.text or f"what leads from {way.sources[0]} to {target}"
            raise Unfit(f"{told}: it breaks off only part of what goes on side by side; {_INSTEAD}")
        if target not in rest and target not in found.get(station, ()):
            found[station] = (*found.get(station, ()), target)
    for target in forced.values():
        if any(target in way.targets for way in making.ways):
            raise Unfit(f"a stop leads to step {target}, into the middle of the cycle; {_INSTEAD}")
    return found


def _end(making: _Making) -> None:
    """One last step for each station, in place of the step of rest wherever a way leads there."""
    for station, name in making.rest.items():
        home = [way for way in making.ways if name in way.targets]
        if home:
            making.over[station] = making.add(f"{name} again", home[-1])
            making.turn(home, making.over[station])


def _settle_counts(making: _Making, leading: set[str]) -> None:
    """A step that counts and asks at once how far: the count gets a step of its own before, and so its time."""
    out = _leaving(making.ways)
    for step in list(making.steps):
        changed = counting(step, CountingKind.COUNT) | counting(step, CountingKind.CLEAR)
        conditions = (way.condition for way in out.get(step.name, ()))
        asked = {part.counter for of in conditions for part in walk(of) if isinstance(part, Counted)}
        if not changed & asked or step.name in making.rest.values() or step.name in leading:
            continue
        into = [way for way in making.ways if step.name in way.targets]
        name = making.add(f"{step.name} counts", out[step.name][0], before=step.name, counting=step.counting)
        at = making.steps.index(step)
        making.steps[at] = step.model_copy(update={"counting": ()})
        for way in into:
            targets = tuple(name if target == step.name else target for target in way.targets)
            making.ways[making.ways.index(way)] = replace(way, targets=targets)
        making.ways.append(Way((name,), (step.name,), Always(), (), step.words))


def _leaving(ways: Iterable[Way]) -> dict[str, list[Way]]:
    found: dict[str, list[Way]] = {}
    for way in ways:
        for name in way.sources:
            found.setdefault(name, []).append(way)
    return found


def _renew(making: _Making, leading: set[str]) -> None:
    """Take every repeat apart, the outer ones first."""
    while found := list(_repeats(making.ways)):
        for knot in found:
            _untie(making, knot, leading)


def _repeats(ways: Iterable[Way]) -> Iterator[frozenset[str]]:
    onward = {name: [target for way in of for target in way.targets] for name, of in _leaving(ways).items()}
    for knot in knots(onward, lambda name: onward.get(name, ())):
        if len(knot) > 1 or any(name in onward.get(name, ()) for name in knot):
            yield knot


def _untie(making: _Making, knot: frozenset[str], leading: set[str]) -> None:
    touching = [way for way in making.ways if knot.intersection((*way.sources, *way.targets))]
    inner = [way for way in touching if knot.issuperset(way.sources) and knot.issuperset(way.targets)]
    outer = [way for way in touching if not knot.intersection(way.sources)]
    heads = list(dict.fromkeys(way.targets for way in outer))
    entered = {name for head in heads for name in head}
    back = [way for way in inner if way.targets in heads]
    torn = [way for way in inner if entered.intersection(way.targets) and way.targets not in heads]
    torn += [way for way in touching if knot.intersection(way.sources) and not knot.issuperset(way.sources)]
    torn += [way for way in touching if knot.intersection(way.targets) and not knot.issuperset(way.targets)]
    if torn or not back or leading & entered:
        way = (torn or inner)[0]
        told = way.words.text or f"what follows step {way.sources[0]}"
        raise Unfit(f"{told}: a repeat that is entered or left in the middle of parallel work; {_INSTEAD}")
    names: list[str] = []
    renewing: list[str] = []
    for head in heads:
        enter, again = ([way for way in of if way.targets == head] for of in (outer, back))
        names.append(making.add(f"{head[0]} begun", enter[0], before=head[0]))
        making.station[names[-1]] = making.station[head[0]]
        making.turn(enter, names[-1])
        making.ways.append(Way((names[-1],), head, Always(), (), enter[0].words))
        _within(making, head, names[-1])
        if again:
            renewing.append(
                making.add(f"{head[0]} renewed", again[0], before=_following(making, again[0].sources[0]))
            )
            making.turn(again, renewing[-1])
            making.renewing[renewing[-1]] = names[-1]
            _within(making, head, renewing[-1])
    making.passes |= {name: {*knot} for name in renewing}
    for name in names:
        making.begun[name] = tuple(renewing)
        making.beside[name] = tuple(other for other in names if other != name)


def _within(making: _Making, head: tuple[str, ...], name: str) -> None:
    """An added step belongs to every pass that the steps do for which it was added."""
    for steps in making.passes.values():
        if steps.issuperset(head):
            steps.add(name)


def _following(making: _Making, name: str) -> str:
    at = next(k for k, step in enumerate(making.steps) if step.name == name)
    return making.steps[at + 1].name if at + 1 < len(making.steps) else ""


def _start_apart(making: _Making) -> None:
    """Where a start leads to a step that others lead to as well, its relay seals itself in by a step of its own."""
    rest = {(name,) for name in making.rest.values()}
    led = {name for way in making.ways if way.sources not in rest for name in way.targets}
    for way in [way for way in making.ways if way.sources in rest and led.intersection(way.targets)]:
        name = making.add(f"{way.targets[0]} started", way, before=way.targets[0])
        making.turn([way], name)
        making.ways.append(Way((name,), way.targets, Always(), (), way.words))


def _shared(making: _Making) -> dict[str, str]:
    """For each step the one its relay is named for."""
    led: dict[str, set[tuple[str, ...]]] = {}
    for way in making.ways:
        for name in way.targets:
            led.setdefault(name, set()).add(way.targets)
    for name, of in led.items():
        if len(of) > 1 and max(map(len, of)) > 1:
            raise Unfit(f"step {name} begins both by itself and beside others; {_INSTEAD}")
    return {s.name: next(iter(led[s.name]))[0] if len(led.get(s.name, ())) == 1 else s.name for s in making.steps}


def _net(read: Net, making: _Making) -> Net:
    out_of: dict[str, list[Way]] = {step.name: [] for step in making.steps}
    into: dict[str, list[Way]] = {step.name: [] for step in making.steps}
    for way in making.ways:
        for name in way.sources:
            out_of[name].append(way)
        for name in way.targets:
            into[name].append(way)
    return replace(
        read,
        steps=tuple(making.steps),
        ways=tuple(making.ways),
        passing=frozenset(step.name for step in making.steps) - set(read.named),
        station=making.station,
        out_of=out_of,
        into=into,
        aborting={},
        named={step.name: step for step in making.steps},
        rank={step.name: k for k, step in enumerate(making.steps)},
    )


def _kept_apart(found: Lines) -> None:
    """Raises Unfit where a fault, or a stop, leads back into the cycle it broke off."""
    for station in found.rest.values():
        number = found.net.station[station]
        cycle = reached(found, found.starts.get(number, ()))
        for name in (*found.faults.get(number, ()), *found.after_stop(number)):
            again = reached(found, (name,)) & cycle - {found.over.get(number)}
            if again:
                raise Unfit(f"step {name} leads back into the cycle that it broke off, to {min(again)}; {_INSTEAD}")


def reached(found: Lines, roots: Iterable[str]) -> set[str]:
    """The steps that come in behind the relays of these; a fault is not behind what it breaks off."""
    breaking = {name for of in found.faults.values() for name in of}
    seen = {name for name, first in found.first.items() if first in set(roots)}
    waiting = list(seen)
    while waiting:
        for way in found.net.out_of[waiting.pop()]:
            for name in way.targets:
                if name not in seen and name not in breaking:
                    seen.add(name)
                    waiting.append(name)
    return seen
