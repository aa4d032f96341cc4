"""A Chart as a Logic: the five evolution rules of IEC 60848:2013 (from memory), run to a stable situation.

Edges are seen only in the first round of a reaction, so that one press never clears two transitions in
succession. Continuous actions are those of the stable situation; stored actions are written even by steps that
are passed through at once.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from functools import reduce
from operator import and_, or_
from typing import NamedTuple

from compiler.chart import ActionKind, Chart, CountingKind, Step
from compiler.condition import Always, Condition, Counted, Elapsed, Not, Rise, Signal, Sustained, walk
from compiler.logic import Bits, Chattering, Reaction, Timer
from compiler.receptivity import Places, Test, View, receptivity
from compiler.timers import Phase, TimerKind, advance

__all__ = ["ChartLogic", "chart_logic"]


_NONE: frozenset[int] = frozenset()


class _State(NamedTuple):
    active: int  # bit k: step k
    stored: int  # bit k: output k was left on by a stored action
    edges: Bits  # the inputs whose rise somebody waits for, as last seen
    phases: tuple[Phase, ...]  # one for each timer
    counts: tuple[int, ...]  # one for each counter


@dataclass(frozen=True)
class _Rule:
    """A transition, as bit masks and a test."""

    rank: int  # its place among the transitions as written
    sources: int
    targets: int
    aborts: int
    test: Test


@dataclass(frozen=True)
class _Entry:
    """What a stored action writes when a step becomes active or ceases to be."""

    step: int
    on_entry: bool
    output: int
    value: bool


def chart_logic(chart: Chart) -> ChartLogic:
    """The Logic of a chart. Raises KeyError when the chart names a step, input or output it does not have."""
    return ChartLogic(chart)


class ChartLogic:
    """See ``chart_logic``. ``name`` is how messages speak of it."""

    name = "the sequence as written"

    def __init__(self, chart: Chart) -> None:
        self.chart = chart
        self.inputs = chart.inputs
        self.outputs = chart.outputs
        self._steps = {step.name: k for k, step in enumerate(chart.steps)}
        self._inputs = {name: k for k, name in enumerate(chart.inputs)}
        self._outputs = {name: k for k, name in enumerate(chart.outputs)}
        rises = dict.fromkeys(p.device for c in chart.conditions for p in walk(c) if isinstance(p, Rise))
        self._edges = {name: k for k, name in enumerate(rises)}
        self._watched = tuple(self._inputs[name] for name in rises)
        self._read = {p.device for c in chart.conditions for p in walk(c) if isinstance(p, Signal | Rise)}
        self._quiet = (False,) * len(self._watched)
        self._timed = _timed_conditions(chart)
        self.timers = tuple(_timer(condition) for condition in self._timed)
        self._counters = {name: k for k, name in enumerate(chart.counters)}
        self._most = _most_counted(chart)
        self._places = Places(self._inputs, self._edges, self._steps, self._timed, self._counters, self._outputs)
        self._sustained = tuple(
            (k, self._test(condition.of))
            for k, condition in enumerate(self._timed)
            if isinstance(condition, Sustained)
        )
        self._step_timers = tuple(
            (k, 1 << self._steps[condition.step])
            for k, condition in enumerate(self._timed)
            if isinstance(condition, Elapsed)
        )
        self._rules = self._rules_by_step(chart)
        self._initial = self._mask(tuple(step.name for step in chart.steps if step.initial))
        self._forced = None if chart.forcing is None else self._test(chart.forcing.condition)
        self._situation = self._initial if chart.forcing is None else self._mask(chart.forcing.steps) or self._initial
        self._names = tuple(step.name for step in chart.steps)
        self._continuous = self._continuous_actions(chart.steps)
        self._stored = self._stored_actions(chart.steps)
        self._counting = self._counting_actions(chart.steps)
        self._interlocks = tuple((1 << self._outputs[i.output], self._test(i.only_while)) for i in chart.interlocks)
        self._running: dict[tuple[Phase, ...], frozenset[int]] = {}  # the timers whose clocks run, by their phases
        self._bits: dict[tuple[int, int], Bits] = {}  # outputs, by what is active and what is stored
        tests = (test for held in self._continuous.values() for _, test in held)
        self._asking = bool(self._interlocks) or any(test is not None for test in tests)
        self._aborting = any(t.aborts for t in chart.transitions)

    @property
    def reads(self) -> tuple[str, ...]:
        """The inputs that some condition looks at."""
        return tuple(name for name in self.inputs if name in self._read)

    def power_up(self, inputs: Bits) -> Reaction:
        """The initial situation, settled. An input that is already actuated has no rise."""
        idle = tuple(Phase.IDLE for _ in self.timers)
        edges = tuple([inputs[k] for k in self._watched])
        state = self._enter(_State(0, 0, edges, idle, (0,) * len(self._counters)), self._initial, set())
        return self._settle(state, inputs, frozenset(), self._started_by(0, state.active))

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        """See ``compiler.logic.Logic.react``."""
        assert isinstance(state, _State)
        return self._settle(state, inputs, expired, set())

    def lit(self, state: Hashable) -> tuple[str, ...]:
        """The names of the active steps."""
        assert isinstance(state, _State)
        return tuple(name for k, name in enumerate(self._names) if state.active >> k & 1)

    def count(self, state: Hashable, counter: str) -> int:
        """How far a counter has got. Raises KeyError for one that there is not."""
        assert isinstance(state, _State)
        return state.counts[self._counters[counter]]

    def counted(self, state: Hashable) -> tuple[str, ...]:
        """How far each counter has got that somebody asks: "TRAYS = 3". One that nobody asks is not counted."""
        assert isinstance(state, _State)
        counts = zip(self.chart.counters, state.counts, self._most, strict=True)
        return tuple(f"{name} = {count}" for name, count, most in counts if most)

    # --- one reaction -------------------------------------------------------------------------------------

    def _settle(self, state: _State, inputs: Bits, expired: frozenset[int], started: set[int]) -> Reaction:
        edges = tuple([inputs[k] for k in self._watched])
        rises = self._quiet
        if edges != state.edges:
            rises = tuple([now and not before for now, before in zip(edges, state.edges, strict=True)])
            state = _State(state.active, state.stored, edges, state.phases, state.counts)
        if expired:
            state = self._expire(state, expired)
        seen: list[_State] = []
        # Edges and expired times are there in the first round only; without them it is like any other.
        first = rises is not self._quiet or bool(expired)
        while True:
            if self._sustained:
                state = self._sustain(state, inputs, expired if first else _NONE, started)
            view = View(state.active, inputs, rises if first else self._quiet, state.phases, state.counts)
            if self._forced is not None and self._forced(view):
                after = self._force(state, started)
                if after == state and not first:
                    return self._reaction(state, inputs, started)
            else:
                cleared = self._cleared(view)
                if not cleared:
                    return self._reaction(state, inputs, started)
                after = self._clear(state, cleared, started)
            if state in seen:
                raise Chattering(self._circling(seen[seen.index(state) :]))
            if not first:  # coming back to where an edge led away from is no circle: the edge is over
                seen.append(state)
            state, first = after, False

    def _circling(self, states: list[_State]) -> tuple[str, ...]:
        """The steps that states gone through again and again differ in; those active where they differ in none."""
        active = [state.active for state in states]
        changing = reduce(or_, active) & ~reduce(and_, active) or active[0]
        return tuple(name for k, name in enumerate(self._names) if changing >> k & 1)

    def _cleared(self, view: View) -> list[_Rule]:
        """The rules whose sources are all active and whose condition holds: looked for where something is active."""
        found = []
        active = view.active
        left = active
        while left:
            lowest = left & -left
            left ^= lowest
            for rule in self._rules.get(lowest, ()):
                if rule.sources & active == rule.sources and rule.test(view):
                    found.append(rule)
        return _not_aborted(found) if self._aborting and len(found) > 1 else found

    def _expire(self, state: _State, expired: frozenset[int]) -> _State:
        """Times in step run out at the start of the reaction: their steps are active, nothing else counts."""
        phases = list(state.phases)
        for k, _ in self._step_timers:
            if k in expired and phases[k] is Phase.RUNNING:
                phases[k] = Phase.DONE
        return state._replace(phases=tuple(phases))

    def _sustain(self, state: _State, inputs: Bits, expired: frozenset[int], started: set[int]) -> _State:
        view = View(state.active, inputs, self._quiet, state.phases, state.counts)
        phases = list(state.phases)
        for k, test in self._sustained:
            turn = advance(TimerKind.ON_DELAY, phases[k], test(view), k in expired)
            phases[k] = turn.phase
            if turn.started:
                started.add(k)
        return state._replace(phases=tuple(phases))

    def _clear(self, state: _State, cleared: list[_Rule], started: set[int]) -> _State:
        gone = come = 0
        for rule in cleared:
            gone |= rule.sources | rule.aborts
            come |= rule.targets
        # Rule 5: a step left and entered at the same moment stays active.
        return self._enter(state, state.active & ~gone | come, started)

    def _force(self, state: _State, started: set[int]) -> _State:
        after = self._enter(state, self._situation, started)
        return after._replace(stored=0) if after.stored else after

    def _enter(self, state: _State, active: int, started: set[int]) -> _State:
        if active == state.active:
            return state
        entered, left = active & ~state.active, state.active & ~active
        phases = list(state.phases)
        for k, step in self._step_timers:
            if entered & step:
                phases[k] = Phase.RUNNING
                started.add(k)
            elif left & step:
                phases[k] = Phase.IDLE
        stored = state.stored
        for action in self._stored:
            if (entered if action.on_entry else left) & action.step:
                stored = stored | action.output if action.value else stored & ~action.output
        counts = self._count(state.counts, entered) if self._counting else state.counts
        return _State(active, stored, state.edges, tuple(phases), counts)

    def _count(self, counts: tuple[int, ...], entered: int) -> tuple[int, ...]:
        """The counters after these steps became active: cleared first, then one more, up to what is asked for."""
        now = list(counts)
        for k, (clear, count) in enumerate(self._counting):
            if entered & clear:
                now[k] = 0
            if entered & count:
                now[k] = min(now[k] + 1, self._most[k])
        return tuple(now)

    def _started_by(self, before: int, after: int) -> set[int]:
        return {k for k, step in self._step_timers if after & ~before & step}

    def _reaction(self, state: _State, inputs: Bits, started: set[int]) -> Reaction:
        running = self._running.get(state.phases)
        if running is None:
            running = frozenset([k for k, phase in enumerate(state.phases) if phase is Phase.RUNNING])
            self._running[state.phases] = running
        return Reaction(state, self._shown(state, inputs), running, running & started if started else _NONE)

    def _shown(self, state: _State, inputs: Bits) -> Bits:
        """The outputs; where no action asks for anything but its step, once for each situation."""
        if self._asking:
            return self._as_bits(self._commanded(state, inputs))
        situation = (state.active, state.stored)
        bits = self._bits.get(situation)
        if bits is None:
            bits = self._bits[situation] = self._as_bits(self._commanded(state, inputs))
        return bits

    def _as_bits(self, on: int) -> Bits:
        return tuple([bool(on >> k & 1) for k in range(len(self.outputs))])

    def _commanded(self, state: _State, inputs: Bits) -> int:
        on, left = state.stored, state.active
        view = View(state.active, inputs, self._quiet, state.phases, state.counts)
        while left:
            lowest = left & -left
            left ^= lowest
            for output, test in self._continuous.get(lowest, ()):
                if test is None or test(view):
                    on |= output
        if self._interlocks:
            view = view._replace(commanded=on)
            for output, allowed in self._interlocks:
                if on & output and not allowed(view):
                    on &= ~output
        return on

    # --- made once ----------------------------------------------------------------------------------------

    def _mask(self, names: tuple[str, ...]) -> int:
        return sum(1 << self._steps[name] for name in set(names))

    def _rules_by_step(self, chart: Chart) -> dict[int, list[_Rule]]:
        """Every rule, under the bit of one of its sources: in a long chain few are looked at."""
        found: dict[int, list[_Rule]] = {}
        for rank, t in enumerate(chart.transitions):
            masks = (self._mask(t.sources), self._mask(t.targets), self._mask(t.aborts))
            rule = _Rule(rank, *masks, self._test(t.condition))
            found.setdefault(1 << self._steps[t.sources[0]], []).append(rule)
        return found

    def _continuous_actions(self, steps: tuple[Step, ...]) -> dict[int, list[tuple[int, Test | None]]]:
        """The outputs that each step holds on, under its bit."""
        return {
            1 << self._steps[step.name]: [
                (
                    1 << self._outputs[action.output],
                    None if isinstance(action.condition, Always) else self._test(action.condition),
                )
                for action in step.actions
                if action.kind is ActionKind.CONTINUOUS
            ]
            for step in steps
        }

    def _counting_actions(self, steps: tuple[Step, ...]) -> tuple[tuple[int, int], ...]:
        """For every counter: the steps that clear it, and those that count. Nothing where no step does either."""

        def of(name: str, kind: CountingKind) -> int:
            return self._mask(tuple(s.name for s in steps for c in s.counting if (c.counter, c.kind) == (name, kind)))

        found = tuple((of(name, CountingKind.CLEAR), of(name, CountingKind.COUNT)) for name in self._counters)
        return found if any(clear | count for clear, count in found) else ()

    def _stored_actions(self, steps: tuple[Step, ...]) -> list[_Entry]:
        kinds = {
            ActionKind.SET_ON_ENTRY: (True, True),
            ActionKind.RESET_ON_ENTRY: (True, False),
            ActionKind.SET_ON_EXIT: (False, True),
            ActionKind.RESET_ON_EXIT: (False, False),
        }
        return [
            _Entry(
                1 << self._steps[step.name],
                kinds[action.kind][0],
                1 << self._outputs[action.output],
                kinds[action.kind][1],
            )
            for step in steps
            for action in step.actions
            if action.kind in kinds
        ]

    def _test(self, condition: Condition) -> Test:
        return receptivity(condition, self._places)


def _timed_conditions(chart: Chart) -> tuple[Elapsed | Sustained, ...]:
    found = [part for c in chart.conditions for part in walk(c) if isinstance(part, Elapsed | Sustained)]
    return tuple(dict.fromkeys(found))


def _timer(condition: Elapsed | Sustained) -> Timer:
    match condition:
        case Elapsed(step=step, time_us=time):
            return Timer(f"time in {step}", time)
        case Sustained(of=Signal(device=device), time_us=time):
            return Timer(f"{device} made", time)
        case Sustained(of=Not(of=Signal(device=device)), time_us=time):
            return Timer(f"{device} off", time)
        case Sustained(time_us=time):
            return Timer("sustained condition", time)


def _most_counted(chart: Chart) -> tuple[int, ...]:
    """How far each counter has to count: the greatest number that a condition asks of it."""
    asked = [part for c in chart.conditions for part in walk(c) if isinstance(part, Counted)]
    return tuple(max((p.at_least for p in asked if p.counter == name), default=0) for name in chart.counters)


def _not_aborted(found: list[_Rule]) -> list[_Rule]:
    """What clears of what could: an abort comes before all that it aborts, the first written before the next."""
    aborts = held = 0
    kept = []
    for rule in sorted((rule for rule in found if rule.aborts), key=lambda rule: rule.rank):
        others = rule.aborts & ~rule.sources
        if not rule.sources & aborts and not others & held:
            kept.append(rule)
            aborts |= others
            held |= rule.sources
    return [rule for rule in found if (rule in kept if rule.aborts else not rule.sources & aborts)]
