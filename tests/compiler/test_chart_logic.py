"""The evolution rules of IEC 60848:2013, one test each, and the times and actions of steps."""

from __future__ import annotations

import pytest

from compiler.chart import Action, ActionKind, Chart, Forcing, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.condition import Always, Condition, Elapsed, Not, Rise, Signal, Sustained
from compiler.logic import Chattering


def t(name: str, sources: str, targets: str, condition: Condition) -> Transition:
    return Transition(name=name, sources=tuple(sources.split()), targets=tuple(targets.split()), condition=condition)


def chart(steps: str, *transitions: Transition, forcing: Condition | None = None) -> Chart:
    """Steps by name, an initial one marked with *; each step X lights a lamp X."""
    names = [name.strip("*") for name in steps.split()]
    return Chart(
        inputs=("a", "b", "stop"),
        outputs=tuple(names),
        steps=tuple(
            Step(name=name.strip("*"), initial="*" in name, actions=(Action(output=name.strip("*")),))
            for name in steps.split()
        ),
        transitions=transitions,
        forcing=None if forcing is None else Forcing(condition=forcing),
    )


A, B, STOP = Signal(device="a"), Signal(device="b"), Signal(device="stop")
UP = Rise(device="a")
NONE = (False, False, False)
PRESS_A, PRESS_B, PRESS_AB, PRESS_STOP = (
    (True, False, False),
    (False, True, False),
    (True, True, False),
    (False,) * 2 + (True,),
)


def test_rule_1_initial_steps_are_active_at_time_zero() -> None:
    logic = chart_logic(chart("x* y z*"))
    assert logic.lit(logic.power_up(NONE).state) == ("x", "z")


def test_rule_2_a_transition_needs_every_preceding_step() -> None:
    logic = chart_logic(chart("x* y z", t("join", "x y", "z", A)))
    start = logic.power_up(NONE)
    assert logic.lit(logic.react(start.state, PRESS_A).state) == ("x",)


def test_rule_3_clearing_moves_every_step_at_once() -> None:
    logic = chart_logic(chart("x* y* v w", t("both", "x y", "v w", A)))
    start = logic.power_up(NONE)
    assert logic.lit(logic.react(start.state, PRESS_A).state) == ("v", "w")


def test_rule_4_transitions_clearable_together_clear_together() -> None:
    """An alternative with both conditions true starts both branches (unlike IEC 61131-3 SFC, which starts one)."""
    logic = chart_logic(chart("x* y z", t("one", "x", "y", A), t("two", "x", "z", B)))
    start = logic.power_up(NONE)
    assert logic.lit(logic.react(start.state, PRESS_AB).state) == ("y", "z")


def test_rule_5_a_step_left_and_entered_at_once_stays_active() -> None:
    logic = chart_logic(chart("x* y*", t("on", "x", "y", A), t("round", "y", "x", A)))
    start = logic.power_up(NONE)
    with pytest.raises(Chattering):  # both stay active, and clear for ever
        logic.react(start.state, PRESS_A)
    once = chart_logic(chart("x* y*", t("on", "x", "y", UP), t("round", "y", "x", UP)))
    assert once.lit(once.react(once.power_up(NONE).state, PRESS_A).state) == ("x", "y")


def test_two_transitions_in_a_row_on_one_edge_need_two_edges() -> None:
    logic = chart_logic(chart("x* y z", t("one", "x", "y", UP), t("two", "y", "z", UP)))
    first = logic.react(logic.power_up(NONE).state, PRESS_A)
    assert logic.lit(first.state) == ("y",)
    released = logic.react(first.state, NONE)
    assert logic.lit(logic.react(released.state, PRESS_A).state) == ("z",)


def test_an_input_already_actuated_at_power_up_has_no_edge() -> None:
    logic = chart_logic(chart("x* y", t("one", "x", "y", UP)))
    assert logic.lit(logic.power_up(PRESS_A).state) == ("x",)


def test_levels_run_through_unstable_steps_without_showing_their_actions() -> None:
    logic = chart_logic(chart("x* y z", t("one", "x", "y", A), t("two", "y", "z", A)))
    assert logic.react(logic.power_up(NONE).state, PRESS_A).outputs == (False, False, True)


