"""Random Charts with their Machine, shared by the tests of every target. ``charts`` have one active step, edges,
levels, times, faults and a forcing condition; ``wide_charts`` have all that lowering makes. ``histories`` drives
Logics over such a chart."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial

from hypothesis import strategies as st

from compiler.chart import (
    Action,
    ActionKind,
    Chart,
    Counting,
    CountingKind,
    Forcing,
    Interlock,
    Requirement,
    Response,
    Step,
    Transition,
    Words,
)
from compiler.condition import (
    Active,
    Always,
    And,
    Condition,
    Counted,
    Elapsed,
    Not,
    Or,
    Rise,
    Signal,
    Sustained,
    both,
    negated,
)
from compiler.machine import Contact, Input, InputKind, Load, LoadKind, Machine

__all__ = ["Moment", "charts", "histories", "machines", "requirements", "wide_charts"]

_INPUTS = (
    ("START", InputKind.PUSHBUTTON),
    ("STOP", InputKind.PUSHBUTTON),
    ("LS1", InputKind.LIMIT_SWITCH),
    ("2LS", InputKind.LIMIT_SWITCH),
    ("AUTO", InputKind.SELECTOR),
)
_OUTPUTS = (("SOL1", LoadKind.SOLENOID), ("on", LoadKind.LAMP), ("PUMP-A", LoadKind.MOTOR))
_TIMES_US = (1_000, 500_000, 1_500_000, 30_000_000)


@st.composite
def machines(draw: st.DrawFn) -> Machine:
    """The same devices every time, some wired normally closed."""
    return Machine(
        title=draw(st.sampled_from(["", "Bung press", "Größe *) (* //"])),
        inputs=tuple(Input(name=n, kind=k, contact=draw(st.sampled_from(Contact))) for n, k in _INPUTS),
        loads=tuple(Load(name=n, kind=k) for n, k in _OUTPUTS),
        start="START",
        stop="STOP",
    )


def _levels() -> st.SearchStrategy[Condition]:
    signals: st.SearchStrategy[Condition] = st.sampled_from([Signal(device=name) for name, _ in _INPUTS])
    return st.recursive(
        signals,
        lambda inner: st.one_of(
            inner.map(lambda c: Not(of=c)),
            st.lists(inner, min_size=2, max_size=3).map(lambda parts: And(of=tuple(parts))),
            st.lists(inner, min_size=2, max_size=3).map(lambda parts: Or(of=tuple(parts))),
        ),
        max_leaves=4,
    )


def _ends(step: str) -> st.SearchStrategy[Condition]:
    """What ends a step: a switch, a time, an edge, a condition sustained, or a mixture."""
    times = st.sampled_from(_TIMES_US)
    lasting: st.SearchStrategy[Condition] = st.one_of(
        _levels(),
        times.map(lambda t: Elapsed(step=step, time_us=t)),
        st.builds(lambda c, t: Sustained(of=c, time_us=t), _levels(), times),
    )
    plain = lasting | st.sampled_from([Rise(device=name) for name, _ in _INPUTS])
    # The opposite of an edge is no condition to wait for: it holds at all times but one.
    return st.one_of(
        plain,
        st.builds(lambda a, b: And(of=(a, b)), plain, plain),
        st.builds(lambda a, b: Or(of=(a, Not(of=b))), plain, lasting),
    )


@st.composite
def charts(draw: st.DrawFn, *, stored: bool = True) -> Chart:
    """A ring of steps with faults beside it. ``stored`` allows stored actions beside continuous ones."""
    count = draw(st.integers(1, 5))
    names = [f"S{k}" for k in range(count + 1)]
    transitions, faults = [], []
    for k, name in enumerate(names):
        condition = draw(_ends(name))
        if k == 0:
            pressed: list[Condition] = [Rise(device="START"), Signal(device="START")]
            condition = both(draw(st.sampled_from(pressed)), draw(st.just(condition) | st.just(Always())))
        after = names[(k + 1) % len(names)]
        words = Words(text=draw(st.sampled_from(["", "extend until at-end", "halt *) x (* é", "wait\n1 s"])))
        transitions.append(
            Transition(name=f"T{k + 1}", sources=(name,), targets=(after,), condition=condition, words=words)
        )
        if k and draw(st.booleans()):
            faults.append(Step(name=f"F{k}", fault=f"step {k} took too long", actions=draw(_actions(stored=False))))
            late = both(Elapsed(step=name, time_us=draw(st.sampled_from(_TIMES_US))), Not(of=condition))
            transitions.append(Transition(name=f"TF{k}", sources=(name,), targets=(f"F{k}",), condition=late))
    steps = [Step(name=n, initial=n == "S0", actions=draw(_actions(stored=stored))) for n in names]
    held = st.builds(lambda c, t: Sustained(of=c, time_us=t), _levels(), st.sampled_from(_TIMES_US))
    forcing = draw(st.none() | st.builds(Forcing, condition=st.just(Signal(device="STOP")) | _levels() | held))
    return Chart(
        inputs=tuple(name for name, _ in _INPUTS),
        outputs=tuple(name for name, _ in _OUTPUTS),
        steps=(*steps, *faults),
        transitions=tuple(transitions),
        forcing=forcing,
    )


@st.composite
def requirements(draw: st.DrawFn, chart: Chart) -> tuple[Requirement | Response, ...]:
    """Requirements on the inputs, outputs, steps and times of a chart, which need not keep them."""
    times, steps = st.sampled_from(_TIMES_US), st.sampled_from([step.name for step in chart.steps])
    outputs = st.sampled_from([Signal(device=name) for name, _ in _OUTPUTS])
    level = st.one_of(_levels(), outputs, outputs.map(lambda c: Not(of=c)), st.builds(Active, step=steps))
    lasting = st.builds(Sustained, of=level, time_us=times)
    nested = st.builds(Sustained, of=lasting | lasting.map(lambda c: Not(of=c)), time_us=times)
    plain = st.one_of(level, lasting, nested, st.builds(Elapsed, step=steps, time_us=times))
    standing = plain | st.lists(plain, min_size=2, max_size=3).map(lambda parts: both(*parts))
    moment = st.one_of(standing, st.sampled_from([Rise(device=name) for name, _ in _INPUTS]))
    moment |= st.builds(lambda a, b: And(of=(a, b)), moment, standing)
    kinds = draw(st.lists(st.booleans(), min_size=1, max_size=4))
    return tuple(
        Response(name=f"N{k}", whenever=draw(moment), then=draw(moment), within_us=draw(times))
        if responds
        else Requirement(name=f"N{k}", never=draw(standing))
        for k, responds in enumerate(kinds, 1)
    )


def _actions(*, stored: bool) -> st.SearchStrategy[tuple[Action, ...]]:
    output = st.sampled_from([name for name, _ in _OUTPUTS])
    action: st.SearchStrategy[Action] = st.builds(Action, output=output)
    conditional = st.builds(Action, output=output, condition=_levels())
    kept = st.builds(Action, output=output, kind=st.sampled_from(ActionKind))
    return st.lists(st.one_of(action, conditional, kept) if stored else action, max_size=2).map(tuple)


@dataclass(frozen=True)
class Moment:
    """A pause in microseconds (a running timer may end it early), then the inputs as they are from then on."""

    pause_us: int
    inputs: tuple[bool, ...]


@st.composite
def histories(draw: st.DrawFn, count: int = len(_INPUTS), most: int = 30) -> list[Moment]:
    """What happens to a machine: one input changes, or several at once, at any moment, also just as a timer expires.

    START (the first input) is pressed and let go more often than others change, so that cycles get somewhere.
    """
    pauses = st.sampled_from([0, *_TIMES_US]) | st.integers(1, 40_000_000)
    anything = st.tuples(*[st.booleans()] * count)
    moments = [Moment(0, draw(anything))]
    for change in draw(st.lists(st.integers(-3, count), min_size=4, max_size=most)):
        before = moments[-1].inputs
        flipped = tuple(bit != (k == max(change, 0)) for k, bit in enumerate(before))
        moments.append(Moment(draw(pauses), draw(anything) if change == count else flipped))
    return moments


# --- charts with all that lowering makes ------------------------------------------------------------------------

_WAYS = list[tuple[tuple[str, ...], Condition]]
"""Ways on that lead nowhere yet: the steps they leave and the condition."""


@dataclass
class _Net:
    """A chart in the making, of the kind that lowering makes: see ``wide_charts``."""

    draw: st.DrawFn
    stored: bool
    mark: str = ""
    steps: list[Step] = field(default_factory=list)
    transitions: list[Transition] = field(default_factory=list)
    faults: list[tuple[Step, Transition]] = field(default_factory=list)
    beside: list[tuple[Transition, int, int]] = field(default_factory=list)  # a fault in parallel work, its extent
    counters: list[str] = field(default_factory=list)
    elsewhere: list[str] = field(default_factory=list)  # steps of other stations, to shake hands with

    def step(self, ways: _WAYS, outputs: tuple[str, ...], **more: object) -> str:
        """A step that all these ways lead to."""
        name = f"{self.mark}S{len(self.steps)}"
        self.steps.append(Step(name=name, actions=self.actions(outputs), **more))
        self.lead(ways, (name,))
        return name

    def actions(self, outputs: tuple[str, ...]) -> tuple[Action, ...]:
        if not outputs:
            return ()
        kinds = [ActionKind.CONTINUOUS] * 2
        kinds += [ActionKind.SET_ON_ENTRY, ActionKind.RESET_ON_ENTRY] if self.stored else []
        return self.draw(_own_actions(outputs, kinds))

    def lead(self, ways: _WAYS, targets: tuple[str, ...]) -> None:
        for sources, condition in ways:
            self.transitions.append(
                Transition(name=self.next(), sources=sources, targets=targets, condition=condition)
            )

    def next(self) -> str:
        return f"{self.mark}T{len(self.transitions) + 1}"

    def narrow(self, ways: _WAYS) -> _WAYS:
        """One way from one step: through a step that is passed at once where there are more."""
        if len(ways) == 1 and len(ways[0][0]) == 1:
            return ways
        return [((self.step(ways, ()),), Always())]

    def plain(self, ways: _WAYS, outputs: tuple[str, ...]) -> _WAYS:
        name = self.step(ways, outputs)
        end = self.draw(_ends(name))
        if self.elsewhere and self.draw(st.integers(0, 2)) == 0:
            end = both(end, Active(step=self.draw(st.sampled_from(self.elsewhere))))
        if self.draw(st.integers(0, 3)) == 0:
            late = both(Elapsed(step=name, time_us=self.draw(st.sampled_from(_TIMES_US))), Not(of=end))
            fault = f"{self.mark}F{len(self.faults) + 1}"
            shown = Step(name=fault, fault="it took too long", actions=self.draw(_actions(stored=False)))
            way = Transition(name=f"{self.mark}T{fault}", sources=(name,), targets=(fault,), condition=late)
            self.faults.append((shown, way))
        return [((name,), end)]

    def work(self, ways: _WAYS, outputs: tuple[str, ...], depth: int) -> _WAYS:
        """One to three pieces of work, one after another."""
        for _ in range(self.draw(st.integers(1, 3 if depth else 2))):
            pieces = [self.plain, self.plain]
            pieces += [partial(kind, depth=depth - 1) for kind in (self.together, self.choice, self.passes) if depth]
            ways = self.draw(st.sampled_from(pieces))(ways, outputs)
        return ways

    def together(self, ways: _WAYS, outputs: tuple[str, ...], depth: int) -> _WAYS:
        """Two or three branches, each with outputs of its own, each ending in its waiting step."""
        ways = self.narrow(ways)
        count = self.draw(st.integers(2, 3))
        begun = len(self.faults)
        firsts, waiting, extents = [], [], []
        for k in range(count):
            mine, inside = outputs[k::count], (len(self.steps), len(self.faults))
            first = self.step([], mine)
            ended = self.work([((first,), self.draw(_ends(first)))], mine, depth)
            waiting.append(self.step(ended, mine))
            firsts.append(first)
            extents.append((inside, (len(self.steps), len(self.faults))))
        self.lead(ways, tuple(firsts))
        for (steps, faults), (steps_end, faults_end) in extents:
            others = tuple(
                step.name for (lower, _), (upper, _) in extents if lower != steps for step in self.steps[lower:upper]
            )
            assert begun <= faults <= faults_end
            assert steps < steps_end
            for j in range(faults, faults_end):
                shown, way = self.faults[j]
                self.faults[j] = (shown, way.model_copy(update={"aborts": (*way.aborts, *others)}))
        return [(tuple(waiting), Always())]

    def choice(self, ways: _WAYS, outputs: tuple[str, ...], depth: int) -> _WAYS:
        """Cases in order of priority, and perhaps a last one for all else."""
        ((sources, end),) = self.narrow(ways)
        earlier: list[Condition] = []
        ended: _WAYS = []
        for _ in range(self.draw(st.integers(1, 2))):
            case = self.draw(_levels())
            ended += self.work([(sources, both(end, *earlier, case))], outputs, depth)
            earlier.append(negated(case))
        rest: _WAYS = [(sources, both(end, *earlier))]
        return ended + (self.work(rest, outputs, depth) if self.draw(st.booleans()) else rest)

    def passes(self, ways: _WAYS, outputs: tuple[str, ...], depth: int) -> _WAYS:
        """A repeat: so many times, or until something; every pass lasts at least as long as its first step."""
        counter = f"{self.mark}C{len(self.counters) + 1}"
        counted = self.draw(st.booleans())
        again: Condition = Not(of=Counted(counter=counter, at_least=self.draw(st.integers(1, 3))))
        if counted:
            self.counters.append(counter)
        else:
            again = self.draw(_levels())
        first = self.step(ways, outputs, counting=(Counting(counter=counter),) if counted else ())
        ended = self.work([((first,), self.draw(_ends(first)))], outputs, depth)
        ((sources, end),) = self.narrow(ended)
        self.lead([(sources, both(end, again))], (first,))
        cleared = (Counting(counter=counter, kind=CountingKind.CLEAR),) if counted else ()
        after = self.step([(sources, both(end, negated(again)))], outputs, counting=cleared)
        return [((after,), self.draw(_ends(after)))]

    def station(self, outputs: tuple[str, ...], depth: int) -> None:
        """An initial step, some work begun by START, and the way back."""
        pressed: list[Condition] = [Rise(device="START"), Signal(device="START")]
        rest = self.step([], (), initial=True)
        trigger = both(self.draw(st.sampled_from(pressed)), self.draw(_levels() | st.just(Always())))
        begun = self.plain([((rest,), trigger)], outputs)
        self.lead(self.work(begun, outputs, depth), (rest,))
        if self.counters:
            cleared = tuple(Counting(counter=name, kind=CountingKind.CLEAR) for name in self.counters)
            self.steps[0] = self.steps[0].model_copy(update={"counting": cleared})
        if self.draw(st.booleans()):
            for shown, _ in self.faults:
                self.lead([((shown.name,), Rise(device="AUTO"))], (rest,))

    @property
    def everything(self) -> tuple[list[Step], list[Transition]]:
        return [*self.steps, *(s for s, _ in self.faults)], [*self.transitions, *(t for _, t in self.faults)]


@st.composite
def wide_charts(draw: st.DrawFn, *, stored: bool = True, stations: int = 2, depth: int = 2) -> Chart:
    """Charts with all that lowering makes: parallel work with waiting steps and faults that break it off, choices
    in order of priority, counted and other repeats, up to so many stations that shake hands, interlocks, and a STOP
    that drops out or returns home. For ``machines()``. ``stored`` allows stored outputs, ``depth`` is how far work
    may be nested (0: no parallel work, choices or repeats)."""
    outputs = tuple(name for name, _ in _OUTPUTS)
    count = draw(st.integers(1, stations))
    nets: list[_Net] = []
    for k in range(count):
        net = _Net(draw, stored, mark=f"{'AB'[k]}_" if count > 1 else "")
        net.elsewhere = [step.name for other in nets for step in other.steps]
        net.station(outputs[k::count], depth)
        nets.append(net)
    parts = [net.everything for net in nets]
    steps = [step for part, _ in parts for step in part]
    transitions = [transition for _, part in parts for transition in part]
    forcing = draw(_stops([net.steps[0].name for net in nets], steps, transitions, outputs))
    return Chart(
        inputs=tuple(name for name, _ in _INPUTS),
        outputs=outputs,
        steps=tuple(steps),
        transitions=tuple(transitions),
        forcing=forcing,
        counters=tuple(name for net in nets for name in net.counters),
        interlocks=draw(_interlocks(outputs)),
    )


@st.composite
def _stops(
    draw: st.DrawFn, rests: list[str], steps: list[Step], transitions: list[Transition], outputs: tuple[str, ...]
) -> Forcing | None:
    """No STOP, one that drops everything out while it is held, or one that leads home once, through two steps."""
    how = draw(st.sampled_from(["none", "drop out", "drop out", "home"]))
    if how == "none":
        return None
    if how == "drop out":
        return Forcing(condition=Signal(device="STOP"))
    ends = [draw(_ends(name)) for name in ("H1", "H2")]
    homeward = _own_actions(outputs, [ActionKind.CONTINUOUS])
    steps += [Step(name="H1", actions=draw(homeward)), Step(name="H2", actions=draw(homeward))]
    transitions.append(Transition(name="TH1", sources=("H1",), targets=("H2",), condition=ends[0]))
    transitions.append(Transition(name="TH2", sources=("H2",), targets=tuple(rests), condition=ends[1]))
    return Forcing(condition=Rise(device="STOP"), steps=("H1",))


def _interlocks(outputs: tuple[str, ...]) -> st.SearchStrategy[tuple[Interlock, ...]]:
    """None, one that asks for a condition, or two outputs that exclude each other."""
    one, other = outputs[0], outputs[-1]
    exclusive = (
        Interlock(output=one, only_while=Not(of=Signal(device=other))),
        Interlock(output=other, only_while=Not(of=Signal(device=one))),
    )
    guarded = st.builds(Interlock, output=st.sampled_from(outputs), only_while=_levels()).map(lambda i: (i,))
    return st.one_of(st.just(()), st.just(exclusive), guarded)


def _own_actions(outputs: tuple[str, ...], kinds: list[ActionKind]) -> st.SearchStrategy[tuple[Action, ...]]:
    action = st.builds(Action, output=st.sampled_from(outputs), kind=st.sampled_from(kinds))
    return st.lists(action, max_size=2, unique_by=lambda action: action.output).map(tuple)
