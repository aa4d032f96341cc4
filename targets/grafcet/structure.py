"""The nesting of a Chart: lines of steps, choices, work side by side and loops, from steps and transitions alone.

A chart that is not nested is still covered: where a way leads somewhere that nesting does not explain, it ends in a
reference to that step.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from compiler.chart import Chart, Step, Transition
from targets.grafcet.convergence import Convergence, Node, Return

__all__ = ["Aside", "Bar", "Choice", "Jump", "Loop", "Parallel", "Part", "StepPart", "nesting"]


@dataclass(frozen=True, slots=True)
class Bar:
    """A transition."""

    transition: Transition


@dataclass(frozen=True, slots=True)
class Jump:
    """A way that goes on at a step drawn elsewhere."""

    to: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Aside:
    """A way out of the line to a fault step: the transition, the step where it is drawn here, and what follows."""

    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class StepPart:
    """A step with its ways out to faults."""

    step: Step
    asides: tuple[Aside, ...] = ()


@dataclass(frozen=True, slots=True)
class Choice:
    """Ways of which one is taken. Those that are not ``open`` end in themselves; the others come together again."""

    branches: tuple[tuple[Part, ...], ...]
    open: tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class Parallel:
    """Work side by side, from a double line to a double line (``joined``) or each ending by itself."""

    branches: tuple[tuple[Part, ...], ...]
    joined: bool


@dataclass(frozen=True, slots=True)
class Loop:
    """Parts that are gone through again: by way of ``back``, or straight from their last transition."""

    body: tuple[Part, ...]
    back: Bar | None


Part = Bar | Jump | StepPart | Choice | Parallel | Loop


def nesting(chart: Chart) -> list[tuple[Part, ...]]:
    """Each station's parts from its initial step down, then what no station reaches."""
    return list(_Nesting(chart).stations())


@dataclass(frozen=True, slots=True)
class _Around:
    """What is around a series: where its ways meet, where those further out do, the top of the innermost loop."""

    stop: Node | None = None
    further: frozenset[Node] = frozenset()
    loop: str | None = None

    def within(self, stop: Node | None) -> _Around:
        """The same, one choice or branch further in. One that meets where the one around it meets keeps its place."""
        if stop == self.stop:
            return self
        return _Around(stop, self.further if self.stop is None else self.further | {self.stop}, self.loop)

    def looping(self, loop: str) -> _Around:
        """The same, one loop further in."""
        return _Around(None, self.further if self.stop is None else self.further | {self.stop}, loop)


