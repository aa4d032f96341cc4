"""What is proved of a sequence alone, against what can be worked out on paper."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.chart import Action, Chart, Requirement, Step, Transition
from compiler.chart_logic import ChartLogic, chart_logic
from compiler.condition import Always, Signal, both
from compiler.machine import Machine
from compiler.proof.cycle import CycleTime
from compiler.proof.examine import Examined, Question, examine
from compiler.proof.explore import Node, explore
from compiler.proof.induction.alone import never_in
from compiler.proof.product import Product
from compiler.proof.situation import Move
from compiler.proof.world import World
from compiler.proof.zone import Zone
from compiler.understand import Understood, understand
from grammar.source import Source
from tests.strategies_chart import charts, machines

HEAD = """\
hydraulic cylinder RAM
    stroke 100 mm, extends in 2 s to 3 s, retracts in 1 s to 1.5 s
    {valve}
    limit switch LS1 at end, LS2 at home
pushbutton START, normally open
pushbutton STOP, normally closed
sensor PART
lamp BUSY
"""
SPRING = "single solenoid valve SOL1, spring return"
MEMORY = "double solenoid valve SOL1A extends, SOL1B retracts"


def program(cycle: str, valve: str = SPRING) -> Understood:
    understood = understand(Source("bench", HEAD.format(valve=valve) + cycle))
    assert understood.chart is not None, understood.diagnostics
    return understood


def examined(understood: Understood, chart: Chart | None = None) -> Examined:
    chart = chart or understood.chart
    assert chart is not None
    return examine(chart_logic(chart), chart, understood.machine, most_zones=50_000)


@pytest.mark.parametrize(
    ("steps", "cycle"),
    [
        ("extend until at-end\n    hold 4 s\n    retract until at-home", CycleTime(7_000_000, 8_500_000)),
        ("turn on BUSY and wait 1 s\n    turn off BUSY", CycleTime(1_000_000, 1_000_000)),
        # The stroke out ends the cycle, and the ram goes home in its own time.
        ("extend until at-end", CycleTime(2_000_000, 3_000_000)),
        # A part may be there already, or never come.
        ("extend until at-end\n    wait until PART is made\n    retract until at-home", CycleTime(3_000_000, None)),
        # Whichever of the two comes first ends the wait: 5 s at most.
        ("wait until PART is made for 5 s", CycleTime(0, None)),
    ],
)
def test_the_time_of_a_cycle_is_exact(steps: str, cycle: CycleTime) -> None:
    assert examined(program(f"cycle\n    when START is pressed\n    {steps}\n")).cycle == cycle


def test_a_stroke_turned_round_on_its_way_makes_the_time_of_a_cycle_rough() -> None:
    """In 0.5 s it goes back a third to a half of its way, which takes it 0.67 to 1.5 s out again: 4.17 to 6.5 s."""
    steps = "extend until at-end\n    retract for 0.5 s\n    extend until at-end\n    retract until at-home"
    cycle = examined(program(f"cycle\n    when START is pressed\n    {steps}\n")).cycle
    assert cycle is not None
    assert cycle.greatest_us is not None
    assert cycle.rough
    assert cycle.least_us <= 4_170_000 < 6_500_000 <= cycle.greatest_us


def test_a_sound_sequence_has_only_good_news() -> None:
    found = examined(program("cycle\n    extend until at-end\n    hold 4 s\n    retract until at-home\n"))
    assert found.settled
    assert found.good
    assert (found.chatters, found.both_on, found.stuck, found.away, found.unreached) == ((), (), (), (), ())


def test_stop_leaves_a_rod_on_a_memory_valve_where_it_went() -> None:
    found = examined(program("cycle\n    extend until at-end\n    retract until at-home\n", MEMORY))
    assert found.away == ("S0",)
    assert found.good  # another cycle brings it home


def test_where_stop_leaves_the_machine_is_told_by_its_steps_and_not_by_what_remembers_the_stop() -> None:
    """STOP lets the stroke out be finished, and then nothing brings the rod home. Of the stroke back it does."""
    words = "cycle\n    extend until at-end\n    retract until at-home\nwhen STOP is pressed, finish the stroke\n"
    assert set(examined(program(words, MEMORY)).away or ()) == {"S0", "S1"}


def test_both_solenoids_of_a_valve_are_seen() -> None:
    plain = program("cycle\n    extend until at-end\n    retract until at-home\n", MEMORY)
    assert plain.chart is not None
    actions = tuple(Action(output=name) for name in ("SOL1A", "SOL1B"))
    steps = tuple(s.model_copy(update={"actions": actions}) if s.name == "S1" else s for s in plain.chart.steps)
    found = examined(plain, plain.chart.model_copy(update={"steps": steps}))
    assert found.both_on == ("RAM",)
    assert not found.good


def test_a_step_without_a_way_on_is_stuck_but_for_stop() -> None:
    plain = program("cycle\n    extend until at-end\n    retract until at-home\n")
    assert plain.chart is not None
    ways = tuple(t for t in plain.chart.transitions if t.sources != ("S2",))
    without_stop = plain.chart.model_copy(update={"transitions": ways, "forcing": None})
    assert examined(plain, without_stop).stuck == ("S1", "S2")
    assert examined(plain, plain.chart.model_copy(update={"transitions": ways})).stuck == ()


def test_a_step_that_is_passed_at_once_is_told() -> None:
    plain = program("cycle\n    extend until at-end\n    retract until at-home\n")
    assert plain.chart is not None
    extra = Step(name="X")
    ways = [t.model_copy(update={"targets": ("X",)}) if t.sources == ("S1",) else t for t in plain.chart.transitions]
    ways.append(Transition(name="TX", sources=("X",), targets=("S2",), condition=Always()))
    chart = plain.chart.model_copy(update={"steps": (*plain.chart.steps, extra), "transitions": tuple(ways)})
    assert examined(plain, chart).unreached == ("X",)


def test_what_never_settles_is_named() -> None:
    plain = program("cycle\n    extend until at-end\n    retract until at-home\n")
    assert plain.chart is not None
    part = Signal(device="PART")
    ring = (
        Transition(name="TA", sources=("S1",), targets=("S2",), condition=part),
        Transition(name="TB", sources=("S2",), targets=("S1",), condition=part),
    )
    chart = plain.chart.model_copy(update={"transitions": (*plain.chart.transitions, *ring)})
    found = examined(plain, chart)
    assert found.chatters
    assert not found.good


def test_a_requirement_is_kept_or_broken_with_the_shortest_run() -> None:
    body = "cycle\n    turn on BUSY and extend until at-end\n    turn off BUSY\n    retract until at-home\n"
    kept = examined(program(f"{body}never BUSY while STOP is pressed\n")).kept
    assert [(k.broken, k.settled, k.free) for k in kept] == [(False, True, True)]
    broken = examined(program(f"{body}never BUSY while PART is made\n")).kept[0]
    assert broken.broken
    assert broken.run is not None
    # START and PART, in either order, are enough.
    assert sorted(e.device for e in broken.run.scenario.events) == ["PART", "START"]


def test_what_must_follow_is_asked_of_undisturbed_runs() -> None:
    body = "cycle\n    extend until at-end\n    retract until at-home\n"
    in_time = examined(program(f"{body}whenever SOL1, RAM is at-end within 3 s\n")).kept[0]
    assert (in_time.broken, in_time.free) == (False, False)
    late = examined(program(f"{body}whenever SOL1, RAM is at-end within 2.999 s\n")).kept[0]
    assert late.broken


def given_up(understood: Understood, chart: Chart | None = None) -> Examined:
    chart = chart or understood.chart
    assert chart is not None
    return examine(chart_logic(chart), chart, understood.machine, most_zones=5)


def test_what_a_search_leaves_open_is_said_question_by_question() -> None:
    plain = program("cycle\n    extend until at-end\n    retract until at-home\n", MEMORY)
    found = given_up(plain)
    assert not found.settled
    assert found.open == (Question.HOME, Question.CYCLE)  # every step is met in a run
    assert (found.chatters, found.both_on, found.unreached, found.stuck, found.away) == ((), (), (), (), ())


def test_what_does_not_hold_is_left_open_when_the_search_is_given_up() -> None:
    plain = program("cycle\n    extend until at-end\n    retract until at-home\n", MEMORY)
    assert plain.chart is not None
    actions = tuple(Action(output=name) for name in ("SOL1A", "SOL1B"))
    steps = tuple(s.model_copy(update={"actions": actions}) if s.name == "S1" else s for s in plain.chart.steps)
    found = given_up(plain, plain.chart.model_copy(update={"steps": steps}))
    assert Question.OPPOSED in found.open or found.both_on == ("RAM",)


@pytest.mark.parametrize(("required", "is_kept"), [("SOL1A and SOL1B", True), ("SOL1A", False)])
def test_a_requirement_is_shown_without_a_search(required: str, is_kept: bool) -> None:
    cycle = "cycle\n    when START is pressed\n    extend until at-end\n    retract until at-home\n"
    plain = program(cycle, MEMORY)
    assert plain.chart is not None
    condition = both(*(Signal(device=name) for name in required.split(" and ")))
    never = Requirement(name="N1", never=condition, words=plain.chart.steps[0].words)
    chart = plain.chart.model_copy(update={"requirements": (never,)})
    found = given_up(plain, chart)
    assert [kept.settled and not kept.broken for kept in found.kept] == [is_kept]


@given(machine=machines(), chart=charts(), data=st.data())
@settings(max_examples=15, deadline=None)
def test_what_is_shown_never_to_be_is_met_in_no_run(machine: Machine, chart: Chart, data: st.DataObject) -> None:
    some = data.draw(st.lists(st.sampled_from(chart.outputs), min_size=1, max_size=2, unique=True))
    never = never_in(ChartLogic(chart), machine, [both(*(Signal(device=name) for name in some))])
    if never is None:
        return
    product = Product(ChartLogic(chart), None, machine)
    bits = sum(1 << k for k, load in enumerate(machine.loads) if load.name in some)
    met: list[bool] = []

    def see(before: Node | None, move: Move, readings: Zone, lasts: bool) -> None:
        met.append(lasts and product.driver.on(move.target.driver) & bits == bits)

    explored = explore(product, World(failing=True), most=2_000, seen=see)
    assert explored.chattering is None
    assert not (never[0] and any(met))
