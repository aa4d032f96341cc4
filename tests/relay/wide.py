"""Random charts with everything step relays can follow: stations, branches, choices, repeats, memories and stops.

They are put together as a sequence of statements is, so that no step is ever entered while it is active.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from hypothesis import strategies as st

from compiler.chart import Action, ActionKind, Chart, Counting, CountingKind, Forcing, Interlock, Step, Transition
from compiler.condition import Active, Always, And, Condition, Counted, Elapsed, Not, Or, Rise, Signal, both, negated

__all__ = ["wide_charts"]

INPUTS = ("START", "STOP", "LS1", "2LS", "AUTO")
OUTPUTS = ("SOL1", "on", "PUMP-A")
_TIMES_US = (1_000, 500_000, 1_500_000, 2_300_000)

Exit = tuple[tuple[str, ...], Condition]


def _levels() -> st.SearchStrategy[Condition]:
    signals: st.SearchStrategy[Condition] = st.sampled_from([Signal(device=name) for name in INPUTS])
    plain = signals | signals.map(lambda c: Not(of=c))
    return (
        plain
        | st.builds(lambda a, b: And(of=(a, b)), plain, plain)
        | st.builds(lambda a, b: Or(of=(a, b)), plain, plain)
    )


@dataclass
class _Station:
    draw: st.DrawFn
    prefix: str
    output: str
    stored: str
    steps: list[Step] = field(default_factory=list)
    ways: list[Transition] = field(default_factory=list)
    faults: list[Step] = field(default_factory=list)
    counters: list[str] = field(default_factory=list)
    owed: list[str] = field(default_factory=list)  # counters to be cleared by the next step

    def step(self, exits: list[Exit], *, count: str = "", waits: bool = False) -> list[Exit]:
        """A step that all these exits lead to; what leads out of it."""
        name = self.name()
        self.tie(exits, name)
        actions = [Action(output=self.output)] if self.draw(st.booleans()) else []
        if self.stored and not waits and self.draw(st.integers(0, 2)) == 0:
            kind = self.draw(st.sampled_from([ActionKind.SET_ON_ENTRY, ActionKind.RESET_ON_ENTRY]))
            actions.append(Action(output=self.stored, kind=kind))
        counting = [Counting(counter=c, kind=CountingKind.CLEAR) for c in self.owed]
        counting += [Counting(counter=count)] if count else []
        self.owed = []
        self.steps.append(Step(name=name, actions=tuple(actions), counting=tuple(counting)))
        return [((name,), Always() if waits else self.ending(name))]

    def name(self) -> str:
        return f"{self.prefix}{len(self.steps)}"

    def ending(self, name: str) -> Condition:
        times = st.sampled_from(_TIMES_US).map(lambda t: Elapsed(step=name, time_us=t))
        plain = _levels() | times
        presses = st.sampled_from([Rise(device=d) for d in INPUTS if d != "STOP"])
        ends = plain | presses | st.builds(lambda a, b: both(a, b), presses, _levels())
        condition: Condition = self.draw(st.just(Always()) | ends if self.draw(st.booleans()) else ends)
        if condition != Always() and self.draw(st.integers(0, 2)) == 0:
            fault = f"{self.prefix}F{len(self.faults)}"
            off = [Action(output=self.stored, kind=ActionKind.RESET_ON_ENTRY)] if self.stored else []
            self.faults.append(Step(name=fault, fault="late", actions=tuple(off)))
            late = both(Elapsed(step=name, time_us=self.draw(st.sampled_from(_TIMES_US))), negated(condition))
            self.ways.append(Transition(name=f"T{fault}", sources=(name,), targets=(fault,), condition=late))
        return condition

    def tie(self, exits: list[Exit], *targets: str) -> None:
        for sources, condition in exits:
            name = f"T{self.prefix}{len(self.ways)}"
            self.ways.append(Transition(name=name, sources=sources, targets=targets, condition=condition))

    def block(self, exits: list[Exit], depth: int) -> list[Exit]:
        for _ in range(self.draw(st.integers(1, 3))):
            kinds = ["step", "step", *(["fork", "choice", "repeat", "again"] if depth else [])]
            match self.draw(st.sampled_from(kinds)):
                case "fork":
                    exits = self.fork(exits, depth)
                case "choice":
                    exits = self.choice(exits, depth)
                case "repeat":
                    exits = self.repeat(exits, depth)
                case "again":
                    exits = self.again(exits, depth)
                case _:
                    exits = self.step(exits)
        return exits

    def fork(self, exits: list[Exit], depth: int) -> list[Exit]:
        if self.owed:
            exits = self.step(exits)
        stored, self.stored = self.stored, ""
        firsts: list[str] = []
        waiting: list[str] = []
        outs = []
        for _ in range(self.draw(st.integers(2, 3))):
            firsts.append(self.name())
            outs.append(self.step([]))
        self.tie(exits, *firsts)
        for out in outs:
            inner = self.block(out, depth - 1) if self.draw(st.booleans()) else out
            waiting.append(self.name())
            self.step(inner, waits=True)
        self.stored = stored
        return [(tuple(waiting), Always())]

    def choice(self, exits: list[Exit], depth: int) -> list[Exit]:
        condition = self.draw(_levels())
        if self.owed:
            exits = self.step(exits)
        first = [(sources, both(c, condition)) for sources, c in exits]
        other = [(sources, both(c, negated(condition))) for sources, c in exits]
        taken = self.block(list(first), depth - 1)
        cleared, self.owed = self.owed, []
        skipped = self.block(list(other), depth - 1) if self.draw(st.booleans()) else list(other)
        self.owed += cleared
        return [*taken, *skipped]

    def repeat(self, exits: list[Exit], depth: int) -> list[Exit]:
        if self.owed:
            exits = self.step(exits)
        counter = f"C{self.prefix}{len(self.counters)}"
        self.counters.append(counter)
        first = self.name()
        inner = self.step(exits, count=counter)
        inner = self.block(inner, depth - 1) if self.draw(st.booleans()) else self.step(inner)
        done = Counted(counter=counter, at_least=self.draw(st.integers(1, 3)))
        self.tie([(sources, both(c, Not(of=done))) for sources, c in inner], first)
        self.owed.append(counter)
        return self.step([(sources, both(c, done)) for sources, c in inner])

    def again(self, exits: list[Exit], depth: int) -> list[Exit]:
        if self.owed:
            exits = self.step(exits)
        first = self.name()
        inner = self.block(self.step(exits), depth - 1)
        if self.owed:
            inner = self.step(inner)
        inner = inner if len(inner) == 1 and inner[0][0] != (first,) else self.step(inner)
        done = self.draw(_levels())
        self.tie([(sources, both(c, negated(done))) for sources, c in inner], first)
        return [(sources, both(c, done)) for sources, c in inner]

    def whole(self, depth: int) -> None:
        first = self.name()
        self.steps.append(Step(name=first, initial=True))
        pressed: Condition = Rise(device="START") if self.draw(st.booleans()) else Signal(device="START")
        if self.draw(st.booleans()):
            pressed = both(pressed, self.draw(_levels()))
        exits = self.block([((first,), pressed)], depth)
        if self.owed or len(self.steps) < 3:
            exits = self.step(exits)
        self.tie(exits, first)
        cleared = tuple(Counting(counter=c, kind=CountingKind.CLEAR) for c in self.counters)
        self.steps[0] = self.steps[0].model_copy(update={"counting": cleared})
        names = [step.name for step in self.steps]
        for k, way in enumerate(self.ways):
            if "F" in way.name:
                others = tuple(name for name in names if name not in way.sources)
                self.ways[k] = way.model_copy(update={"aborts": others})
        for fault in self.faults:
            if self.draw(st.booleans()):
                self.tie([((fault.name,), Rise(device="AUTO"))], first)


@st.composite
def wide_charts(draw: st.DrawFn, *, stations: int = 2) -> Chart:
    """One or two stations, a memory of STOP beside them, interlocks, and a stop of some kind."""
    made = [_Station(draw, "S", "SOL1", "on")]
    if stations > 1 and draw(st.booleans()):
        made.append(_Station(draw, "P", "PUMP-A", ""))
    for station in made:
        station.whole(draw(st.integers(0, 2)))
    steps = [step for station in made for step in (*station.steps, *station.faults)]
    ways = [way for station in made for way in station.ways]
    remembers = draw(st.booleans())
    if remembers:
        steps += [Step(name="M0", initial=True), Step(name="M1", actions=(Action(output="PUMP-A"),))]
        home: Condition = Active(step="S0")
        ways.append(Transition(name="TM0", sources=("M0",), targets=("M1",), condition=Rise(device="STOP")))
        ways.append(Transition(name="TM1", sources=("M1",), targets=("M0",), condition=home))
        # What the memory waits for must not be left for the memory's sake: that would be a race at one instant.
        ways = [way if way.sources == ("S0",) else _also(draw, way, ["M1"]) for way in ways]
    if len(made) > 1:
        ways = [_also(draw, way, [step.name for step in made[way.name[1] == "S"].steps]) for way in ways]
    everywhere = tuple(step.name for step in steps if step.initial)
    elsewhere = (draw(st.sampled_from(made[0].steps)).name, *everywhere[1:])
    again: Condition = And(of=(Rise(device="STOP"), Signal(device="2LS")))
    forced = [
        Forcing(condition=Signal(device="STOP")),
        Forcing(condition=Rise(device="STOP"), steps=elsewhere),
        Forcing(condition=again, steps=elsewhere),
        Forcing(condition=Signal(device="STOP"), steps=elsewhere),
    ]
    forcing = None if remembers else draw(st.none() | st.sampled_from(forced))
    pairs = st.permutations(OUTPUTS).map(lambda names: names[:2])
    interlocks: list[Interlock] = []
    if draw(st.booleans()):
        one, other = draw(pairs)
        interlocks = [
            Interlock(output=a, only_while=Not(of=Signal(device=b))) for a, b in ((one, other), (other, one))
        ]
    if draw(st.booleans()):
        interlocks.append(Interlock(output=draw(st.sampled_from(OUTPUTS)), only_while=draw(_levels())))
    return Chart(
        inputs=INPUTS,
        outputs=OUTPUTS,
        steps=tuple(steps),
        transitions=tuple(ways),
        forcing=forcing,
        counters=tuple(counter for station in made for counter in station.counters),
        interlocks=tuple(interlocks),
    )


def _also(draw: st.DrawFn, way: Transition, steps: list[str]) -> Transition:
    """The transition, now and then waiting for a step elsewhere as well."""
    if way.name.startswith("TM") or len(way.targets) > 1 or draw(st.integers(0, 4)):
        return way
    there: Condition = Active(step=draw(st.sampled_from(steps)))
    there = there if draw(st.booleans()) else Not(of=there)
    return way.model_copy(update={"condition": both(way.condition, there)})
