"""Random Charts with their Machine, shared by the tests of every target: one active step, edges, levels, times,
faults and a forcing condition, as lowering makes them. ``histories`` drives Logics over such a chart."""

from __future__ import annotations

from dataclasses import dataclass

from hypothesis import strategies as st

from compiler.chart import Action, ActionKind, Chart, Forcing, Requirement, Response, Step, Transition, Words
from compiler.condition import Active, Always, And, Condition, Elapsed, Not, Or, Rise, Signal, Sustained, both
from compiler.machine import Contact, Input, InputKind, Load, LoadKind, Machine

__all__ = ["Moment", "charts", "histories", "machines", "requirements"]

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
