"""The time of a whole cycle by arithmetic, and its critical path: what would have to be quicker to make it shorter.

The chart is followed once from its beginning: where branches are joined the last to come counts, where ways part the
least and the greatest are kept, a counted repeat counts as often as it says. The proof finds the exact limits of what
a machine can do (``compiler.proof.cycle``); this tells where the time goes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from compiler.chart import Chart, CountingKind, Step, Transition
from compiler.condition import Counted, Not, Signal, walk
from compiler.findings.subject import Subject, conjuncts
from compiler.machine import Actuator, Machine
from compiler.physics.timespan import NOTHING, Timespan, either, latest
from compiler.physics.waiting import Moving, Waiting, is_decided, way, whole_stroke

__all__ = ["Leg", "StationCycle", "cycle_times"]


@dataclass(frozen=True, slots=True)
class Leg:
    """A part of the critical path: its words and how long it usually takes. ``passes``: it stands for so many
    passes more of what follows it."""

    words: str
    usual_us: int
    passes: int = 0


@dataclass(frozen=True, slots=True)
class StationCycle:
    """The cycle of one station, from its beginning to its rest.

    ``span`` leaves out what is waited for from outside (``waits``: inputs, other steps) and counts one pass of each
    repeat that nothing counts (``uncounted``, their words). ``path`` is in the order of time.
    """

    station: str
    span: Timespan
    path: tuple[Leg, ...]
    waits: tuple[str, ...]
    uncounted: tuple[str, ...]


def cycle_times(machine: Machine, chart: Chart) -> tuple[StationCycle, ...]:
    """The cycle of each station that comes to its end."""
    subject = Subject(machine, chart)
    found = []
    for rest in subject.shape.stations:
        begin = [t for t in subject.shape.ways if rest & set(t.sources) and not rest & set(t.targets)]
        begin = [t for t in begin if subject.chart.step(t.sources[0]).initial]
        courses = [course for t in begin if (course := _Course(subject, rest).cycle(t)) is not None]
        if courses:
            found.append(_alternatives(courses))
    return tuple(found)


def _alternatives(courses: list[StationCycle]) -> StationCycle:
    """A cycle that may begin in several ways: the path is that of the longest."""
    longest = max(courses, key=lambda course: course.span.usual_us)
    return replace(
        longest,
        span=either(course.span for course in courses),
        waits=tuple(sorted({name for course in courses for name in course.waits})),
        uncounted=tuple(dict.fromkeys(words for course in courses for words in course.uncounted)),
    )


@dataclass
class _Course:
    """One station's chart followed from step to step."""

    subject: Subject
    rest: frozenset[str]
    waits: set[str] = field(default_factory=set)
    uncounted: list[str] = field(default_factory=list)

    def cycle(self, begin: Transition) -> StationCycle | None:
        """The cycle that a transition begins, or None where it never comes to an end."""
        run = self.follow(begin.targets, self.subject.shape.ways)
        ends = [t for t in run.fired if self.rest & set(t.targets)]
        if not ends:
            return None
        last = max(ends, key=lambda t: run.fired[t].usual_us)
        initial = next(iter(begin.sources))
        return StationCycle(
            station=initial.rpartition("_")[0],
            span=either(run.fired[t] for t in ends),
            path=tuple(reversed(list(run.back(last)))),
            waits=tuple(sorted(map(self._called, self.waits))),
            uncounted=tuple(dict.fromkeys(self.uncounted)),
        )

    def _called(self, awaited: str) -> str:
        """What is waited for: an input, a step, or another station's rest."""
        shape = self.subject.shape
        if awaited not in shape.steps:
            return awaited
        resting = any(awaited in rest for rest in shape.stations)
        return f"{awaited.rpartition('_')[0]} at rest" if resting else f"step {awaited}"

    def follow(self, start: tuple[str, ...], ways: Iterable[Transition]) -> _Run:
        """From some steps, which begin at once, on to wherever the ways lead."""
        inside, back = self._reached(start, ways)
        inside = [t for t in inside if t not in back]
        run = _Run(self, back)
        due = Counter(name for t in inside for name in t.targets)
        for name in start:
            due[name] = 0
        waiting = list(inside)
        while waiting:
            now = [t for t in waiting if all(due[name] == 0 for name in t.sources)]
            if not now:
                break
            for t in now:
                run.clear(t)
                waiting.remove(t)
                due.subtract(t.targets)
        return run

    def body(self, head: str, again: Transition) -> list[Transition]:
        """The ways of one pass of a repeat, without the one that leads back to its head."""
        steps, waiting = {head, *again.sources}, [name for name in again.sources if name != head]
        while waiting:
            name = waiting.pop()
            for t in self.subject.shape.ways:
                if name in t.targets:
                    waiting += [source for source in t.sources if source not in steps]
                    steps |= set(t.sources)
        return [t for t in self.subject.shape.ways if t != again and steps.issuperset((*t.sources, *t.targets))]

    def _reached(
        self, start: tuple[str, ...], ways: Iterable[Transition]
    ) -> tuple[list[Transition], frozenset[Transition]]:
        """The transitions that steps lead to, up to the rest, and those of them that lead back."""
        leaving: dict[str, list[Transition]] = {}
        for t in ways:
            for name in t.sources:
                leaving.setdefault(name, []).append(t)
        found: dict[Transition, None] = {}
        back: set[Transition] = set()
        open_, done = set[str](), set[str]()
        for first in start:
            trail = [(first, iter(leaving.get(first, ())))]
            open_.add(first)
            while trail:
                name, more = trail[-1]
                way = next(more, None)
                if way is None:
                    open_.discard(name)
                    done.add(name)
                    trail.pop()
                    continue
                found[way] = None
                back |= {way} if open_ & set(way.targets) else set()
                for target in way.targets:
                    if target not in open_ | done | self.rest:
                        open_.add(target)
                        trail.append((target, iter(leaving.get(target, ()))))
        return list(found), frozenset(back)


