"""Random circuits, and random chains with something left on between cycles."""

from __future__ import annotations

from hypothesis import strategies as st

from compiler.chart import Action, Chart, Forcing, Step, Transition
from compiler.condition import And, Condition, Elapsed, Not, Or, Rise, Signal, both
from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from grammar.rungs.judge import forms
from grammar.rungs.tree import (
    Circuit,
    Comments,
    Contact,
    Device,
    Feed,
    Kind,
    Master,
    Name,
    Network,
    Parallel,
    Preset,
    Rung,
    Series,
    Terminal,
    TimerFunction,
    behind,
)

__all__ = ["MACHINE", "circuits", "networks", "resting_charts"]

_INPUTS = (
    ("START", Kind.PUSHBUTTON),
    ("STOP", Kind.PUSHBUTTON),
    ("LS1", Kind.LIMIT_SWITCH),
    ("and", Kind.SENSOR),
    ("LAMP", Kind.SELECTOR),
)
_LOADS = (("SOL1", Kind.SOLENOID), ("größe", Kind.LAMP), ("2-M", Kind.MOTOR), ("M1", Kind.CONTACTOR))
_FED_APART = (TimerFunction.ONE_SHOT, TimerFunction.RETRIGGERABLE)

MACHINE = Machine(
    inputs=tuple(Input(name=n, kind=InputKind(str(k))) for n, k in _INPUTS),
    loads=tuple(Load(name=n, kind=LoadKind(str(k))) for n, k in _LOADS),
)

_TEXT = st.sampled_from(["", "x", "# # a", " indented", "rung 1: A", "größe, 寸", "it's 2,5 s"]) | st.text(
    st.characters(exclude_categories=["C", "Z"], exclude_characters='"') | st.just(" "), max_size=6
)


def _comment_lines() -> st.SearchStrategy[tuple[str, ...]]:
    return st.lists(_TEXT.map(str.rstrip), max_size=2).map(tuple)


def _comments() -> st.SearchStrategy[Comments]:
    return st.builds(Comments, _comment_lines(), _TEXT.map(str.strip))


def networks(devices: list[Device], *, leaves: int = 8) -> st.SearchStrategy[Network]:
    """Networks in their one normal form: no series straight inside a series, nor parallel inside parallel."""
    contacts: st.SearchStrategy[Network] = st.sampled_from(devices).flatmap(
        lambda d: st.sampled_from(forms(d)).map(lambda form: Contact(d.name, form))
    )
    return st.recursive(
        contacts,
        lambda inner: st.one_of(
            st.lists(inner, min_size=2, max_size=4).map(lambda parts: _joined(Series, parts)),
            st.lists(inner, min_size=2, max_size=4).map(lambda parts: _joined(Parallel, parts)),
        ),
        max_leaves=leaves,
    )


def _joined(kind: type[Series] | type[Parallel], parts: list[Network]) -> Network:
    return kind(tuple(inner for part in parts for inner in (part.parts if isinstance(part, kind) else (part,))))


@st.composite
def circuits(
    draw: st.DrawFn, *, timers: bool = True, comments: bool = True, masters: bool = False, leaves: int = 8
) -> Circuit:
    """Whole circuits that are sound: every coil fed once, every device wired the way it needs."""
    inputs = [Device(kind, Name(name)) for name, kind in _INPUTS]
    loads = [Device(kind, Name(name)) for name, kind in _LOADS]
    relays = [Device(Kind.RELAY, Name(f"CR{k}")) for k in range(draw(st.integers(1, 4)))]
    timed = [draw(_timer(k)) for k in range(draw(st.integers(0, 3)) if timers else 0)]
    latching = [Device(Kind.LATCHING_RELAY, Name(f"KR{k}")) for k in range(draw(st.integers(0, 2)))]
    counters = [
        Device(Kind.COUNTER, Name(f"CT{k}"), None, Preset(str(draw(st.integers(1, 4)))))
        for k in range(draw(st.integers(0, 2)))
    ]
    contacts = [*inputs, *relays, *timed, *latching, *counters]
    feeds = [Feed(d.name) for d in (*relays, *loads)]
    for timer in timed:
        apart = timer.function in _FED_APART or draw(st.booleans())
        feeds += [Feed(timer.name, t) for t in (Terminal.SUPPLY, Terminal.CONTROL)] if apart else [Feed(timer.name)]
    feeds += [Feed(d.name, t) for d in latching for t in (Terminal.LATCH, Terminal.UNLATCH)]
    feeds += [Feed(d.name, t) for d in counters for t in (Terminal.COUNT, Terminal.RESET)]
    groups = draw(_grouped(draw(st.permutations(feeds))))
    rungs = []
    for k, group in enumerate(groups, start=1):
        network = draw(networks(contacts, leaves=leaves) | st.just(Series(())))
        rungs.append(Rung(k, network, tuple(group), draw(_comments()) if comments else Comments()))
    if masters:
        rungs = draw(_mastered(rungs, contacts, comments=comments))
    devices = [*inputs, *relays, *timed, *latching, *counters, *loads]
    if not comments:
        return Circuit("", (), tuple(devices), tuple(rungs))
    devices = [Device(d.kind, d.name, d.function, d.preset, draw(_comments())) for d in devices]
    title = draw(_TEXT)
    notes = draw(_comment_lines()) if title else ()
    return Circuit(title, notes, tuple(devices), tuple(rungs), draw(_comment_lines()))


