"""Broken implementations are caught and told in a sensible line; sound ones are not blamed."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

import pytest

from compiler.chart import Requirement
from compiler.chart_logic import ChartLogic, chart_logic
from compiler.checking.assumption import Assumption
from compiler.checking.check import check
from compiler.checking.scenarios import make_scenarios
from compiler.checking.verdict import Standing, Verdict
from compiler.condition import Elapsed, Signal, Sustained, both
from compiler.logic import Bits, Chattering, Logic, Reaction, Timer
from compiler.simulation.run import Scenario, Stretch
from compiler.simulation.simulate import replay
from tests.simulation.machines import (
    DWELL,
    DWELL_CHART,
    SECOND,
    SENSOR_CHART,
    SENSOR_MACHINE,
    SealIn,
    Wire,
    dwell_chart,
    event,
)

SCENARIOS = make_scenarios(DWELL, DWELL_CHART)
SEQUENCE = chart_logic(DWELL_CHART)
OF_START = frozenset({Assumption.START_RELEASED, Assumption.START_AT_HOME, Assumption.SUPPLY_WITH_START})


def checked(candidate: Logic, announced: frozenset[Assumption] = frozenset()) -> Verdict:
    return check(SEQUENCE, candidate, DWELL, DWELL_CHART, SCENARIOS, announced)


@dataclass(frozen=True)
class Bent:
    """A sequence that is the one as written but for what ``see`` makes of its inputs (START, STOP, LS1, LS2)."""

    blind_to: str = ""
    stuck_on: str = ""
    of: ChartLogic = SEQUENCE
    name: str = "the bent rungs"

    @property
    def inputs(self) -> tuple[str, ...]:
        return self.of.inputs

    @property
    def outputs(self) -> tuple[str, ...]:
        return self.of.outputs

    @property
    def timers(self) -> tuple[Timer, ...]:
        return self.of.timers

    def _see(self, inputs: Bits) -> Bits:
        return tuple(
            (bit and name != self.blind_to) or name == self.stuck_on
            for name, bit in zip(self.inputs, inputs, strict=True)
        )

    def power_up(self, inputs: Bits) -> Reaction:
        return self.of.power_up(self._see(inputs))

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        return self.of.react(state, self._see(inputs), expired)

    def lit(self, state: Hashable) -> tuple[str, ...]:
        return self.of.lit(state)


def test_the_sequence_is_the_same_as_itself_in_all_runs() -> None:
    verdict = checked(chart_logic(DWELL_CHART))
    assert verdict.standing is Standing.SAME
    assert verdict.lines == (f"no difference in the {len(SCENARIOS)} runs tried",)
    assert verdict.alike == verdict.runs == verdict.keeping == len(SCENARIOS)


def test_no_line_ever_says_proved() -> None:
    for candidate in (SEQUENCE, SealIn(), Bent(blind_to="STOP")):
        for line in checked(candidate, OF_START).lines:
            assert "prove" not in line
            assert "always" not in line


def test_the_seal_in_circuit_is_the_same_for_a_careful_operator_only() -> None:
    """Common practice: a textbook seal-in restarts when its button is held past the end of the cycle."""
    verdict = checked(SealIn(), OF_START | {Assumption.SWITCHES_WORK})
    assert verdict.standing is Standing.SAME_ONLY_IF
    assert verdict.sound
    assert (
        verdict.lines[0]
        == f"same for a careful operator while {Assumption.SWITCHES_WORK} ({verdict.keeping} of {verdict.runs} runs)"
    )
    assert 30 < verdict.keeping < verdict.runs
    assert "with START held it differs at 32.5 s: SOL1 is on, in the sequence off" in verdict.lines
    assert verdict.needs <= OF_START | {Assumption.SWITCHES_WORK}


def test_a_difference_that_was_not_announced_is_found_in_every_way_it_shows() -> None:
    verdict = checked(SealIn())
    assert verdict.standing is Standing.DIFFERS
    shown = {frozenset(found.stretches) for found in verdict.found}
    assert {Stretch.START_HELD} in shown
    assert {Stretch.START_EARLY} in shown
    assert all(not found.excused_by for found in verdict.found)


def test_announcing_something_else_excuses_nothing() -> None:
    assert checked(SealIn(), frozenset({Assumption.NO_JAM, Assumption.STROKE_TIME})).standing is Standing.DIFFERS


@pytest.mark.parametrize("without", sorted(OF_START | {Assumption.SWITCHES_WORK}))
def test_each_assumption_is_needed(without: Assumption) -> None:
    assert checked(SealIn(), (OF_START | {Assumption.SWITCHES_WORK}) - {without}).standing is Standing.DIFFERS


def test_ignoring_stop_is_caught() -> None:
    for candidate in (Bent(blind_to="STOP"), SealIn(obeys_stop=False)):
        verdict = checked(candidate, frozenset(Assumption))
        assert verdict.standing is Standing.DIFFERS
        assert verdict.lines[1].startswith("after STOP it differs at ")
        assert verdict.lines[1].endswith(": SOL1 is on, in the sequence off")


@pytest.mark.parametrize(("preset_us", "is_on"), [(29 * SECOND, "off"), (31 * SECOND, "on")])
def test_a_wrong_preset_is_caught_in_the_normal_cycle(preset_us: int, is_on: str) -> None:
    """2 s out from START at 0.5 s; the dwell ends at 32.5 s, or at 31.5 s with a preset a second short."""
    verdict = checked(SealIn(preset_us=preset_us), frozenset(Assumption))
    assert verdict.standing is Standing.DIFFERS
    at = "31.5" if is_on == "off" else "32.5"
    assert verdict.lines[1].startswith(f"in the normal cycle it differs at {at} s: SOL1 is {is_on}")
    assert verdict.found[0].run.scenario.name == "one cycle"


@pytest.mark.parametrize(
    "candidate",
    [Bent(blind_to="START"), Bent(blind_to="LS1"), Bent(stuck_on="LS1"), Bent(stuck_on="STOP")],
    ids=["no START", "no LS1", "LS1 as normally closed", "STOP as normally closed"],
)
def test_a_contact_that_is_missing_or_swapped_is_caught(candidate: Bent) -> None:
    assert checked(candidate, frozenset(Assumption)).standing is Standing.DIFFERS


def test_not_looking_whether_the_rod_is_home_is_the_same_only_if_the_operator_does() -> None:
    blind = Bent(stuck_on="LS2")
    assert checked(blind, OF_START).needs == {Assumption.START_AT_HOME}
    assert checked(blind, OF_START - {Assumption.START_AT_HOME}).standing is Standing.DIFFERS


def test_a_dropped_seal_in_is_caught() -> None:
    unsealed = Wire(("START",), ("SOL1",), lambda bits: bits, "the unsealed rungs")
    verdict = checked(unsealed, frozenset(Assumption))
    assert verdict.lines[1].startswith("in the normal cycle it differs at 0.8 s: SOL1 is off")


def test_a_logic_that_chatters_differs() -> None:
    @dataclass(frozen=True)
    class Buzzing(SealIn):
        def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
            if inputs[2]:
                raise Chattering(("CR1", "T1"))
            return super().react(state, inputs, expired)

    verdict = checked(Buzzing(), OF_START)
    assert verdict.standing is Standing.DIFFERS
    assert "in the normal cycle it never settles at 2.5 s: CR1, T1" in verdict.lines


def test_a_logic_of_another_machine_is_refused_in_words() -> None:
    verdict = checked(Wire(("LS9", "LS7"), ("SOL1",), lambda bits: (False,)))
    assert verdict.lines == ("it reads LS9, LS7, which the machine does not have",)
    assert not verdict.sound


def test_the_run_shown_is_short_and_shows_what_it_says() -> None:
    """Every found run replays to the same difference, with no event after it and none that could be left out."""
    for found in checked(SealIn()).found:
        run = found.run
        assert run.difference is not None
        assert all(e.at_us <= run.difference.at_us for e in run.scenario.events)
        assert run.ended_us <= run.difference.at_us + 2 * SECOND
        assert replay(run, DWELL, SEQUENCE, shadow=SealIn(), after_us=2 * SECOND) == run
    held = next(f for f in checked(SealIn()).found if f.stretches == {Stretch.START_HELD})
    assert [(e.device, e.on) for e in held.run.scenario.events] == [("START", True)]


def test_a_stretch_that_comes_after_the_difference_excuses_nothing() -> None:
    """The preset is wrong, and long after that START is held: the first difference is still not excused."""
    late = Scenario(
        name="late",
        duration_us=100 * SECOND,
        events=(event(SECOND, "START", True), event(2 * SECOND, "START", False), event(50 * SECOND, "STOP", True)),
        strokes=SCENARIOS[0].strokes,
        stretched=tuple(stamp.model_copy(update={"at_us": 60 * SECOND}) for s in SCENARIOS for stamp in s.stretched),
    )
    verdict = check(SEQUENCE, SealIn(preset_us=SECOND), DWELL, DWELL_CHART, [late], frozenset(Assumption))
    assert verdict.standing is Standing.DIFFERS


def test_a_sequence_that_itself_never_settles_is_said_to() -> None:
    class Buzzer(Wire):
        def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
            raise Chattering(("S1", "S2"))

    buzzer = Buzzer(("START",), ("SOL1",), lambda bits: (False,))
    verdict = check(buzzer, SealIn(), DWELL, DWELL_CHART, SCENARIOS[:3])
    assert verdict.unfinished == 3
    assert verdict.lines == (
        "nothing could be compared",
        "3 runs not finished: the sequence never settles in them, or too much happens",
    )


# --- requirements -------------------------------------------------------------------------------------------------


def broken(requirement: Requirement) -> list[int]:
    chart = dwell_chart(requirements=(requirement,))
    verdict = check(SEQUENCE, SEQUENCE, DWELL, chart, SCENARIOS[:1])
    return [b.at_us for b in verdict.broken]


def test_a_requirement_the_sequence_breaks_is_reported_with_its_first_moment() -> None:
    never = both(Signal(device="SOL1"), Signal(device="LS1"))
    assert broken(Requirement(name="no push at the end", never=never)) == [2_500_000]


def test_a_requirement_that_is_kept_is_not_reported() -> None:
    never = both(Signal(device="SOL1"), Signal(device="STOP"))
    assert broken(Requirement(name="no push while STOP is held", never=never)) == []


@pytest.mark.parametrize(("time_us", "lasts"), [(30 * SECOND - 1, True), (30 * SECOND, False)])
def test_a_time_that_is_only_just_reached_has_not_lasted(time_us: int, lasts: bool) -> None:
    """The dwell lasts 30 s: it has been longer than 29.999999 s, and never longer than 30 s."""
    for never in (
        Elapsed(step="S2", time_us=time_us),
        Sustained(of=both(Signal(device="LS1"), Signal(device="SOL1")), time_us=time_us),
    ):
        assert bool(broken(Requirement(name="not so long", never=never))) is lasts


def test_a_time_is_broken_at_the_moment_it_runs_out() -> None:
    """By hand: the platen arrives at 2.5 s, as the test above has it, and 10 s later it has been there for 10 s."""
    at_end = both(Signal(device="SOL1"), Signal(device="LS1"))
    for never in (Elapsed(step="S2", time_us=10 * SECOND), Sustained(of=at_end, time_us=10 * SECOND)):
        assert broken(Requirement(name="not so long", never=never)) == [12_500_000]


def test_a_machine_with_sensors_is_checked_too() -> None:
    scenarios = make_scenarios(SENSOR_MACHINE, SENSOR_CHART)
    sequence = chart_logic(SENSOR_CHART)
    verdict = check(sequence, Bent(blind_to="PART", of=sequence), SENSOR_MACHINE, SENSOR_CHART, scenarios)
    assert verdict.standing is Standing.DIFFERS
    assert check(sequence, sequence, SENSOR_MACHINE, SENSOR_CHART, scenarios).standing is Standing.SAME
