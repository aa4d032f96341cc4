"""Random charts of machines that do several things at once: stations side by side, branches of parallel work inside
branches, choices, repeats, counters, faults that break off the rest, interlocks, and situations that are forced."""

from __future__ import annotations

from dataclasses import dataclass, field

from hypothesis import strategies as st

from compiler.chart import (
    Action,
    ActionKind,
    Chart,
    Counting,
    CountingKind,
    Forcing,
    Interlock,
    Step,
    Transition,
    Words,
)
from compiler.condition import Active, Always, Condition, Counted, Elapsed, Not, Rise, Signal, Sustained, both, either

__all__ = ["nets"]

INPUTS = ("START", "STOP", "LS1", "2LS", "AUTO")
OUTPUTS = ("SOL1", "on", "PUMP-A")
TIMES_US = (1_000, 500_000, 1_500_000)
WORDS = Words(text="do *) it")
signals: st.SearchStrategy[Condition] = st.sampled_from([Signal(device=name) for name in INPUTS])
levels = st.one_of(signals, signals.map(lambda c: Not(of=c)), st.builds(either, signals, signals))

Exits = list[tuple[tuple[str, ...], Condition]]
"""Steps that are left and the condition on which they are: what comes next is tied to each."""


@dataclass
class _Making:
    """A chart being made, one statement after the other."""

    draw: st.DrawFn
    station: str
    parallel: bool
    steps: list[Step] = field(default_factory=list)
    transitions: list[Transition] = field(default_factory=list)
    counters: list[str] = field(default_factory=list)

    def step(self, *, initial: bool = False, counting: tuple[Counting, ...] = (), fault: str = "") -> str:
        name = f"{self.station}{'F' if fault else 'S'}{len(self.steps)}"
        kinds = st.sampled_from([ActionKind.CONTINUOUS, *ActionKind])
        conditions = st.just(Always()) | levels
        actions = self.draw(
            st.lists(st.builds(Action, output=st.sampled_from(OUTPUTS), kind=kinds, condition=conditions), max_size=2)
        )
        plain = tuple(
            a if a.kind is ActionKind.CONTINUOUS else a.model_copy(update={"condition": Always()}) for a in actions
        )
        self.steps.append(
            Step(
                name=name,
                initial=initial,
                actions=plain,
                counting=counting,
                fault=fault,
                words=Words(text="do *) it"),
            )
        )
        return name

    def go(self, exits: Exits, *targets: str, aborts: tuple[str, ...] = ()) -> None:
        for sources, condition in exits:
            name = f"{self.station}T{len(self.transitions) + 1}"
            self.transitions.append(
                Transition(name=name, sources=sources, targets=targets, condition=condition, aborts=aborts)
            )

    def ending(self, step: str) -> Condition:
        times = st.sampled_from(TIMES_US)
        return self.draw(
            st.one_of(
                levels,
                times.map(lambda t: Elapsed(step=step, time_us=t)),
                st.builds(lambda c, t: Sustained(of=c, time_us=t), levels, times),
                st.sampled_from([Rise(device=name) for name in INPUTS]),
                st.builds(lambda n, c: both(Rise(device=n), c), st.sampled_from(INPUTS), levels),
            )
        )

    def block(self, exits: Exits, depth: int) -> Exits:
        for kind in self.draw(st.lists(st.sampled_from(self.kinds(depth)), min_size=1, max_size=3)):
            match kind:
                case "p":
                    exits = self.together(exits, depth - 1)
                case "r":
                    exits = self.repeat(exits, depth - 1)
                case "c":
                    exits = self.choice(exits, depth - 1)
                case _:
                    exits = self.plain(exits)
        return exits

    def kinds(self, depth: int) -> str:
        return "s" if not depth else "sssprc" if self.parallel else "ssrc"

    def plain(self, exits: Exits) -> Exits:
        name = self.step(counting=self.counts())
        self.go(exits, name)
        return [((name,), self.ending(name))]

    def counts(self) -> tuple[Counting, ...]:
        if not self.counters or not self.draw(st.booleans()):
            return ()
        return (Counting(counter=self.draw(st.sampled_from(self.counters)),
                         kind=self.draw(st.sampled_from(CountingKind))),)  # fmt: skip

    def together(self, exits: Exits, depth: int) -> Exits:
        entry = self.step()
        self.go(exits, entry)
        firsts, waiting = [], []
        fork = len(self.transitions)
        for _ in range(self.draw(st.integers(2, 3))):
            first = self.step()
            ends = self.block([((first,), self.ending(first))], depth)
            wait = self.step()
            self.go(ends, wait)
            firsts.append(first)
            waiting.append(wait)
        self.transitions.insert(
            fork,
            Transition(name=f"{entry}_fork", sources=(entry,), targets=tuple(firsts), condition=self.ending(entry)),
        )
        return [(tuple(waiting), Always())]

    def repeat(self, exits: Exits, depth: int) -> Exits:
        counter = f"{self.station}C{len(self.steps)}"
        most = self.draw(st.integers(1, 3))
        first = self.step(counting=(Counting(counter=counter),))
        self.go(exits, first)
        ends = self.block([((first,), self.ending(first))], depth)
        self.counters.append(counter)
        last = self.step()
        self.go(ends, last)
        done = Counted(counter=counter, at_least=most)
        self.go([((last,), Not(of=done))], first)
        after = self.step(counting=(Counting(counter=counter, kind=CountingKind.CLEAR),))
        self.go([((last,), done)], after)
        return [((after,), self.ending(after))]

    def choice(self, exits: Exits, depth: int) -> Exits:
        asking = self.step()
        self.go(exits, asking)
        first, exclusive = self.draw(levels), not self.parallel or self.draw(st.booleans())
        second = both(Not(of=first), self.draw(levels)) if exclusive else self.draw(levels)
        left = self.block([((asking,), first)], depth)
        return left + self.block([((asking,), second)], depth) if exclusive else left


