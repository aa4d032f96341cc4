"""Requirements beside a logic: what they must remember goes into its state, and each becomes an output more.

So whoever searches every run of the logic meets a broken requirement as an output that is on while time passes.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from compiler.chart import Chart, Requirement, Response
from compiler.chart_logic import ChartLogic
from compiler.condition import Active, Elapsed, Rise, Signal, Sustained, walk
from compiler.logic import Bits, Logic, Reaction, Timer
from compiler.simulation.holds import holds
from compiler.timers import Phase, TimerKind, advance
from compiler.times import Timed, counts_from, times_in

__all__ = ["Watched", "breaks", "watched"]


def watched(logic: Logic, chart: Chart, requirements: Sequence[Requirement | Response] | None = None) -> Watched:
    """A logic with requirements watched beside it: those of the chart unless told otherwise.

    Raises KeyError when a requirement names a device that the chart does not have.
    """
    return Watched(logic, chart, chart.requirements if requirements is None else requirements)


def breaks(requirement: Requirement | Response) -> str:
    """The output that is on while a requirement is broken."""
    return f"requirement:{requirement.name}"


class _State(NamedTuple):
    inner: Hashable
    edges: Bits  # the inputs whose rise is asked for, as last seen
    caused: Bits  # for each response: its cause holds
    phases: tuple[Phase, ...]  # of each time, then of each response: done is broken


@dataclass(frozen=True, slots=True)
class _View:
    """What a condition may look at; ``done`` grows as the times are brought up to date."""

    on: frozenset[str]
    steps: frozenset[str]
    rises: frozenset[str]
    done: set[Timed] = field(default_factory=set)

    def signal(self, device: str) -> bool:
        return device in self.on

    def rise(self, device: str) -> bool:
        return device in self.rises

    def active(self, step: str) -> bool:
        return step in self.steps

    def elapsed(self, step: str, time_us: int) -> bool:
        return Elapsed(step=step, time_us=time_us) in self.done

    def sustained(self, condition: Sustained) -> bool:
        return condition in self.done

    def counted(self, counter: str, at_least: int) -> bool:
        raise ValueError(f"{counter} counts inside the sequence, where no requirement can see it")

    def lasting(self) -> _View:
        """The same when the instant is over: an edge does not last."""
        return _View(self.on, self.steps, frozenset(), self.done)


class _Clocks:
    """The timers of requirements in one reaction, turned one after the other in the order they have."""

    def __init__(self, before: tuple[Phase, ...], expired: frozenset[int]) -> None:
        self.before, self.expired = before, expired
        self.phases: list[Phase] = []
        self.started: list[int] = []

    @property
    def next(self) -> Phase:
        """The phase that the timer next in turn was in."""
        return self.before[len(self.phases)]

    @property
    def running(self) -> list[int]:
        return [k for k, phase in enumerate(self.phases) if phase is Phase.RUNNING]

    def turn(self, energised: bool) -> Phase:
        """The phase that it is in now."""
        k = len(self.phases)
        turned = advance(TimerKind.ON_DELAY, self.before[k], energised, k in self.expired)
        self.phases.append(turned.phase)
        if turned.started:
            self.started.append(k)
        return turned.phase


class Watched:
    """See ``watched``. It does what ``logic`` does; ``breaks`` are the outputs it has besides.

    What speaks of steps can be watched only beside the logic of a chart; ``unwatched`` are those left out.
    """

    def __init__(self, logic: Logic, chart: Chart, requirements: Sequence[Requirement | Response]) -> None:
        self.logic = logic
        self.name = logic.name
        has_steps = isinstance(logic, ChartLogic)
        self.requirements = tuple(r for r in requirements if has_steps or not _speaks_of_steps(r))
        self.unwatched = tuple(r for r in requirements if r not in self.requirements)
        self.breaks = tuple(breaks(r) for r in self.requirements)
        self.outputs = (*logic.outputs, *self.breaks)
        conditions = [c for r in self.requirements for c in r.conditions]
        parts = [part for c in conditions for part in walk(c)]
        asked = {part.device for part in parts if isinstance(part, Signal | Rise)}
        strange = sorted(asked - {*chart.inputs, *chart.outputs})
        if strange:
            raise KeyError(strange[0])
        read = tuple(name for name in chart.inputs if name in asked)
        self.inputs = (*logic.inputs, *(name for name in read if name not in logic.inputs))
        self.reads = tuple(dict.fromkeys((*getattr(logic, "reads", logic.inputs), *read)))
        self._edges = tuple(dict.fromkeys(part.device for part in parts if isinstance(part, Rise)))
        self._times = times_in(conditions)
        own = [Timer("time of a requirement", timed.time_us) for timed in self._times]
        own += [Timer(r.name, r.within_us) for r in self.requirements if isinstance(r, Response)]
        self.timers = (*logic.timers, *own)

    def power_up(self, inputs: Bits) -> Reaction:
        """The first situation. Nothing is remembered, and what is actuated already has no rise."""
        reaction = self.logic.power_up(inputs[: len(self.logic.inputs)])
        actuated = self._actuated(inputs)
        responses = sum(isinstance(r, Response) for r in self.requirements)
        edges = tuple(name in actuated for name in self._edges)
        idle = (Phase.IDLE,) * (len(self._times) + responses)
        before = _State(None, edges, (False,) * responses, idle)
        return self._beside(reaction, before, actuated, frozenset())

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        """See ``compiler.logic.Logic.react``."""
        assert isinstance(state, _State)
        own_from = len(self.logic.timers)
        inner = frozenset(k for k in expired if k < own_from)
        reaction = self.logic.react(state.inner, inputs[: len(self.logic.inputs)], inner)
        own = frozenset(k - own_from for k in expired - inner)
        return self._beside(reaction, state, self._actuated(inputs), own)

    def lit(self, state: Hashable) -> tuple[str, ...]:
        """What is on inside the logic."""
        assert isinstance(state, _State)
        return self.logic.lit(state.inner)

    def _actuated(self, inputs: Bits) -> frozenset[str]:
        return frozenset(name for name, bit in zip(self.inputs, inputs, strict=True) if bit)

    def _beside(
        self, reaction: Reaction, before: _State, actuated: frozenset[str], expired: frozenset[int]
    ) -> Reaction:
        """The stable situation of the logic and, beside it, that of the requirements."""
        driven = {name for name, bit in zip(self.logic.outputs, reaction.outputs, strict=True) if bit}
        seen = dict(zip(self._edges, before.edges, strict=True))
        rises = frozenset(name for name in self._edges if name in actuated and not seen[name])
        view = _View(actuated | driven, frozenset(self.logic.lit(reaction.state)), rises)
        clocks = _Clocks(before.phases, expired)
        for timed in self._times:
            if clocks.turn(holds(counts_from(timed), view)) is Phase.DONE:
                view.done.add(timed)
        lasting = view.lasting()
        caused_before, caused, broken = iter(before.caused), [], []
        for requirement in self.requirements:
            match requirement:
                case Requirement(never=never):
                    broken.append(holds(never, lasting))
                case Response(whenever=cause, then=effect):
                    held = next(caused_before)
                    comes = holds(cause, view) and not held
                    owed = (comes or clocks.next is not Phase.IDLE) and not holds(effect, view)
                    broken.append(clocks.turn(owed) is Phase.DONE)
                    caused.append(holds(cause, lasting))
        edges = tuple(name in actuated for name in self._edges)
        own_from = len(self.logic.timers)
        return Reaction(
            _State(reaction.state, edges, tuple(caused), tuple(clocks.phases)),
            (*reaction.outputs, *broken),
            reaction.running | {own_from + k for k in clocks.running},
            reaction.started | {own_from + k for k in clocks.started},
        )


def _speaks_of_steps(requirement: Requirement | Response) -> bool:
    return any(isinstance(part, Active | Elapsed) for c in requirement.conditions for part in walk(c))