@st.composite
def _mastered(draw: st.DrawFn, rungs: list[Rung], contacts: list[Device], *, comments: bool) -> list[Rung]:
    """Some of the rungs in groups fed through masters, some of these one inside another."""
    inside: list[Master] = []
    out = []
    for rung in rungs:
        turn = draw(st.sampled_from(["on", "on", "in", "out"]))
        if turn == "in" and len(inside) < 3:
            said = (draw(_comments()), draw(_comments())) if comments else ()
            inside.append(Master(draw(networks(contacts, leaves=3)), *said))
        elif turn == "out" and inside:
            inside.pop()
        out.append(behind(tuple(inside), rung))
    return out


@st.composite
def _grouped(draw: st.DrawFn, feeds: list[Feed]) -> list[list[Feed]]:
    groups: list[list[Feed]] = []
    for feed in feeds:
        if groups and draw(st.integers(0, 3)) == 0:
            groups[-1].append(feed)
        else:
            groups.append([feed])
    return groups


@st.composite
def _timer(draw: st.DrawFn, k: int) -> Device:
    preset = Preset(str(draw(st.integers(1, 9))), draw(st.sampled_from(["ms", "s"])))
    return Device(Kind.TIMER, Name(f"TR{k}"), draw(st.sampled_from(TimerFunction)), preset)


def _condition(step: str) -> st.SearchStrategy[Condition]:
    signal: st.SearchStrategy[Condition] = st.sampled_from([Signal(device=d) for d, _ in _INPUTS])
    level = signal | signal.map(lambda c: Not(of=c)) | st.builds(lambda a, b: Or(of=(a, b)), signal, signal)
    press = st.tuples(st.sampled_from(["START", "LS1"]), level).map(lambda pair: both(Rise(device=pair[0]), pair[1]))
    time = st.sampled_from([1_000, 5_000_000]).map(lambda t: Elapsed(step=step, time_us=t))
    return st.one_of(level, press, time, st.builds(lambda a, b: Or(of=(a, b)), press, time))


@st.composite
def resting_charts(draw: st.DrawFn) -> Chart:
    """Chains that leave something on between cycles, with faults, as lowering makes them."""
    names = [f"S{k}" for k in range(1, draw(st.integers(1, 4)) + 1)]
    outputs = st.lists(st.sampled_from([n for n, _ in _LOADS]), max_size=2, unique=True)
    home = Signal(device="LS1") if draw(st.booleans()) else Not(of=Signal(device="and"))
    start = draw(st.just("START").map(lambda d: Rise(device=d)) | st.just("START").map(lambda d: Signal(device=d)))
    trigger = both(start, home)
    transitions = [Transition(name="T1", sources=("S0",), targets=(names[0],), condition=trigger)]
    transitions.append(Transition(name="T2", sources=("R1",), targets=(names[0],), condition=trigger))
    steps = [Step(name="S0", initial=True)]
    for name, after in zip(names, [*names[1:], "R1"], strict=True):
        ends = draw(_condition(name))
        transitions.append(Transition(name=f"T{name}", sources=(name,), targets=(after,), condition=ends))
        steps.append(Step(name=name, actions=tuple(Action(output=o) for o in draw(outputs))))
        if draw(st.booleans()):
            late = And(of=(Elapsed(step=name, time_us=draw(st.sampled_from([2_000, 5_000_000]))), Not(of=ends)))
            transitions.append(Transition(name=f"TF{name}", sources=(name,), targets=("F1",), condition=late))
    steps.append(Step(name="R1", actions=tuple(Action(output=o) for o in draw(outputs))))
    steps.append(Step(name="F1", fault="stuck", actions=tuple(Action(output=o) for o in draw(outputs))))
    return Chart(
        inputs=tuple(n for n, _ in _INPUTS),
        outputs=tuple(n for n, _ in _LOADS),
        steps=tuple(steps),
        transitions=tuple(transitions),
        forcing=Forcing(condition=Signal(device="STOP")),
    )
