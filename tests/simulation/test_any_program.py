"""Any program that makes a chart can be put through its runs, and its sequence never differs from itself."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from compiler.chart_logic import chart_logic
from compiler.checking.check import check
from compiler.checking.operating import operate
from compiler.checking.scenarios import make_scenarios
from compiler.checking.verdict import Standing
from compiler.simulation.bench import wire
from compiler.simulation.run import Swiftness, stroke_times
from compiler.understand import understand
from grammar.sequence import tree
from grammar.sequence.write import write
from grammar.source import Source
from tests.simulation.machines import DWELL, DWELL_CHART
from tests.strategies_program import programs, sensible_programs

# One that once ran for a minute: always the same fault, cleared, and started again straight into a later step.
SAME_FAULT_EVERY_TIME = """\
pneumatic cylinder CLAMP
    extends in 1 s
    retracts in 1 s
    double solenoid valve SOL1A extends, SOL1B retracts
    limit switch LS1 at end
    limit switch LS2 at home
pushbutton START
pushbutton STOP
cycle
    when START is pressed
    extend CLAMP
    wait until LS2 is made, within 0.25 s or fault "never home"
    retract CLAMP
when STOP is pressed, drop out everything
"""


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.one_of(programs(), sensible_programs()))
def test_any_chart_can_be_run_and_never_differs_from_itself(program: tree.Program) -> None:
    understood = understand(Source("a program", write(program)))
    if understood.chart is None:
        return
    machine, chart = understood.machine, understood.chart
    scenarios = make_scenarios(machine, chart)
    verdict = check(chart_logic(chart), chart_logic(chart), machine, chart, scenarios)
    assert verdict.standing is Standing.SAME
    assert verdict.runs == len(scenarios) >= 2


def test_a_fault_that_comes_every_time_ends_the_run() -> None:
    understood = understand(Source("a program", SAME_FAULT_EVERY_TIME))
    assert understood.chart is not None
    machine, chart = understood.machine, understood.chart
    times = stroke_times(machine, Swiftness.GREATEST, Swiftness.GREATEST)
    worked = operate(machine, chart, wire(machine, chart_logic(chart)), strokes=times, cycles=50)
    assert 2 <= [entry.step for entry in worked.entries].count("F1") <= 4


def test_a_machine_without_buttons_is_run_all_the_same() -> None:
    bare = DWELL.model_copy(update={"start": None, "stop": None})
    names = [s.name for s in make_scenarios(bare, DWELL_CHART)]
    assert names[:2] == ["one cycle", "three cycles"]
    assert not [name for name in names if "held" in name]
