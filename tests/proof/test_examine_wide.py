"""What is shown of a sequence where a search of all its runs would be too large, against that search where it is not,
and against what can be worked out on paper."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from compiler.chart_logic import chart_logic
from compiler.proof.cycle import CycleTime, cycle_time
from compiler.proof.examine import Question, examine
from compiler.proof.hunt.met import steps_met
from compiler.proof.shown import Shown, shown_of
from compiler.proof.station import StationTime, station_times
from compiler.proof.stopping import stop_brings_home
from compiler.understand import Understood, understand
from grammar.sequence import tree
from grammar.sequence.write import write
from grammar.source import Source
from tests.strategies_program import working_programs
from tests.whole.readme import ROOT

_ZONES = 600
_SUPPRESSED = (HealthCheck.too_slow, HealthCheck.data_too_large)


def program(text: str) -> Understood:
    understood = understand(Source("bench", text))
    assert understood.chart is not None, understood.diagnostics
    return understood


def shipped() -> Understood:
    return program((ROOT / "examples/large/tray-transfer.seq").read_text(encoding="utf-8"))


def _agrees(written: tree.Program) -> None:
    """Whatever is shown without a search, a search of all runs finds as well."""
    understood = understand(Source("a program", write(written)))
    chart, machine = understood.chart, understood.machine
    if chart is None:
        return
    logic = chart_logic(chart)
    found = examine(logic, chart, machine, most_zones=_ZONES)
    if not found.settled or found.chatters:
        return
    rests = logic.lit(logic.power_up((False,) * len(logic.inputs)).state)
    shown = shown_of(logic, chart, machine, rests=rests)
    names = {step.name for step in chart.steps}
    assert not steps_met(logic, machine, names, runs=6) & set(found.unreached)
    assert shown.unlit <= set(found.unreached)
    assert not (shown.unopposed and found.both_on)
    if shown.home:
        assert (found.stuck, found.away or ()) == ((), ())
    alone = station_times(chart, machine, most_zones=_ZONES)
    if len(alone) == 1 and not alone[0].waits:
        whole = cycle_time(logic, chart, machine, most_zones=_ZONES)
        assert whole in (alone[0].cycle, None)


@settings(max_examples=2, deadline=None, suppress_health_check=_SUPPRESSED)
@given(working_programs(depth=1))
def test_what_is_shown_without_a_search_is_found_by_one(written: tree.Program) -> None:
    _agrees(written)


@pytest.mark.campaign
@settings(max_examples=300, deadline=None, suppress_health_check=_SUPPRESSED)
@given(working_programs(depth=1))
def test_what_is_shown_without_a_search_is_found_by_many(written: tree.Program) -> None:
    _agrees(written)


def test_the_cycle_of_a_station_by_itself_leaves_out_what_it_waits_for() -> None:
    """The loader: gate 0.3 to 0.5 s and escapement out and back 0.4 to 0.8 s beside the lift, 0.8 to 1.2 s; pusher
    out and back 2 to 3 s; gate beside lift, 0.6 to 1 s. The presser: clamp 0.3 to 0.6 s, press out and back 2.5 to
    4.5 s with 1 s between; then the clamp back and the ejector out and back, 1.5 to 2.6 s, and where there is no lid
    the sorter as well, 1 to 1.6 s."""
    station = shipped()
    assert station.chart is not None
    assert station_times(station.chart, station.machine, most_zones=10_000) == (
        StationTime("LOADER", CycleTime(3_400_000, 5_300_000), ("PRESSER",)),
        StationTime("PRESSER", CycleTime(5_300_000, 10_300_000), ("LOADER", "RESET")),
    )


_CALLED = """\
pneumatic cylinder A
    extends in 0.5 s, retracts in 0.5 s
    single solenoid valve Y1, spring return
    limit switch LS1 at end, LS2 at home
pneumatic cylinder B
    extends in 1 s, retracts in 5 s
    single solenoid valve Y2, spring return
    limit switch LS3 at end, LS4 at home