class _Nesting:
    def __init__(self, chart: Chart) -> None:
        self.steps = {step.name: step for step in chart.steps}
        self.faults = {step.name for step in chart.steps if step.fault}
        self.exits: dict[str, list[Transition]] = {step.name: [] for step in chart.steps}
        for transition in chart.transitions:
            for source in transition.sources:
                self.exits[source].append(transition)
        self.onward = {name: [t for t in ts if not self.faults & set(t.targets)] for name, ts in self.exits.items()}
        self.convergence = Convergence(chart, self.onward)
        self.drawn: set[str] = set()
        self.unnested: set[str] = set()

    def stations(self) -> Iterator[tuple[Part, ...]]:
        starts = [step.name for step in self.steps.values() if step.initial]
        rest = [name for name in self.steps if name not in starts and name not in self.faults]
        for name in (*starts, *rest, *self.faults):
            if name not in self.drawn:
                yield tuple(self.series((name,), _Around()))

    def series(self, at: tuple[str, ...], around: _Around) -> list[Part]:
        """The parts from one step, or several side by side, to where what is around them takes over."""
        parts: list[Part] = []
        while at:
            if len(at) > 1:
                at = self._side_by_side(at, parts, around)
                continue
            (name,) = at
            if name == around.stop:
                break
            if name in self.drawn or name in around.further:
                parts.append(Jump(at))
                break
            loop = name in self.convergence.loops and name != around.loop and name not in self.unnested
            at = self._loop(name, parts, around) if loop else self._step(name, parts, around)
        return parts

    def _step(self, name: str, parts: list[Part], around: _Around) -> tuple[str, ...]:
        """Adds a step and what leaves it; what comes after that."""
        self._add_step(name, parts)
        if self.convergence.back(name, around.loop) is not None:
            return ()  # the loop around it takes over
        return self._leave(name, self.onward[name], parts, around)

    def _add_step(self, name: str, parts: list[Part]) -> None:
        self.drawn.add(name)
        ways = [t for t in self.exits[name] if self.faults & set(t.targets)]
        parts.append(StepPart(self.steps[name], tuple(self._aside(t) for t in ways)))

    def _leave(self, name: str, ways: list[Transition], parts: list[Part], around: _Around) -> tuple[str, ...]:
        if not ways or any(len(way.sources) > 1 for way in ways):  # a join is drawn where its branches meet
            return ()
        if len(ways) == 1:
            parts.append(Bar(ways[0]))
            return () if self.convergence.returns(ways[0], around.loop) else ways[0].targets
        close = self.convergence.after(name)
        branches = tuple(tuple(self._branch(way, close, around)) for way in ways)
        open_ = tuple(not _ends(branch) for branch in branches)
        parts.append(Choice(branches, open_))
        return (close,) if isinstance(close, str) and close != around.stop and any(open_) else ()

    def _branch(self, way: Transition, close: Node | None, around: _Around) -> list[Part]:
        """One way of a choice. A way back ends in a reference, unless all ways lead back together."""
        together = around.loop is not None and close == Return(around.loop)
        if self.convergence.returns(way, around.loop):
            return [Bar(way)] if together else [Bar(way), Jump(way.targets)]
        inner = self.series(way.targets, around.within(close))
        last = inner[-1] if inner else None
        if isinstance(last, Bar) and self.convergence.returns(last.transition, around.loop) and not together:
            inner.append(Jump(last.transition.targets))
        return [Bar(way), *inner]

    def _aside(self, transition: Transition) -> Aside:
        parts: list[Part] = [Bar(transition)]
        for name in transition.targets:
            if name in self.drawn:
                parts.append(Jump((name,)))
            else:
                self._add_step(name, parts)
                for t in self.onward[name]:
                    parts += [Bar(t), Jump(t.targets)]
        return Aside(tuple(parts))

    def _side_by_side(self, at: tuple[str, ...], parts: list[Part], around: _Around) -> tuple[str, ...]:
        branches = [tuple(self.series((name,), around.within(None))) for name in at]
        ends = [_last_step(branch) for branch in branches]
        joins = [self.onward[end] for end in ends if end is not None]
        join = joins[0][0] if joins and len(joins[0]) == 1 else None
        together = join is not None and set(join.sources) == set(ends) and all(ways == [join] for ways in joins)
        parts.append(Parallel(tuple(branches), together))
        if join is None or not together:
            return ()
        parts.append(Bar(join))
        return () if self.convergence.returns(join, around.loop) else join.targets

    def _loop(self, name: str, parts: list[Part], around: _Around) -> tuple[str, ...]:
        """Adds a loop where it is nested; else its steps come as they are, to end in references. What comes next."""
        before, inside = set(self.drawn), around.looping(name)
        body = self.series((name,), inside)
        while (last := _last_step(tuple(body))) is not None and (
            back := self.convergence.back(last, name)
        ) is not None:
            loop, others = Loop(tuple(body), Bar(back)), [t for t in self.onward[last] if t is not back]
            if self.drawn.issuperset(self.convergence.lasts(name)):
                parts.append(loop)
                return self._leave(last, others, parts, around)
            body = [loop]  # a loop around it begins at the same step
            body += self.series(self._leave(last, others, body, inside), inside)
        if self._closes(body, name):
            parts.append(Loop(tuple(body), None))
            return ()
        self.drawn = before
        self.unnested.add(name)
        return (name,)

    def _closes(self, body: list[Part], loop: str) -> bool:
        """Whether all that goes on leads back to the top."""
        match body[-1] if body else None:
            case Bar(transition=transition):
                return self.convergence.returns(transition, loop)
            case Choice(branches=branches, open=open_):
                ways = [list(branch) for branch, on in zip(branches, open_, strict=True) if on]
                return bool(ways) and all(self._closes(way, loop) for way in ways)
            case _:
                return False


def _ends(parts: tuple[Part, ...]) -> bool:
    """Whether nothing comes after these parts."""
    match parts[-1] if parts else None:
        case Jump() | StepPart() | Loop(back=None):
            return True
        case Choice(open=open_):
            return not any(open_)
        case Parallel(joined=joined):
            return not joined
        case _:
            return False


def _last_step(parts: tuple[Part, ...]) -> str | None:
    match parts[-1] if parts else None:
        case StepPart(step=step):
            return step.name
        case _:
            return None
