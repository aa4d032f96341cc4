"""Requirements watched beside a logic: against times worked out by hand, and against the watch of simulated runs."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from compiler.chart import Action, Chart, Requirement, Response, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.checking.scenarios import make_scenarios
from compiler.condition import Active, Condition, Elapsed, Not, Rise, Signal, Sustained, both
from compiler.logic import Bits, Reaction, Timer
from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from compiler.proof.monitor import watched
from compiler.proof.table import Nothing
from compiler.simulation.run import Event, EventKind, Scenario
from compiler.understand import understand
from grammar.sequence import tree
from grammar.sequence.write import write
from grammar.source import Source
from tests.proof.looking_on import ran
from tests.strategies_chart import Moment, charts, histories, machines, requirements
from tests.strategies_program import programs, sensible_programs

S = 1_000_000
START, PART, BUSY = (Signal(device=name) for name in ("START", "PART", "BUSY"))
PRESSED = Rise(device="START")
Rule = Requirement | Response

# BUSY is on for three seconds after START is pressed.
MACHINE = Machine(
    title="Lamp",
    inputs=(Input(name="START", kind=InputKind.PUSHBUTTON), Input(name="PART", kind=InputKind.SENSOR)),
    loads=(Load(name="BUSY", kind=LoadKind.LAMP),),
    start="START",
)
CHART = Chart(
    inputs=("START", "PART"),
    outputs=("BUSY",),
    steps=(Step(name="S0", initial=True), Step(name="S1", actions=(Action(output="BUSY"),))),
    transitions=(
        Transition(name="T1", sources=("S0",), targets=("S1",), condition=PRESSED),
        Transition(name="T2", sources=("S1",), targets=("S0",), condition=Elapsed(step="S1", time_us=3 * S)),
    ),
)


# --- by hand --------------------------------------------------------------------------------------------------------


def changes(text: str) -> tuple[Event, ...]:
    """``1 START+, 3.5 PART-, 4 supply-``: seconds, and what comes or goes."""
    found = []
    for words in filter(None, text.split(", ")):
        at, what = words.split()
        kind = EventKind.SUPPLY if what[:-1] == "supply" else EventKind.INPUT
        device = "" if kind is EventKind.SUPPLY else what[:-1]
        found.append(Event(at_us=round(float(at) * S), kind=kind, device=device, on=what[-1] == "+"))
    return tuple(found)


def leads(cause: Condition, effect: Condition, within_s: float) -> Response:
    return Response(name="N1", whenever=cause, then=effect, within_us=round(within_s * S))


def never(condition: Condition) -> Requirement:
    return Requirement(name="N1", never=condition)


PART_LASTS = Sustained(of=PART, time_us=1 * S)

# The rule, what happens, and from when to when it is broken (seconds; every run ends at 10 s).
BY_HAND: list[tuple[Rule, str, list[tuple[float, float]]]] = [
    # never
    (never(both(BUSY, PART)), "1 START+, 2 PART+, 3 PART-", [(2, 3)]),
    (never(both(BUSY, PART)), "1 START+, 4 PART+", []),  # BUSY goes as PART comes
    (never(both(Not(of=BUSY), START)), "1 START+, 2 START-", []),  # BUSY comes with START
    (never(PART_LASTS), "1 PART+, 5 PART-", [(2, 5)]),
    (never(PART_LASTS), "1 PART+, 2 PART-", []),  # only just reached
    (never(PART_LASTS), "1 PART+, 1.5 PART-, 1.6 PART+, 2.55 PART-", []),
    (never(Sustained(of=PART_LASTS, time_us=2 * S)), "1 PART+, 6 PART-", [(4, 6)]),  # one second, then two more
    (never(Sustained(of=Not(of=PART_LASTS), time_us=3 * S)), "1 PART+, 8 PART-", []),  # until 2 s it has not lasted
    (never(Sustained(of=Not(of=PART_LASTS), time_us=3 * S)), "2.5 PART+, 8 PART-", [(3, 3.5)]),
    (never(Active(step="S1")), "1 START+", [(1, 4)]),
    (never(Elapsed(step="S1", time_us=2 * S)), "1 START+", [(3, 4)]),
    (never(Elapsed(step="S1", time_us=3 * S)), "1 START+", []),
    (never(PART), "0 PART+, 2 supply-, 3 supply+, 4 PART-", [(0, 2), (3, 4)]),  # without supply nothing is judged
    (never(Sustained(of=PART, time_us=3 * S)), "0 PART+, 2 supply-, 4 supply+, 8 PART-", [(7, 8)]),
    # whenever ... within
    (leads(PRESSED, PART, 2), "1 START+", [(3, 10)]),
    (leads(PRESSED, PART, 2), "1 START+, 5 PART+, 6 PART-", [(3, 5)]),
    (leads(PRESSED, PART, 2), "1 START+, 3 PART+", []),  # at the last moment
    (leads(PRESSED, PART, 2), "1 START+, 3.000001 PART+", [(3, 3.000001)]),
    (leads(PRESSED, PART, 2), "0 PART+, 1 START+, 1.5 PART-", []),  # it holds already
    (leads(PRESSED, PART, 2), "1 START+, 1 PART+, 1.5 PART-", []),  # it comes at the same moment
    (leads(PRESSED, PART, 2), "1 START+, 1.5 START-, 2.5 START+", [(3, 10)]),  # the first press counts
    (leads(PRESSED, PART, 2), "1 START+, 1.5 START-, 2 PART+, 2.5 PART-, 3 START+", [(5, 10)]),
    (leads(PRESSED, PART, 2), "0 START+", []),  # down as power comes on: no press
    (leads(START, PART, 2), "0 START+", [(2, 10)]),  # but it is held
    (leads(START, PART, 2), "1 START+, 2 PART+, 2.5 PART-", []),  # held all along: it has come true once
    (leads(START, PART, 2), "0 START+, 1 supply-, 4 supply+", [(6, 10)]),
    (leads(PRESSED, PART, 2), "1 START+, 2 supply-, 4 supply+", []),  # forgotten with the supply
    (leads(PRESSED, Not(of=BUSY), 3), "1 START+", []),
    (leads(PRESSED, Not(of=BUSY), 2.9), "1 START+", [(3.9, 4)]),
    (leads(BUSY, PART, 2), "1 START+", [(3, 10)]),
    (leads(PART_LASTS, PRESSED, 2), "1 PART+", [(4, 10)]),  # lasted at 2 s, by time alone
    (leads(PART_LASTS, PRESSED, 2), "1 PART+, 2 PART-", []),  # it goes as the second is over: it has not lasted
    (leads(PART_LASTS, PRESSED, 2), "1 PART+, 3 START+", []),
    (leads(PART_LASTS, PRESSED, 2), "1 PART+, 5 START+", [(4, 5)]),  # a moment is enough to make it good
    (leads(PRESSED, PART_LASTS, 2), "1 START+, 1.5 PART+", []),
    (leads(PRESSED, PART_LASTS, 2), "1 START+, 2 PART+", []),  # lasted at 3 s, just in time
    (leads(PRESSED, PART_LASTS, 2), "1 START+, 2.5 PART+", [(3, 3.5)]),
    (leads(both(PRESSED, PART), BUSY, 1), "0 PART+, 1 START+, 5 START-, 6 PART-, 7 START+", []),
    (leads(both(PRESSED, PART), Not(of=PART), 1), "1 PART+, 2 START+", [(3, 10)]),
    (leads(both(PRESSED, PART), Not(of=PART), 1), "1 START+, 2 PART+", []),  # the press is over when PART comes
    (leads(both(PRESSED, PART_LASTS), Not(of=BUSY), 1), "1 PART+, 1.5 START+", []),  # pressed before it has lasted
    (leads(both(PRESSED, PART_LASTS), Not(of=BUSY), 1), "1 PART+, 2 START+", [(3, 5)]),  # pressed just as it has
    (leads(Active(step="S1"), Active(step="S0"), 2), "1 START+", [(3, 4)]),
]


@pytest.mark.parametrize(("rule", "happening", "broken"), BY_HAND)
def test_by_hand(rule: Rule, happening: str, broken: list[tuple[float, float]]) -> None:
    chart = CHART.model_copy(update={"requirements": (rule,)})
    seen = ran(MACHINE, chart, Scenario(name="t", duration_us=10 * S, events=changes(happening)))
    exact = [(round(a * S), round(b * S)) for a, b in broken]
    assert seen.stays == ({"N1": exact} if exact else {})
    assert seen.watched == ({"N1": exact[0][0]} if exact else {})


def test_several_requirements_keep_their_own_memory() -> None:
    """Three at once do what each does alone."""
    rules = [leads(PRESSED, PART, 2), never(PART_LASTS), leads(PART, PRESSED, 1)]
    named = tuple(rule.model_copy(update={"name": f"N{k}"}) for k, rule in enumerate(rules, 1))
    chart = CHART.model_copy(update={"requirements": named})
    scenario = Scenario(name="t", duration_us=10 * S, events=changes("1 START+, 4 PART+, 7 START-, 8 START+"))
    seen = ran(MACHINE, chart, scenario)
    assert seen.stays == {
        "N1": [(3 * S, 4 * S)],
        "N2": [(5 * S, 10 * S)],
        "N3": [(5 * S, 8 * S)],
    }


# --- against the watch of simulated runs ----------------------------------------------------------------------------

_SLOW = settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))


@_SLOW
@given(st.data())
def test_random_charts_break_for_both_at_the_same_moments(data: st.DataObject) -> None:
    machine, bare = data.draw(machines()), data.draw(charts())
    chart = bare.model_copy(update={"requirements": data.draw(requirements(bare))})
    supply = data.draw(st.lists(st.integers(0, 60 * S), max_size=2, unique=True).map(sorted))
    events = [*_events(machine, data.draw(histories())), *_supply(supply)]
    events.sort(key=lambda event: event.at_us)
    seen = ran(machine, chart, Scenario(name="t", duration_us=events[-1].at_us + 40 * S, events=tuple(events)))
    assert seen.first == seen.watched


def _events(machine: Machine, moments: list[Moment]) -> Iterable[Event]:
    at_us, names = 0, [i.name for i in machine.inputs]
    before = (False,) * len(names)
    for moment in moments:
        at_us += moment.pause_us
        for name, was, on in zip(names, before, moment.inputs, strict=True):
            if was is not on:
                yield Event(at_us=at_us, kind=EventKind.INPUT, device=name, on=on)
        before = moment.inputs


def _supply(moments: list[int]) -> Iterable[Event]:
    return (Event(at_us=at, kind=EventKind.SUPPLY, on=bool(k % 2)) for k, at in enumerate(moments))


@settings(_SLOW, max_examples=12)
@given(sensible_programs() | programs(), st.data())
def test_random_programs_break_for_both_at_the_same_moments(program: tree.Program, data: st.DataObject) -> None:
    """With cylinders that move, and an operator: the runs that an implementation would be checked in."""
    understood = understand(Source("<t>", write(program)))
    if understood.chart is None or not understood.chart.requirements:
        return
    scenarios = make_scenarios(understood.machine, understood.chart)
    for scenario in data.draw(st.lists(st.sampled_from(scenarios), min_size=1, max_size=3)):
        seen = ran(understood.machine, understood.chart, scenario)
        assert seen.first == seen.watched


# --- beside what is no chart ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Follower:
    """BUSY follows PART; START is not even wired."""

    name: str = "a wire"
    inputs: tuple[str, ...] = ("PART",)
    outputs: tuple[str, ...] = ("BUSY",)
    timers: tuple[Timer, ...] = (Timer("never runs", 7 * S),)

    def power_up(self, inputs: Bits) -> Reaction:
        return self.react((), inputs)

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        return Reaction(state, inputs)

    def lit(self, state: Hashable) -> tuple[str, ...]:
        return ()


def test_another_implementation_is_watched_by_what_is_seen_of_it() -> None:
    """Inputs and outputs have the same names in every implementation; steps are a chart's own."""
    rules = (
        Response(name="N1", whenever=PRESSED, then=BUSY, within_us=2 * S),
        Requirement(name="N2", never=both(Active(step="S1"), PART)),
        Requirement(name="N3", never=Sustained(of=Not(of=Elapsed(step="S1", time_us=S)), time_us=S)),
        Requirement(name="N4", never=both(PART, BUSY)),
    )
    logic = watched(Follower(), CHART, rules)
    assert [r.name for r in logic.unwatched] == ["N2", "N3"]
    assert logic.inputs == ("PART", "START")
    assert logic.outputs == ("BUSY", "requirement:N1", "requirement:N4")
    assert logic.timers == (Timer("never runs", 7 * S), Timer("N1", 2 * S))
    quiet = logic.power_up((False, False))
    assert (quiet.outputs, quiet.running) == ((False, False, False), frozenset())
    pressed = logic.react(quiet.state, (False, True))
    ours = frozenset({1})
    assert (pressed.outputs, pressed.running, pressed.started) == ((False, False, False), ours, ours)
    let_go = logic.react(pressed.state, (False, False))
    assert (let_go.running, let_go.started) == (ours, frozenset())
    late = logic.react(let_go.state, (False, False), ours)
    assert (late.outputs, late.running) == ((False, True, False), frozenset())
    made_good = logic.react(late.state, (True, False))
    assert (made_good.outputs, made_good.running) == ((True, False, True), frozenset())


