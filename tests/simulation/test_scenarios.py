"""The careful operator, the families of runs, and what each run is said to stretch."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from compiler.chart import Chart, Forcing, Step
from compiler.chart_logic import chart_logic
from compiler.checking.operating import Operated, operate
from compiler.checking.scenarios import make_scenarios, usual_cycle
from compiler.checking.stretch import stamped
from compiler.condition import Elapsed, Rise, Signal, Sustained, both
from compiler.machine import Machine
from compiler.shape import shape_of
from compiler.simulation.bench import wire
from compiler.simulation.run import (
    Change,
    Event,
    EventKind,
    Outcome,
    Scenario,
    Side,
    Stretch,
    Swiftness,
    stroke_times,
)
from compiler.simulation.simulate import simulate
from tests.simulation.machines import (
    BUTTONS,
    DWELL,
    DWELL_CHART,
    MEMORY,
    SECOND,
    SENSOR_CHART,
    SENSOR_MACHINE,
    cylinder,
    dwell_chart,
    end_switches,
    event,
    jam,
    link,
    machine,
    on,
    supply,
)

ALL = [(DWELL, DWELL_CHART), (SENSOR_MACHINE, SENSOR_CHART)]
NAMES = ["dwell", "sensors"]


def work(plant: Machine, chart: Chart, *besides: Event, cycles: int = 1) -> Operated:
    times = stroke_times(plant, Swiftness.GREATEST, Swiftness.GREATEST)
    wired = wire(plant, chart_logic(chart))
    return operate(plant, chart, wired, strokes=times, done_besides=besides, cycles=cycles)


def entered(worked: Operated) -> list[str]:
    return [entry.step for entry in worked.entries]


def test_the_operator_runs_a_cycle_and_stops() -> None:
    worked = work(DWELL, DWELL_CHART)
    assert entered(worked) == ["S0", "S1", "S2", "S3", "S0"]
    assert [(e.device, e.on) for e in worked.events] == [("START", True), ("START", False)]
    assert worked.events[1].at_us - worked.events[0].at_us == 300_000


def test_the_operator_gives_what_only_the_world_can_give_before_the_fault_comes() -> None:
    worked = work(SENSOR_MACHINE, SENSOR_CHART, cycles=2)
    assert entered(worked) == ["S0", "S1", "S2", "S3", "S4", "S0", "S1", "S2", "S3", "S4", "S0"]
    assert "F1" not in entered(worked)


def test_the_operator_starts_again_after_a_stop_and_clears_a_fault() -> None:
    stopped = work(DWELL, DWELL_CHART, event(SECOND, "STOP", True), event(1_200_000, "STOP", False), cycles=2)
    assert entered(stopped) == ["S0", "S1", "S0", "S1", "S2", "S3", "S0"]
    lost = work(DWELL, DWELL_CHART, supply(SECOND, False), supply(2 * SECOND, True), cycles=2)
    assert entered(lost) == ["S0", "S1", "S0", "S1", "S2", "S3", "S0"]


def test_the_operator_leaves_a_jammed_machine_alone() -> None:
    worked = work(DWELL, DWELL_CHART, jam(SECOND, "RAM"), cycles=2)
    assert entered(worked) == ["S0", "S1"]


def test_the_operator_holds_a_button_as_long_as_it_must_last() -> None:
    lasting = Sustained(of=Signal(device="START"), time_us=2 * SECOND)
    chart = dwell_chart(trigger=lasting)
    worked = work(DWELL, chart)
    assert "S3" in entered(worked)
    held = [e.at_us for e in worked.events if e.device == "START"]
    assert held[1] - held[0] >= 2 * SECOND


def test_an_edge_of_a_sensor_that_is_already_made_is_given_anew() -> None:
    chart = SENSOR_CHART.model_copy(
        update={
            "transitions": (
                link(1, "S0", "S1", both(Rise(device="PART"), Signal(device="LS2"))),
                link(2, "S1", "S0", Elapsed(step="S1", time_us=SECOND)),
            )
        }
    )
    worked = work(SENSOR_MACHINE, chart, cycles=2)
    assert entered(worked) == ["S0", "S1", "S0", "S1", "S0"]


def test_the_parts_of_a_chart_are_told_from_its_transitions() -> None:
    shape = shape_of(SENSOR_CHART)
    assert shape.initial == shape.rest == {"S0"}
    assert shape.first == {"S1"}
    assert shape.last == {"S4"}
    assert shape.fault == {"F1"}


def test_a_rest_that_is_not_the_initial_step_is_a_rest_all_the_same() -> None:
    """A memory valve: the cycle leaves the retract solenoid on, which it is not at power-up."""
    trigger = Rise(device="START")
    chart = Chart(
        inputs=("LS1", "LS2", "START", "STOP"),
        outputs=("SOL1A", "SOL1B"),
        steps=(
            Step(name="S0", initial=True),
            Step(name="S1", actions=on("SOL1A")),
            Step(name="S2", actions=on("SOL1B")),
            Step(name="R1", actions=on("SOL1B")),
        ),
        transitions=(
            link(1, "S0", "S1", trigger),
            link(2, "S1", "S2", Signal(device="LS1")),
            link(3, "S2", "R1", Signal(device="LS2")),
            link(4, "R1", "S1", trigger),
        ),
        forcing=Forcing(condition=Signal(device="STOP")),
    )
    shape = shape_of(chart)
    assert shape.rest == {"S0", "R1"}
    assert shape.last == {"S2"}
    stand = machine((cylinder("RAM", MEMORY, end_switches("LS1", "LS2")),), BUTTONS)
    assert entered(work(stand, chart, cycles=2)) == ["S0", "S1", "S2", "R1", "S1", "S2", "R1"]


# --- families -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("plant", "chart"), ALL, ids=NAMES)
def test_every_stretch_is_tried(plant: Machine, chart: Chart) -> None:
    scenarios = make_scenarios(plant, chart)
    tried = {stamp.stretch for s in scenarios for stamp in s.stretched}
    free = chart is SENSOR_CHART
    assert tried >= set(Stretch) - {Stretch.NONE} - (set() if free else {Stretch.OUTSIDE})
    assert [s.name for s in scenarios if not s.stretched][:2] == ["one cycle", "three cycles"]


@pytest.mark.parametrize(("plant", "chart"), ALL, ids=NAMES)
def test_scenarios_are_named_apart_and_run_to_their_end(plant: Machine, chart: Chart) -> None:
    scenarios = make_scenarios(plant, chart)
    assert len({s.name for s in scenarios}) == len(scenarios)
    assert len({(s.events, s.strokes) for s in scenarios}) == len(scenarios)
    logic = chart_logic(chart)
    for s in scenarios:
        assert simulate(plant, logic, s).outcome is Outcome.COMPLETED
        assert s == Scenario.model_validate_json(s.model_dump_json())


@pytest.mark.parametrize(("plant", "chart"), ALL, ids=NAMES)
def test_every_step_is_disturbed(plant: Machine, chart: Chart) -> None:
    """START and STOP are pressed, and the supply is lost, while each step of the cycle is active."""
    logic = chart_logic(chart)
    steps = {step.name for step in chart.steps if not step.fault and not step.initial}
    hit: dict[str, set[str]] = {"START": set(), "STOP": set(), "": set()}
    for s in make_scenarios(plant, chart):
        run = simulate(plant, logic, s)
        for done in s.events:
            disturbing = done.on if done.kind is EventKind.INPUT else not done.on
            if done.device in hit and disturbing and done.kind is not EventKind.JAM:
                hit[done.device] |= {step for step in steps if _active(run.changes, step, done.at_us - 1)}
    assert hit == {"START": steps, "STOP": steps, "": steps}


def _active(changes: tuple[Change, ...], step: str, at_us: int) -> bool:
    past = [c for c in changes if c.signal == step and c.side is Side.DRIVER and c.at_us <= at_us]
    return bool(past) and past[-1].on


def test_start_goes_down_before_the_part_is_there() -> None:
    """Where the trigger needs a part, one run presses START first and lets the part come while it is down: the
    sequence, which waits for the moment of pressing, does not start then."""
    trigger = both(Rise(device="START"), Signal(device="PART"))
    chart = dwell_chart(trigger=trigger).model_copy(update={"inputs": SENSOR_CHART.inputs})
    found = next(s for s in make_scenarios(SENSOR_MACHINE, chart) if s.name == "START pressed before all is ready")
    part = next(e.at_us for e in found.events if e.device == "PART" and e.on)
    starts = [(e.at_us, e.on) for e in found.events if e.device == "START"]
    assert starts[0][0] < part < starts[1][0]
    assert Stretch.START_EARLY in {stamp.stretch for stamp in found.stretched}
    run = simulate(SENSOR_MACHINE, chart_logic(chart), found)
    begun = [c.at_us for c in run.changes if c.signal == "S1" and c.on]
    assert begun[0] > starts[1][0]


def test_a_long_cycle_is_sampled_not_tried_in_every_step() -> None:
    steps = 60
    chart = Chart(
        inputs=DWELL_CHART.inputs,
        outputs=DWELL_CHART.outputs,
        steps=tuple(Step(name=f"S{k}", initial=k == 0) for k in range(steps + 1)),
        transitions=(
            link(1, "S0", "S1", Rise(device="START")),
            *(link(k + 1, f"S{k}", f"S{k + 1}", Elapsed(step=f"S{k}", time_us=SECOND)) for k in range(1, steps)),
            link(steps + 1, f"S{steps}", "S0", Elapsed(step=f"S{steps}", time_us=SECOND)),
        ),
        forcing=Forcing(condition=Signal(device="STOP")),
    )
    assert len(make_scenarios(DWELL, chart)) < 350


def test_the_same_scenarios_come_out_under_any_hash_seed() -> None:
    told = (
        "from tests.simulation.machines import SENSOR_CHART as c, SENSOR_MACHINE as m\n"
        "from compiler.checking.scenarios import make_scenarios\n"
        "print([s.model_dump_json() for s in make_scenarios(m, c)])"
    )
    root = Path(__file__).parent.parent.parent
    outputs = {
        subprocess.run(
            [sys.executable, "-c", told],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(root)},
            capture_output=True,
            check=True,
            cwd=root,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(outputs) == 1


# --- stamps -------------------------------------------------------------------------------------------------------


def stretches(*events: Event, until_us: int = 80 * SECOND) -> dict[Stretch, int]:
    times = stroke_times(DWELL, Swiftness.GREATEST, Swiftness.GREATEST)
    scenario = Scenario(name="a run", duration_us=until_us, events=events, strokes=times)
    done = stamped(DWELL, DWELL_CHART, wire(DWELL, chart_logic(DWELL_CHART)), scenario)
    return {stamp.stretch: stamp.at_us for stamp in done.stretched}


def press(device: str, at_us: int, for_us: int = 300_000) -> tuple[Event, Event]:
    return event(at_us, device, True), event(at_us + for_us, device, False)


def test_what_a_run_stretches_is_seen_from_the_run() -> None:
    """Strokes take 2 s and the dwell 30 s, so from START at 1 s: out at 3 s, back from 33 s, home at 35 s."""
    start = press("START", SECOND)
    assert stretches(*start) == {}
    assert stretches(event(SECOND, "START", True), event(32 * SECOND, "START", False)) == {}
    assert stretches(event(SECOND, "START", True)) == {Stretch.START_HELD: 33 * SECOND}
    assert stretches(*start, *press("START", 10 * SECOND)) == {Stretch.START_EARLY: 10 * SECOND}
    assert stretches(*start, *press("STOP", 10 * SECOND)) == {Stretch.STOP: 10 * SECOND}
    assert stretches(*start, jam(2 * SECOND, "RAM")) == {Stretch.JAM: 2 * SECOND}
    assert stretches(*start, supply(9 * SECOND, False)) == {Stretch.SUPPLY: 9 * SECOND}
    assert stretches(*start, *press("START", 36 * SECOND)) == {}


def test_start_and_stop_together_and_start_as_the_supply_returns() -> None:
    both_down = stretches(*press("STOP", 2 * SECOND, SECOND), *press("START", 2_500_000, SECOND))
    assert both_down == {Stretch.STOP: 2 * SECOND, Stretch.START_WITH_STOP: 2_500_000}
    off = (supply(2 * SECOND, False), supply(4 * SECOND, True))
    assert stretches(*off, *press("START", 3 * SECOND, SECOND // 2)) == {Stretch.SUPPLY: 2 * SECOND}
    held = stretches(*off, *press("START", 3 * SECOND, 2 * SECOND))
    assert held == {Stretch.SUPPLY: 2 * SECOND, Stretch.SUPPLY_WITH_START: 4 * SECOND}


def test_quick_strokes_are_a_stretch_from_the_start() -> None:
    usual = stroke_times(DWELL, Swiftness.USUAL, Swiftness.GREATEST)
    scenario = Scenario(name="a run", duration_us=SECOND, strokes=usual)
    done = stamped(DWELL, DWELL_CHART, wire(DWELL, chart_logic(DWELL_CHART)), scenario)
    assert [(s.stretch, s.at_us) for s in done.stretched] == [(Stretch.STROKE_TIMES, 0)]


@pytest.mark.parametrize(("machine", "chart"), [(DWELL, DWELL_CHART), (SENSOR_MACHINE, SENSOR_CHART)])
def test_the_usual_cycle_is_the_first_of_all_runs(machine: Machine, chart: Chart) -> None:
    assert usual_cycle(machine, chart) == make_scenarios(machine, chart)[0]