def _station(draw: st.DrawFn, name: str, others: list[str], *, parallel: bool) -> _Making:
    making = _Making(draw, name, parallel)
    rest = making.step(initial=True)
    trigger: list[Condition] = [Rise(device="START"), Signal(device="AUTO")]
    trigger += [Active(step=step) for step in others]
    begin = making.draw(st.sampled_from(trigger))
    ends = making.block([((rest,), begin)], draw(st.integers(0, 2)))
    making.go(ends, rest)
    if not parallel:
        return making
    work = [step.name for step in making.steps if not step.initial]
    for source in draw(st.lists(st.sampled_from(work), max_size=3, unique=True)):
        shown = making.step(fault="stuck")
        late = both(Elapsed(step=source, time_us=draw(st.sampled_from(TIMES_US))), draw(levels))
        others = [step for step in work if step != source]
        some = draw(st.just(others) | st.lists(st.sampled_from(others), min_size=1, unique=True)) if others else []
        making.go([((source,), late)], shown, aborts=tuple(some))
        if draw(st.booleans()):
            making.go([((shown,), Rise(device="AUTO"))], rest)
    return making


@st.composite
def nets(draw: st.DrawFn, *, parallel: bool = True) -> Chart:
    """Charts over the machines of ``tests.strategies_chart``. Not ``parallel``: one step is active at a time."""
    names = draw(st.sampled_from([("",), ("",), ("A_", "B_"), ("", "B_")] if parallel else [("",)]))
    stations: list[_Making] = []
    for name in names:
        stations.append(
            _station(draw, name, [step.name for making in stations for step in making.steps], parallel=parallel)
        )
    steps = [step for making in stations for step in making.steps]
    order = draw(st.permutations(steps)) if draw(st.booleans()) else steps
    held: list[tuple[str, ...]] = [(), tuple(making.steps[-1].name for making in stations)]
    conditions = st.one_of(levels, st.just(Rise(device="STOP")), st.just(Signal(device="STOP")))
    forcing = draw(st.none() | st.builds(Forcing, condition=conditions, steps=st.sampled_from(held)))
    commanded = st.sampled_from([Signal(device=name) for name in OUTPUTS])
    allowed = st.one_of(levels, commanded.map(lambda c: Not(of=c)), st.builds(both, levels, commanded))
    interlocks = draw(st.lists(st.builds(Interlock, output=st.sampled_from(OUTPUTS), only_while=allowed), max_size=2))
    return Chart(
        inputs=INPUTS,
        outputs=OUTPUTS,
        steps=tuple(order),
        transitions=tuple(t for making in stations for t in making.transitions),
        forcing=forcing,
        counters=tuple(name for making in stations for name in making.counters),
        interlocks=tuple(interlocks),
    )