def test_a_load_that_an_implementation_does_not_drive_is_off() -> None:
    logic = watched(Nothing(), CHART, (Requirement(name="N1", never=both(PART, Not(of=BUSY))),))
    assert logic.power_up((True,)).outputs == (True,)
    assert logic.power_up((False,)).outputs == (False,)


def test_a_requirement_on_a_stranger_is_no_requirement() -> None:
    with pytest.raises(KeyError, match="LAMP9"):
        watched(chart_logic(CHART), CHART, (Requirement(name="N1", never=Signal(device="LAMP9")),))


def test_a_watched_logic_does_what_it_did() -> None:
    """Whatever is asked of it besides, its own outputs, steps and timers are those of the logic alone."""
    bare = chart_logic(CHART)
    logic = watched(bare, CHART, (leads(PRESSED, PART, 1), never(PART_LASTS)))
    alone, beside = bare.power_up((False, False)), logic.power_up((False, False))
    for inputs, own, more in (
        ((True, False), frozenset[int](), frozenset[int]()),
        ((True, False), frozenset(), frozenset({2})),
        ((True, True), frozenset({0}), frozenset()),
        ((False, True), frozenset(), frozenset({1})),
    ):
        alone = bare.react(alone.state, inputs, own)
        beside = logic.react(beside.state, inputs, own | more)
        assert beside.outputs[:1] == alone.outputs
        assert logic.lit(beside.state) == bare.lit(alone.state)
        assert {k for k in beside.running if k == 0} == alone.running
    assert beside.outputs == (False, False, True)  # made good by PART, which has now lasted
