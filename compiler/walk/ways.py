"""Every way of a choice: for each that a cycle did not take, a run that takes it, found by trying the chart out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import product

from compiler.chart import Chart, Transition
from compiler.chart_logic import chart_logic
from compiler.checking.operating import operate
from compiler.checking.swept import swept
from compiler.condition import Counted, Rise, Signal, walk
from compiler.machine import InputKind, Machine
from compiler.shape import shape_of
from compiler.simulation.bench import wire
from compiler.simulation.run import Event, EventKind, Scenario, Swiftness, stroke_times
from compiler.walk.course import Cleared, Course, course

__all__ = ["Branch", "Search", "other_ways"]

_MOST_DEVICES = 3  # that a choice is tried with, each made and not made
_MOST_CYCLES = 40  # run through for a count to come to its end
_MOST_TRIES = 24  # runs for one way
_HELD_US = 300_000  # how long a button is down after the choice
_TAIL_US = 2_000_000


@dataclass(frozen=True, slots=True)
class Branch:
    """A way that a cycle did not take: ``run`` takes it at ``parts_us``, where its ``parent`` went another
    (``instead``) at ``instead_us``. ``joins`` tells where it comes back to a step that the parent meets or, where
    it never does, to one of its own, None where it does neither; ``cycle`` in which cycle of its run it parts."""

    way: Transition
    instead: Transition
    parent: Course
    run: Course
    parts_us: int
    instead_us: int
    joins: Cleared | None
    cycle: int


def other_ways(machine: Machine, chart: Chart, main: Scenario) -> tuple[tuple[Branch, ...], tuple[Transition, ...]]:
    """For each way of a choice that the main cycle does not take a run that does, in the order of the chart; and the
    ways for which none was found."""
    search = Search(machine, chart, course(machine, chart, main))
    branches = tuple(search.branches())
    return branches, tuple(way for way in search.choices() if not search.covered(way, branches))


@dataclass
class Search:
    """Looks for runs, from those that are known already."""

    machine: Machine
    chart: Chart
    main: Course
    known: list[Course] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.shape = shape_of(self.chart)
        self.known.append(self.main)
        self.strokes = stroke_times(self.machine, Swiftness.GREATEST, Swiftness.GREATEST)
        self.cycles = {id(self.main): 1}
        self.outside = {
            i.name: i
            for i in self.machine.inputs
            if i.kind in (InputKind.PUSHBUTTON, InputKind.SELECTOR, InputKind.SENSOR) and i.name != self.machine.stop
        }

    def choices(self) -> tuple[Transition, ...]:
        """The ways of every choice, in the order of the chart."""
        ways = self.shape.ways
        return tuple(way for way in ways if sum(other.sources == way.sources for other in ways) > 1)

    def covered(self, way: Transition, branches: Iterable[Branch]) -> bool:
        """Whether a way is told of: in the main cycle or in a branch, before that joins."""
        return self.main.first(way) is not None or any(_within(branch, way) for branch in branches)

    def branches(self) -> Iterator[Branch]:
        """One for each way, as far as a run is found; ways further on are looked for from runs that come to them."""
        found: list[Branch] = []
        progress = True
        while progress:
            progress = False
            for way in self.choices():
                if not self.covered(way, found) and (branch := self._branch(way)) is not None:
                    found.append(branch)
                    progress = True
        yield from found

    # --- one way ----------------------------------------------------------------------------------------------

    def _branch(self, way: Transition) -> Branch | None:
        for parent in list(self.known):
            for instead in (c for c in parent.cleared if c.transition.sources == way.sources):
                for run, cycles in self._tried(way, parent, instead):
                    first = run.first(way)
                    if first is not None and not self._faulty(run, first.at_us):
                        run = self._undisturbed(run, way)
                        self.known.append(run)
                        self.cycles[id(run)] = cycles
                        return self._told(way, parent, instead, run)
                break  # later passes of the same parent come to nothing else
        return None

    def _undisturbed(self, run: Course, way: Transition) -> Course:
        """The same run without a cycle that is begun in the middle of this way, if it ends without that."""
        parts_us, scenario = run.onward(way)[0].at_us, run.scenario
        kept = tuple(e for e in scenario.events if e.at_us <= parts_us or e.device != self.machine.start or not e.on)
        if len(kept) == len(scenario.events):
            return run
        quiet = course(self.machine, self.chart, scenario.model_copy(update={"events": kept}))
        rests = any(self.shape.rest & set(c.transition.targets) for c in quiet.onward(way))
        return quiet if rests else run

    def _told(self, way: Transition, parent: Course, instead: Cleared, run: Course) -> Branch:
        onward = run.onward(way)
        joins = _joining(onward, parent.met)
        before = [c for c in run.cleared if c.at_us <= onward[0].at_us and c.transition.sources == way.sources]
        times = len(before) if self.cycles[id(run)] > self.cycles[id(parent)] else 1
        return Branch(way, instead.transition, parent, run, onward[0].at_us, instead.at_us, joins, times)

    def _faulty(self, run: Course, until_us: int) -> bool:
        entered = {name for c in run.cleared if c.at_us <= until_us for name in c.transition.targets}
        return bool(entered & self.shape.fault)

    # --- what is tried ----------------------------------------------------------------------------------------

    def _tried(self, way: Transition, parent: Course, instead: Cleared) -> Iterator[tuple[Course, int]]:
        cycles = self.cycles[id(parent)]
        besides = tuple(e for e in parent.scenario.events if e.at_us == 0)
        counts = [p.at_least for p in walk(way.condition) if isinstance(p, Counted) and p.at_least <= _MOST_CYCLES]
        for count in counts:
            yield self._run(besides, count + 1), count + 1
        for tries, events in enumerate(self._events(way, parent, instead, besides)):
            if tries == _MOST_TRIES:
                return
            yield self._run(events, cycles), cycles

    def _events(
        self, way: Transition, parent: Course, instead: Cleared, besides: tuple[Event, ...]
    ) -> Iterator[tuple[Event, ...]]:
        """What is done besides what the operator does: the inputs that the choice looks at, made or not from the
        beginning, or just before."""
        siblings = [t for t in self.shape.ways if t.sources == way.sources]
        named = (p.device for t in (way, *siblings) for p in walk(t.condition) if isinstance(p, Signal | Rise))
        devices = [name for name in dict.fromkeys(named) if name in self.outside][:_MOST_DEVICES]
        made = {e.device for e in parent.scenario.events if e.at_us <= instead.at_us and _last_on(parent, e, instead)}
        options = sorted(
            product((False, True), repeat=len(devices)),
            key=lambda bits: sum(bit is not (name in made) for name, bit in zip(devices, bits, strict=True)),
        )
        lasting = [name for name in devices if self.outside[name].kind is not InputKind.PUSHBUTTON]
        for bits in options:
            wanted = dict(zip(devices, bits, strict=True))
            first = tuple(e for e in besides if e.device not in lasting)
            yield (*first, *(_event(0, name, on=True) for name in lasting if wanted[name]))
        before = max((c.at_us for c in parent.cleared if c.at_us < instead.at_us), default=0)
        just = before + (instead.at_us - before) // 2
        for bits in options:
            wanted = dict(zip(devices, bits, strict=True))
            yield (*besides, *self._changed(wanted, made, just, instead.at_us + _HELD_US))

    def _changed(self, wanted: dict[str, bool], made: set[str], at_us: int, over_us: int) -> Iterator[Event]:
        for name, on in wanted.items():
            if on is not (name in made):
                yield _event(at_us, name, on=on)
                if self.outside[name].kind is InputKind.PUSHBUTTON and on:
                    yield _event(over_us, name, on=False)

    def _run(self, besides: tuple[Event, ...], cycles: int) -> Course:
        wired = wire(self.machine, chart_logic(self.chart))
        done = swept(self.machine, self.chart, wired, besides, strokes=self.strokes)
        worked = operate(self.machine, self.chart, wired, strokes=self.strokes, done_besides=done, cycles=cycles)
        last = max((event.at_us for event in worked.events), default=0)
        duration = max(worked.ended_us, last) + _TAIL_US
        scenario = Scenario(name="another way", duration_us=duration, events=worked.events, strokes=self.strokes)
        return course(self.machine, self.chart, scenario)


def _joining(onward: tuple[Cleared, ...], met: frozenset[str]) -> Cleared | None:
    """Of what cleared from the way on the first that leads it to a step that is met without it; where it never comes
    to one, that leads it to a step where it has been itself. What goes on beside it, in other branches and stations,
    is followed by no step of the way."""
    own, been = set(onward[0].transition.sources), set[str]()
    again: Cleared | None = None
    for one in onward:
        if own & set(one.transition.sources):
            targets = set(one.transition.targets)
            if met & targets:
                return one
            again = one if again is None and been & targets else again
            own = own - set(one.transition.sources) | targets
            been |= targets
    return again


def _within(branch: Branch, way: Transition) -> bool:
    """Whether a way is taken between where a branch parts and where it joins."""
    until = branch.run.cleared[-1] if branch.joins is None else branch.joins
    onward = branch.run.onward(branch.way)
    return any(c.transition == way for c in onward[: onward.index(until) + 1])


def _last_on(run: Course, event: Event, until: Cleared) -> bool:
    """Whether this is the last event of its input up to a moment, and leaves it made."""
    later = [e for e in run.scenario.events if e.device == event.device and e.at_us <= until.at_us]
    return bool(later) and later[-1] == event and event.on


def _event(at_us: int, device: str, *, on: bool) -> Event:
    return Event(at_us=at_us, kind=EventKind.INPUT, device=device, on=on)