def _locks(subject: Subject, on: set[str]) -> set[str]:
    """The inputs that interlocks of some outputs look at: while they do not allow it, nothing goes on."""
    inputs = {device.name for device in subject.machine.inputs}
    asked = (part for lock in subject.chart.interlocks if lock.output in on for part in walk(lock.only_while))
    return {part.device for part in asked if isinstance(part, Signal) and part.device in inputs}


@dataclass
class _Run:
    """When each step begins and each transition clears, and what made it wait."""

    course: _Course
    back_again: frozenset[Transition]
    begun: dict[str, Timespan] = field(default_factory=dict)
    moving: dict[str, dict[str, Moving]] = field(default_factory=dict)
    fired: dict[Transition, Timespan] = field(default_factory=dict)
    repeated: dict[str, Leg] = field(default_factory=dict)

    def clear(self, t: Transition) -> None:
        """A transition whose sources have all their ways in behind them."""
        for name in t.sources:
            self._begin(name)
        subject, moving = self.course.subject, dict[str, Moving]()
        for name in t.sources:
            moving |= self.moving[name]
        ways = [w.condition for name in t.sources for w in subject.onward(subject.step(name))]
        decided = is_decided(subject.machine, ways)
        waiting = Waiting(subject.machine, self.begun, moving, decided, self.course.waits)
        self.fired[t] = latest((*(self.begun[name] for name in t.sources), waiting.ready(t.condition)))

    def _begin(self, name: str) -> None:
        """The step begins, as soon as one of the ways into it has been gone."""
        if name in self.begun:
            return
        into = [t for t in self.fired if name in t.targets]
        begun = either(self.fired[t] for t in into) if into else NOTHING
        begun = begun.plus(self._passes(name))
        subject = self.course.subject
        moving: dict[str, Moving] = {}
        for t in into:
            for source in t.sources:
                moving |= self.moving[source]
        step = subject.step(name)
        on = {action.output for action in step.actions}
        for key, stroke in moving.items():
            moving[key] = self._going_on(subject.machine.actuator(key), stroke, step, begun, into)
        for actuator, toward in subject.begun(step):
            if actuator.name in moving and moving[actuator.name].toward is toward:
                continue  # it goes on from where its valve has held it
            whole = whole_stroke(actuator, toward, on)
            moving[actuator.name] = Moving(toward, begun, whole, halted=subject.centred(step, actuator))
        self.course.waits |= _locks(subject, on)
        self.begun[name], self.moving[name] = begun, moving

    def _going_on(
        self, actuator: Actuator, stroke: Moving, step: Step, begun: Timespan, into: list[Transition]
    ) -> Moving:
        """A stroke as it goes on in a step: at another speed, halted, or just as before."""
        subject = self.course.subject
        whole = whole_stroke(actuator, stroke.toward, {action.output for action in step.actions})
        halted = subject.centred(step, actuator)
        if (whole, halted) == (stroke.whole, stroke.halted):
            return stroke
        seen = {part.device for t in into for part in conjuncts(t.condition) if isinstance(part, Signal)}
        places = [
            way(actuator, switch.at_um, stroke.toward)
            for switch in actuator.limit_switches
            if switch.name in seen and switch.toward is stroke.toward
        ]
        behind = (max(places), max(places)) if places and len(into) == 1 else stroke.gone(begun)
        return Moving(stroke.toward, begun, whole, behind, halted)

    def _passes(self, head: str) -> Timespan:
        """The passes of a repeat that come before the last one."""
        extra = NOTHING
        for t in self.back_again:
            if head not in t.targets:
                continue
            passes = self._counted(head, t)
            if passes is None:
                words = t.words.text
                self.course.uncounted.append(words if words.startswith("repeat") else f"again while {words}")
                continue
            inner = self.course.follow((head,), self.course.body(head, t))
            for source in t.sources:
                inner._begin(source)
            inner.clear(t)
            more = inner.fired[t].times(passes - 1)
            extra = extra.plus(more)
            if more.usual_us:
                self.repeated[head] = Leg(t.words.text, more.usual_us, passes - 1)
        return extra

    def _counted(self, head: str, t: Transition) -> int | None:
        """How many passes a repeat has that its first step counts, or None."""
        step = self.course.subject.step(head)
        counted = {c.counter for c in step.counting if c.kind is CountingKind.COUNT}
        for part in conjuncts(t.condition):
            if isinstance(part, Not):
                for inner in walk(part.of):
                    if isinstance(inner, Counted) and inner.counter in counted:
                        return inner.at_least
        return None

    def back(self, t: Transition) -> Iterable[Leg]:
        """The critical path to a transition, from its end to its beginning."""
        subject = self.course.subject
        while True:
            source = max(t.sources, key=lambda name: self.begun[name].usual_us)
            took = self.fired[t].usual_us - self.begun[source].usual_us
            words = subject.step(source).words.text or t.words.text
            if took:
                yield Leg(words, took)
            if source in self.repeated:
                yield self.repeated[source]
            into = [before for before in self.fired if source in before.targets]
            if not into:
                return
            t = max(into, key=lambda before: self.fired[before].usual_us)
