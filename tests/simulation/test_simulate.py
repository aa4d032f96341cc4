"""Runs: joint reactions, differences that last, supplies, records and replays."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compiler.chart_logic import chart_logic
from compiler.logic import Bits, Chattering, Reaction, Timer
from compiler.machine import Load, LoadKind
from compiler.simulation.bench import wire
from compiler.simulation.run import Event, EventKind, Outcome, Role, Run, Scenario, Side, StrokeTimes
from compiler.simulation.simulate import follow, replay, simulate
from compiler.timers import Phase, TimerKind, advance
from tests.simulation.machines import (
    DWELL,
    DWELL_CHART,
    SECOND,
    SealIn,
    Wire,
    dwell_chart,
    event,
    jam,
    supply,
)

SEQUENCE = chart_logic(DWELL_CHART)
EXACT = (StrokeTimes(actuator="RAM", extend_us=SECOND, retract_us=SECOND),)


def scenario(*events: Event, duration_us: int = 60 * SECOND, strokes: tuple[StrokeTimes, ...] = EXACT) -> Scenario:
    return Scenario(name="a run", duration_us=duration_us, events=events, strokes=strokes)


def pressed(at_us: int, for_us: int = 300_000) -> tuple[Event, Event]:
    return event(at_us, "START", True), event(at_us + for_us, "START", False)


def changes(run: Run, signal: str, side: Side = Side.DRIVER) -> list[tuple[int, bool]]:
    return [(c.at_us, c.on) for c in run.changes if c.signal == signal and c.side is side]


def test_the_dwell_cycle_takes_what_its_parts_take() -> None:
    run = simulate(DWELL, SEQUENCE, scenario(*pressed(SECOND)))
    # START at 1 s, 1 s out, 30 s dwell, 1 s back (derived).
    assert changes(run, "SOL1") == [(SECOND, True), (32 * SECOND, False)]
    assert changes(run, "S0") == [(0, True), (SECOND, False), (33 * SECOND, True)]
    assert run.outcome is Outcome.COMPLETED


def test_the_seal_in_circuit_does_the_same_for_a_brief_press() -> None:
    run = simulate(DWELL, SEQUENCE, scenario(*pressed(SECOND)), shadow=SealIn())
    assert run.difference is None
    assert changes(run, "SOL1", Side.SHADOW) == changes(run, "SOL1")


def test_a_held_start_keeps_the_seal_in_circuit_going() -> None:
    run = simulate(DWELL, SEQUENCE, scenario(event(SECOND, "START", True)), shadow=SealIn())
    assert run.difference is not None
    assert (run.difference.at_us, run.difference.driver_on, run.difference.shadow_on) == (32 * SECOND, False, True)
    assert (run.outcome, run.ended_us) == (Outcome.DIFFERENCE, 32 * SECOND)


def test_stop_in_mid_dwell_sends_the_rod_home() -> None:
    run = simulate(DWELL, SEQUENCE, scenario(*pressed(SECOND), event(10 * SECOND, "STOP", True)))
    assert changes(run, "SOL1") == [(SECOND, True), (10 * SECOND, False)]
    assert changes(run, "LS2", Side.WORLD)[-1] == (11 * SECOND, True)


def test_a_lost_supply_drops_everything_and_its_return_starts_nothing() -> None:
    run = simulate(DWELL, SEQUENCE, scenario(*pressed(SECOND), supply(5 * SECOND, False), supply(6 * SECOND, True)))
    assert changes(run, "SOL1") == [(SECOND, True), (5 * SECOND, False)]
    assert changes(run, "S0")[-1] == (6 * SECOND, True)
    assert changes(run, "S2")[-1] == (5 * SECOND, False)


def test_a_timer_does_not_live_through_a_lost_supply() -> None:
    """The dwell begins anew; the time before the loss does not count (common practice: removing the supply resets
    a time relay)."""
    events = (event(SECOND, "START", True), supply(20 * SECOND, False), supply(20 * SECOND + 1000, True))
    run = simulate(DWELL, SealIn(), scenario(*events, duration_us=100 * SECOND))
    assert changes(run, "SOL1")[:3] == [(SECOND, True), (20 * SECOND, False), (20 * SECOND + 1000, True)]
    # 1 ms back and out again, LS1 never lost in so short a time (0.1 mm of 1 mm reset), then a whole 30 s dwell;
    # START still held, the relay drops out and picks up in no time: no change is seen.
    assert changes(run, "LS1", Side.WORLD) == [(2 * SECOND, True)]


def test_power_on_with_start_held_starts_the_seal_in_circuit_but_not_the_sequence() -> None:
    run = simulate(DWELL, SEQUENCE, scenario(event(0, "START", True)), shadow=SealIn())
    assert run.difference is not None
    assert run.difference.at_us == 0
    assert changes(run, "SOL1") == []


def test_a_jam_keeps_the_sequence_waiting() -> None:
    run = simulate(DWELL, SEQUENCE, scenario(*pressed(SECOND), jam(1_500_000, "RAM")))
    assert changes(run, "SOL1") == [(SECOND, True)]
    assert [(m.at_us, m.position_um, m.way) for m in run.moves] == [(SECOND, 0, 1), (1_500_000, 50_000, 0)]


def test_a_difference_that_lasts_no_time_is_none() -> None:
    """Pressed and let go at one instant, a button has not been pressed for anybody; and what begins to differ only
    as the run ends has not differed."""
    lamp = Wire(("START",), ("SOL1",), lambda bits: bits)
    dead = Wire(("START",), ("SOL1",), lambda bits: (False,))
    blink = scenario(event(SECOND, "START", True), event(SECOND, "START", False))
    assert simulate(DWELL, lamp, blink, shadow=dead).difference is None
    late = scenario(event(SECOND, "START", True), duration_us=SECOND)
    assert simulate(DWELL, lamp, late, shadow=dead).difference is None
    just = scenario(event(SECOND, "START", True), duration_us=SECOND + 1)
    found = simulate(DWELL, lamp, just, shadow=dead).difference
    assert found is not None
    assert found.at_us == SECOND


class Odd(Wire):
    """Two on-delays of equal preset on START, and the end switch: the output is on where they are not all alike.

    A rod that sets out with them for just as long makes it three things due at one instant; taken one after
    another the output would come on, taken jointly it never does.
    """

    def power_up(self, inputs: Bits) -> Reaction:
        return self.react((Phase.IDLE, Phase.IDLE), inputs)

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        assert isinstance(state, tuple)
        turns = [advance(TimerKind.ON_DELAY, phase, inputs[0], k in expired) for k, phase in enumerate(state)]
        phases = tuple(turn.phase for turn in turns)
        running = frozenset(k for k, phase in enumerate(phases) if phase is Phase.RUNNING)
        alike = {phase is Phase.DONE for phase in phases} | {inputs[1]}
        started = frozenset(k for k, turn in enumerate(turns) if turn.started)
        return Reaction(phases, (inputs[0], len(alike) > 1), running, started)


def test_all_that_is_due_at_one_instant_is_seen_jointly() -> None:
    timers = (Timer("T1", SECOND), Timer("T2", SECOND))
    odd = Odd(("START", "LS1"), ("SOL1", "ODD"), lambda bits: bits, timers=timers)
    lamps = (*DWELL.loads, Load(name="ODD", kind=LoadKind.LAMP))
    stand = DWELL.model_copy(update={"loads": lamps})
    run = simulate(stand, odd, scenario(event(SECOND, "START", True)), shadow=odd)
    assert changes(run, "LS1", Side.WORLD) == [(2 * SECOND, True)]
    assert changes(run, "ODD") == []
    assert run.difference is None


def test_a_press_at_the_instant_a_timer_expires_reaches_both() -> None:
    """START at the very end of the dwell: the seal-in circuit goes on, the sequence goes home; from there on they
    differ, for all that the press and both timers came at one instant."""
    events = (*pressed(SECOND), *pressed(32 * SECOND))
    run = simulate(DWELL, SEQUENCE, scenario(*events), shadow=SealIn())
    assert run.difference is not None
    assert run.difference.at_us == 32 * SECOND


class Buzzer(Wire):
    """Never settles while START is down."""

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        if inputs[0]:
            raise Chattering(("CR1", "CR2"))
        return Reaction((), (False,))


BUZZER = Buzzer(("START",), ("SOL1",), lambda bits: (False,), "the buzzer")


def test_chattering_is_an_outcome() -> None:
    run = simulate(DWELL, BUZZER, scenario(*pressed(SECOND)))
    assert (run.outcome, run.ended_us, run.loop) == (Outcome.CHATTERING, SECOND, ("CR1", "CR2"))
    beside = simulate(DWELL, SEQUENCE, scenario(*pressed(SECOND)), shadow=BUZZER, after_us=SECOND)
    assert beside.difference is not None
    assert (beside.difference.at_us, beside.difference.loop) == (SECOND, ("CR1", "CR2"))


class Clock(Wire):
    """A timer of one microsecond that always begins again."""

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        return Reaction((), (False,), frozenset({0}), frozenset({0}) if expired else frozenset())

    def power_up(self, inputs: Bits) -> Reaction:
        return Reaction((), (False,), frozenset({0}), frozenset({0}))


def test_a_run_in_which_too_much_happens_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("compiler.simulation.simulate.MOST_EVENTS", 500)
    clock = Clock(("START",), ("SOL1",), lambda bits: (False,), timers=(Timer("T1", 1),))
    assert simulate(DWELL, clock, scenario()).outcome is Outcome.TOO_MANY_EVENTS


def test_simulated_hours_cost_no_more_than_seconds() -> None:
    """The cost of a run is its instants; the same cycle with a dwell of 100 h has as many as with one of 1 s."""
    counts = []
    for dwell_us in (SECOND, 360_000 * SECOND):
        wired = wire(DWELL, chart_logic(dwell_chart(dwell_us=dwell_us)))
        ending = follow(DWELL, [wired], scenario(*pressed(SECOND), duration_us=400_000 * SECOND))
        assert ending.outcome is Outcome.COMPLETED
        counts.append(ending.instants)
    assert counts[0] == counts[1] < 12


def test_an_input_the_machine_does_not_have_is_named() -> None:
    with pytest.raises(KeyError, match="LS9"):
        simulate(DWELL, Wire(("LS9",), ("SOL1",), lambda bits: bits), scenario())


MOMENTS = st.integers(0, 80 * SECOND)


@st.composite
def anything_done(draw: st.DrawFn) -> Scenario:
    events = [
        draw(
            st.one_of(
                st.builds(event, MOMENTS, st.sampled_from(["START", "STOP"]), st.booleans()),
                st.builds(supply, MOMENTS, st.booleans()),
                st.builds(jam, MOMENTS, st.just("RAM"), st.booleans()),
            )
        )
        for _ in range(draw(st.integers(0, 10)))
    ]
    extend, retract = (draw(st.integers(SECOND, 2 * SECOND)) for _ in range(2))
    strokes = (StrokeTimes(actuator="RAM", extend_us=extend, retract_us=retract),)
    return scenario(*events, duration_us=80 * SECOND, strokes=strokes)


@given(anything_done())
def test_a_record_survives_json_and_replays_to_itself(done: Scenario) -> None:
    run = simulate(DWELL, SEQUENCE, done, shadow=SealIn())
    back = Run.model_validate_json(run.model_dump_json())
    assert back == run
    assert replay(back, DWELL, chart_logic(DWELL_CHART), shadow=SealIn()) == run


@given(anything_done(), st.lists(MOMENTS, max_size=5))
def test_looking_in_between_changes_nothing(done: Scenario, looks: list[int]) -> None:
    """An event that changes nothing (a second supply-on, or the button let go again) only splits idle time."""
    wakes = tuple(event(at, "START", _down(done, "START", at)) for at in looks)
    split = done.model_copy(update={"events": (*done.events, *wakes)})
    whole, parted = simulate(DWELL, SEQUENCE, done), simulate(DWELL, SEQUENCE, split)
    assert whole.changes == parted.changes
    assert whole.moves == parted.moves


def _down(done: Scenario, device: str, at_us: int) -> bool:
    past = [e for e in sorted(done.events, key=lambda e: e.at_us) if e.device == device and e.at_us <= at_us]
    return past[-1].on if past else False


@given(anything_done())
def test_a_logic_never_differs_from_itself(done: Scenario) -> None:
    for logic in (chart_logic(DWELL_CHART), SealIn()):
        assert (
            simulate(DWELL, logic, done, shadow=replace(logic) if isinstance(logic, SealIn) else logic).difference
            is None
        )


@given(anything_done())
def test_what_is_on_is_told_by_its_changes(done: Scenario) -> None:
    """Every signal of a record turns on and off by turns, beginning with on, at rising times."""
    run = simulate(DWELL, SEQUENCE, done)
    for signal in {(c.side, c.role, c.signal) for c in run.changes}:
        turns = [c for c in run.changes if (c.side, c.role, c.signal) == signal]
        assert [c.on for c in turns] == [k % 2 == 0 for k in range(len(turns))]
        assert all(a.at_us < b.at_us for a, b in pairwise(turns))
    assert all(c.at_us <= run.ended_us for c in run.changes)
    assert {c.role for c in run.changes} <= set(Role)


def test_a_stuck_switch_stands_as_it_sticks_until_it_works_again() -> None:
    """LS1 stuck open: the stroke out ends only at 10 s, when the switch sees the rod that stood there since 2 s."""
    stuck = Event(at_us=0, kind=EventKind.STUCK_OPEN, device="LS1", on=True)
    mended = stuck.model_copy(update={"at_us": 10 * SECOND, "on": False})
    run = simulate(DWELL, SEQUENCE, scenario(*pressed(SECOND), stuck, mended))
    assert changes(run, "SOL1") == [(SECOND, True), (40 * SECOND, False)]  # 30 s dwell from 10 s on
    assert changes(run, "LS1", Side.WORLD)[0] == (0, True)  # it sticks
    assert replay(run, DWELL, SEQUENCE) == run


def test_a_switch_stuck_made_ends_the_stroke_as_it_begins() -> None:
    stuck = Event(at_us=0, kind=EventKind.STUCK_MADE, device="LS1", on=True)
    run = simulate(DWELL, SEQUENCE, scenario(*pressed(SECOND), stuck))
    assert changes(run, "SOL1") == [(SECOND, True), (31 * SECOND, False)]