def test_a_loop_that_never_settles_is_reported_with_its_steps() -> None:
    logic = chart_logic(chart("x* y", t("one", "x", "y", Always()), t("two", "y", "x", Always())))
    with pytest.raises(Chattering, match="x"):
        logic.power_up(NONE)


def test_time_in_step_runs_from_entry_and_restarts() -> None:
    timed = chart("x* y", t("one", "x", "y", A), t("two", "y", "x", Elapsed(step="y", time_us=5)))
    logic = chart_logic(timed)
    entered = logic.react(logic.power_up(NONE).state, PRESS_A)
    assert (entered.running, entered.started) == (frozenset({0}), frozenset({0}))
    # It expires with A still held: y is left, x passed through, and y entered anew with a new clock.
    again = logic.react(entered.state, PRESS_A, frozenset({0}))
    assert (again.outputs, again.started) == ((False, True), frozenset({0}))


def test_a_sustained_condition_is_broken_by_any_gap_and_runs_in_any_step() -> None:
    """IEC 60848 t/v: true when v has been true for t, whatever step is active."""
    logic = chart_logic(chart("x* y", t("one", "x", "y", Sustained(of=A, time_us=5))))
    held = logic.react(logic.power_up(NONE).state, PRESS_A)
    assert held.started == frozenset({0})
    broken = logic.react(held.state, NONE)
    assert broken.running == frozenset()
    again = logic.react(broken.state, PRESS_A)
    assert logic.lit(logic.react(again.state, PRESS_A, frozenset({0})).state) == ("y",)


def test_forcing_is_ahead_of_evolution_and_swallows_edges() -> None:
    logic = chart_logic(chart("x* y", t("one", "x", "y", UP), forcing=STOP))
    stopped = logic.react(logic.power_up(NONE).state, PRESS_STOP)
    pressed = logic.react(stopped.state, (True, False, True))
    assert logic.lit(pressed.state) == ("x",)
    assert logic.lit(logic.react(pressed.state, PRESS_A).state) == ("x",)  # STOP let go, A still held: no edge


def test_stored_actions_stay_until_rewritten_and_are_written_by_steps_passed_through() -> None:
    steps = (
        Step(name="x", initial=True),
        Step(name="y", actions=(Action(output="m", kind=ActionKind.SET_ON_ENTRY),)),
        Step(name="z", actions=(Action(output="m", kind=ActionKind.RESET_ON_EXIT),)),
    )
    moves = (t("1", "x", "y", A), t("2", "y", "z", A), t("3", "z", "x", Not(of=A)))
    logic = chart_logic(Chart(inputs=("a", "b", "stop"), outputs=("m",), steps=steps, transitions=moves))
    through = logic.react(logic.power_up(NONE).state, PRESS_A)
    assert (logic.lit(through.state), through.outputs) == (("z",), (True,))
    assert logic.react(through.state, NONE).outputs == (False,)


def test_a_continuous_action_follows_its_condition() -> None:
    step = Step(name="x", initial=True, actions=(Action(output="m", condition=B),))
    logic = chart_logic(Chart(inputs=("a", "b", "stop"), outputs=("m",), steps=(step,)))
    start = logic.power_up(NONE)
    assert [logic.react(start.state, i).outputs for i in (NONE, PRESS_B)] == [(False,), (True,)]


def test_a_forcing_by_an_edge_acts_once_and_the_chart_goes_on_from_there_at_the_same_instant() -> None:
    """IEC 60848:2013 forcing order (from memory): it has priority while its condition holds, and an edge is brief."""
    steps = (Step(name="x", initial=True), Step(name="home"), Step(name="y"))
    moves = (t("1", "home", "y", B), t("2", "x", "y", Signal(device="stop")))
    forcing = Forcing(condition=UP, steps=("home",))
    logic = chart_logic(Chart(inputs=("a", "b", "stop"), outputs=(), steps=steps, transitions=moves, forcing=forcing))
    start = logic.power_up(NONE)
    assert logic.lit(logic.react(start.state, PRESS_A).state) == ("home",)
    assert logic.lit(logic.react(start.state, PRESS_AB).state) == ("y",)
    forced = logic.react(logic.react(start.state, PRESS_A).state, NONE)
    assert logic.lit(forced.state) == ("home",)
    assert logic.lit(logic.react(forced.state, PRESS_AB).state) == ("y",)  # forced where it stands already
