"""The evolution rules of IEC 60848:2013 (from memory) on random nets, against a reading that shares nothing with the
engine: a marking game on a bipartite graph (networkx) in which steps hold tokens and transitions pass them on."""

from __future__ import annotations

import networkx as nx  # type: ignore[import-untyped]  # it ships no types
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.chart import Chart, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.condition import Always, And, Condition, Not, Or, Rise, Signal
from compiler.logic import Chattering

_INPUTS = ("a", "b", "c")
_MOST_ROUNDS = 200
Inputs = tuple[bool, ...]


class NeverSettles(Exception):
    """The game goes round for ever."""


def wanted(condition: Condition, now: frozenset[str], risen: frozenset[str]) -> bool:
    """Whether a condition holds, with these inputs actuated and these just become so."""
    match condition:
        case Always():
            return True
        case Signal(device=name):
            return name in now
        case Rise(device=name):
            return name in risen
        case Not(of=of):
            return not wanted(of, now, risen)
        case And(of=parts):
            return min(wanted(p, now, risen) for p in parts)
        case Or(of=parts):
            return max(wanted(p, now, risen) for p in parts)
        case _:
            raise TypeError(condition)


class Game:
    """The marking game of a chart. Transition nodes carry their condition; what each aborts stands beside."""

    def __init__(self, chart: Chart) -> None:
        self.graph = nx.DiGraph()
        self.aborts: dict[str, tuple[str, ...]] = {}
        self.order = [t.name for t in chart.transitions]
        for step in chart.steps:
            self.graph.add_node(("step", step.name))
        for t in chart.transitions:
            self.graph.add_node(("transition", t.name), condition=t.condition)
            self.graph.add_edges_from((("step", s), ("transition", t.name)) for s in t.sources)
            self.graph.add_edges_from((("transition", t.name), ("step", s)) for s in t.targets)
            self.aborts[t.name] = t.aborts
        self.marking = frozenset(step.name for step in chart.steps if step.initial)
        self.before: frozenset[str] = frozenset()

    def ready(self, now: frozenset[str], risen: frozenset[str]) -> list[str]:
        """The transitions that clear: all that can (rule 4), less those whose steps an abort takes away. Of aborts
        that exclude each other the one written first stands."""
        able = [
            name
            for name in self.order
            if {step for _, step in self.graph.predecessors(("transition", name))} <= self.marking
            and wanted(self.graph.nodes[("transition", name)]["condition"], now, risen)
        ]
        standing: list[str] = []
        for name in (n for n in able if self.aborts[n]):
            if not any(self.hits(name, other) or self.hits(other, name) for other in standing):
                standing.append(name)
        plain = [n for n in able if not self.aborts[n] and not any(self.hits(other, n) for other in standing)]
        return [n for n in able if n in standing or n in plain]

    def hits(self, one: str, other: str) -> bool:
        """Whether a transition aborts a step that the other one leaves, and that it does not leave itself."""
        mine = {step for _, step in self.graph.predecessors(("transition", one))}
        theirs = {step for _, step in self.graph.predecessors(("transition", other))}
        return bool((set(self.aborts[one]) - mine) & theirs)

    def play(self, inputs: Inputs, *, first: bool = False) -> None:
        """Pass tokens until nothing clears. Edges count in the first round only; at power-up there are none."""
        now = frozenset(name for name, bit in zip(_INPUTS, inputs, strict=True) if bit)
        risen = frozenset() if first else now - self.before
        self.before = now
        for _ in range(_MOST_ROUNDS):
            clearing = self.ready(now, risen)
            if not clearing:
                return
            left = {s for n in clearing for _, s in self.graph.predecessors(("transition", n))}
            left |= {step for n in clearing for step in self.aborts[n]}
            entered = {s for n in clearing for _, s in self.graph.successors(("transition", n))}
            self.marking = (self.marking - left) | entered  # rule 5: left and entered at once, it stays
            risen = frozenset()
        raise NeverSettles


def _conditions() -> st.SearchStrategy[Condition]:
    level: st.SearchStrategy[Condition] = st.sampled_from([Signal(device=n) for n in _INPUTS])
    level |= level.map(lambda c: Not(of=c))
    edge: st.SearchStrategy[Condition] = st.sampled_from([Rise(device=n) for n in _INPUTS])
    pair = st.tuples(level | edge, level)
    return st.one_of(
        level, edge, edge, pair.map(lambda p: And(of=p)), pair.map(lambda p: Or(of=p)), st.just(Always())
    )


@st.composite
def nets(draw: st.DrawFn) -> Chart:
    """Any net at all: forks, joins, choices, aborts, loops, several tokens, sound or not."""
    names = [f"S{k}" for k in range(draw(st.integers(2, 7)))]
    some = st.lists(st.sampled_from(names), min_size=1, max_size=3, unique=True).map(tuple)
    transitions = tuple(
        Transition(
            name=f"T{k}",
            sources=draw(some),
            targets=draw(some),
            condition=draw(_conditions()),
            aborts=draw(st.just(()) | st.just(()) | some),
        )
        for k in range(draw(st.integers(1, 9)))
    )
    initial = draw(st.sets(st.sampled_from(names), min_size=1, max_size=3))
    steps = tuple(Step(name=name, initial=name in initial) for name in names)
    return Chart(inputs=_INPUTS, outputs=(), steps=steps, transitions=transitions)


@settings(max_examples=300, deadline=None)
@given(nets(), st.lists(st.tuples(st.booleans(), st.booleans(), st.booleans()), min_size=1, max_size=12))
def test_the_engine_plays_the_marking_game(chart: Chart, history: list[Inputs]) -> None:
    logic, game = chart_logic(chart), Game(chart)
    try:
        game.play(history[0], first=True)
    except NeverSettles:
        with pytest.raises(Chattering):
            logic.power_up(history[0])
        return
    state = logic.power_up(history[0]).state
    assert set(logic.lit(state)) == game.marking
    for inputs in history[1:]:
        try:
            game.play(inputs)
        except NeverSettles:
            with pytest.raises(Chattering):
                logic.react(state, inputs)
            return
        state = logic.react(state, inputs).state
        assert set(logic.lit(state)) == game.marking