signal READY
pushbutton START
cycle of P
    when START is pressed
    extend A until at-end
    turn on READY, hold 0.2 s
    turn off READY
    retract A until at-home
    hold 1 s
    extend A until at-end
    turn on READY, hold 0.2 s
    turn off READY
    retract A until at-home
cycle of Q
    when READY is on
    extend B until at-end
    retract B for 0.2 s
"""


@pytest.mark.parametrize("begins", ["READY is on", "START is pressed or READY is on"])
def test_a_station_that_is_called_again_may_find_its_rod_on_the_way(begins: str) -> None:
    """Q is at rest 1.2 s after it was called and its rod, back 5 s, is then not home: P calls 2.2 s after its first
    call, so the rod has 1.2 s to go back, a quarter of its way, and is out again after a quarter of its second. Were
    it called as soon as it rests, 0.2 s after it turned, it would be out after 0.04 s."""
    understood = program(_CALLED.replace("when READY is on", f"when {begins}"))
    assert understood.chart is not None
    *_, called = station_times(understood.chart, understood.machine, most_zones=10_000)
    assert called.cycle.least_us <= 240_000
    assert called.cycle.greatest_us == 1_200_000
    assert called.cycle.rough


def test_a_station_may_wait_for_the_rod_of_another_one() -> None:
    """P waits for the rod of Q, which is Q's to send home: 1 s for its own strokes, twice, and 1.4 s of holding."""
    waiting = _CALLED.replace("    hold 1 s\n", "    hold 1 s\n    wait until B is at-home\n")
    understood = program(waiting)
    assert understood.chart is not None
    caller, _ = station_times(understood.chart, understood.machine, most_zones=10_000)
    assert caller == StationTime("P", CycleTime(3_400_000, 3_400_000), ("LS4",))


def test_every_step_of_the_large_example_is_met_but_those_passed_at_once() -> None:
    station = shipped()
    assert station.chart is not None
    passed = {"PRESSER_S13", "PRESSER_S14", "PRESSER_S16"}
    names = {step.name for step in station.chart.steps} - passed
    assert steps_met(chart_logic(station.chart), station.machine, names) == names


_TWO = """\
pneumatic cylinder A
    stroke 100 mm
    {a}
    limit switch LS1 at end, LS2 at home
pushbutton START, normally open
pushbutton STOP, normally closed
cycle
    when START is pressed
    extend A until at-end
    retract A until at-home
when STOP is pressed, {stop}
"""
_SPRING = "single solenoid valve Y1, spring return"
_MEMORY = "double solenoid valve Y1 extends, Y2 retracts"


@pytest.mark.parametrize(
    ("valve", "stop", "home"),
    [
        (_SPRING, "drop out everything", True),
        (_MEMORY, "drop out everything", False),
        (_SPRING, "finish the step", False),  # it comes home only because the step does
    ],
)
def test_stop_brings_home_what_springs_bring_home(valve: str, stop: str, home: bool) -> None:
    understood = program(_TWO.format(a=valve, stop=stop))
    assert understood.chart is not None
    assert stop_brings_home(understood.chart, understood.machine) is home


def test_what_is_shown_answers_for_a_search_that_was_given_up() -> None:
    understood = program(_TWO.format(a=_SPRING, stop="drop out everything"))
    chart = understood.chart
    assert chart is not None
    found = examine(chart_logic(chart), chart, understood.machine, most_zones=5)
    assert Question.SETTLES not in found.open
    assert (found.stuck, found.away, found.unmet) == ((), (), ())
    assert found.stations == ()
    assert found.open == (Question.CYCLE,)


def test_nothing_is_shown_of_what_is_not_so() -> None:
    understood = program(_TWO.format(a=_MEMORY, stop="drop out everything"))
    chart = understood.chart
    assert chart is not None
    shown = shown_of(chart_logic(chart), chart, understood.machine, rests=("S0",))
    assert shown == Shown(settles=shown.settles, unopposed=True)
