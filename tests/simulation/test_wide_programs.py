"""Programs with parallel work, choices, repeats, stations and stops, run on their machines by a careful operator."""

from __future__ import annotations

from hypothesis import HealthCheck, assume, given, settings

from compiler.chart import Chart, Counting
from compiler.chart_logic import chart_logic
from compiler.checking.check import check
from compiler.checking.operating import Operated, operate
from compiler.checking.scenarios import make_scenarios
from compiler.checking.verdict import Standing
from compiler.machine import Machine
from compiler.shape import shape_of
from compiler.simulation.bench import wire
from compiler.simulation.run import Event, EventKind, Swiftness, stroke_times
from compiler.simulation.simulate import simulate
from compiler.tell import tell
from compiler.understand import understand
from grammar.sequence import tree
from grammar.sequence.write import write
from grammar.source import Source
from tests.strategies_program import working_programs

_STUCK = (EventKind.STUCK_MADE, EventKind.STUCK_OPEN)

DEVICES = """\
pneumatic cylinder CLAMP
    stroke 50 mm
    extends in 0.5 s, retracts in 0.5 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
pneumatic cylinder GATE
    stroke 80 mm
    extends in 1 s, retracts in 1 s
    double solenoid valve SOL2A extends, SOL2B retracts
    limit switch LS3 at end, LS4 at home
sensor PART
sensor GUARD
pushbutton START
pushbutton STOP, normally closed
pushbutton RESET
lamp FULL
counter PARTS
signal READY
"""

STATIONS = (
    DEVICES
    + """\
cycle of LOADER
    when START is pressed
    together
        extend CLAMP until at-end
        hold 2 s
    meanwhile
        extend GATE until at-end, within 4 s or fault "gate did not open"
        retract GATE
    if PART is made
        turn on FULL
    otherwise
        wait until PART is made
    repeat 3 times
        wait 0.1 s
        count PARTS
        wait 0.1 s
    retract CLAMP
    turn on READY
    wait until LIFTER is at rest
    turn off READY
    clear PARTS
pneumatic cylinder LIFT
    stroke 100 mm
    extends in 1 s, retracts in 1 s
    single solenoid valve SOL4, spring return
    limit switch LS7 at end, LS8 at home
cycle of LIFTER
    when READY is on
    extend LIFT until at-end
    retract LIFT until at-home
LIFT only while GUARD is closed
a fault is reset by RESET
"""
)


def _built(text: str) -> tuple[Machine, Chart]:
    understood = understand(Source("test", text))
    assert understood.chart is not None, [d.message for d in understood.diagnostics]
    return understood.machine, understood.chart


def _worked(text: str, *besides: Event, cycles: int = 1) -> tuple[Chart, Operated]:
    machine, chart = _built(text)
    strokes = stroke_times(machine, Swiftness.GREATEST, Swiftness.GREATEST)
    wired = wire(machine, chart_logic(chart))
    return chart, operate(machine, chart, wired, strokes=strokes, done_besides=besides, cycles=cycles)


def _at(operated: Operated, step: str) -> list[float]:
    return [entry.at_us / 1e6 for entry in operated.entries if entry.step == step]


def test_two_stations_are_worked_through_to_the_end() -> None:
    """The branch with the gate is done after 2 s, that with the clamp after 2.5 s; PART and GUARD are given."""
    chart, operated = _worked(STATIONS)
    begun = _at(operated, "LOADER_S1")[0]
    assert _at(operated, "LOADER_W2") == [begun + 2.0]
    assert "LOADER_W1" not in {entry.step for entry in operated.entries}  # the last branch does not wait
    counted = next(s.name for s in chart.steps if Counting(counter="C1") in s.counting)
    assert len(_at(operated, counted)) == 3
    assert len(_at(operated, "LIFTER_S1")) == 1
    assert {e.device for e in operated.events} == {"START", "PART", "GUARD"}
    assert operated.entries[-1].step == "LIFTER_S0"


def test_a_fault_in_one_branch_breaks_off_the_other_and_is_reset() -> None:
    jam = Event(at_us=600_000, kind=EventKind.JAM, device="GATE", on=True)
    freed = jam.model_copy(update={"at_us": 6_000_000, "on": False})
    _, operated = _worked(STATIONS, jam, freed)
    (fault,) = _at(operated, "LOADER_F1")
    assert fault == _at(operated, "LOADER_S1")[0] + 4.0
    after = [entry.step for entry in operated.entries if entry.at_us / 1e6 > fault]
    assert after[0] == "LOADER_S0"


def _pressed(device: str, at_s: float) -> tuple[Event, Event]:
    down = Event(at_us=int(at_s * 1e6), kind=EventKind.INPUT, device=device, on=True)
    return down, down.model_copy(update={"at_us": down.at_us + 200_000, "on": False})


def test_stop_lets_strokes_finish_and_holds_what_is_on_until_all_have() -> None:
    """STOP comes in both strokes. CLAMP arrives first and is held on until GATE has arrived too; then all rests."""
    text = (
        DEVICES
        + """\
cycle
    together
        extend CLAMP until at-end
        hold 9 s
    meanwhile
        extend GATE until at-end
        hold 9 s
    retract GATE
when STOP is pressed, finish the stroke
"""
    )
    machine, chart = _built(text)
    strokes = stroke_times(machine, Swiftness.GREATEST, Swiftness.GREATEST)
    usual = operate(machine, chart, wire(machine, chart_logic(chart)), strokes=strokes)
    begun = _at(usual, "S1")[0]
    events = (*_pressed("START", begun), *_pressed("STOP", begun + 0.3))
    scenario = make_scenarios(machine, chart)[0].model_copy(
        update={"events": events, "strokes": strokes, "duration_us": 6_000_000, "stretched": ()}
    )
    run = simulate(machine, chart_logic(chart), scenario)
    off = [c.at_us / 1e6 - begun for c in run.changes if c.signal == "SOL1" and not c.on]
    assert off == [1.0]  # GATE's stroke takes 1 s, CLAMP's half of that
    assert [c.signal for c in run.changes if c.on and c.signal in ("S0", "S2", "S4")] == ["S0", "S0"]


@settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(working_programs(1))
def test_any_program_with_blocks_can_be_told_and_run_and_never_differs_from_itself(program: tree.Program) -> None:
    understood = understand(Source("a program", write(program)))
    assume(understood.chart is not None)
    machine, chart = understood.machine, understood.chart
    assert chart is not None
    assert tell(machine, chart)
    assert shape_of(chart).first
    scenarios = make_scenarios(machine, chart)[::6]
    verdict = check(chart_logic(chart), chart_logic(chart), machine, chart, scenarios)
    assert verdict.standing is Standing.SAME
    # With both switches of a rod made at once a cycle that begins again by itself may go round for ever.
    working = [s for s in scenarios if not any(event.kind in _STUCK for event in s.events)]
    assert not check(chart_logic(chart), chart_logic(chart), machine, chart, working).unfinished
