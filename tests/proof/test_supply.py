"""What a supply that comes back brings about by itself: by the words of programs, and with inputs in every state."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.condition import Rise, both
from compiler.logic import Chattering
from compiler.machine import Machine
from compiler.proof.supply import WithSupply, with_supply
from compiler.understand import understand
from grammar.source import Source
from tests.strategies_chart import charts

HEAD = """\
pneumatic cylinder RAM
    limit switch LS1 at end, LS2 at home
    single solenoid valve SOL1, spring return
selector AUTO
pushbutton START
pushbutton STOP, normally closed
lamp BUSY
signal READY
home when RAM is at-home
"""
STROKES = "    extend RAM\n    retract RAM\n"


@pytest.mark.parametrize(
    ("cycles", "begins"),
    [
        (f"cycle\n    when START is pressed\n{STROKES}", []),
        (f"cycle\n    when START is pressed or AUTO is on\n{STROKES}", ["(START is pressed or AUTO is on)"]),
        (f"cycle\n    when START is held\n{STROKES}", ["START is held"]),
        (f"cycle\n    when START is pressed\n{STROKES}    again while AUTO is on\n", []),
        (f"cycle\n    when AUTO is on for 2 s\n{STROKES}", ["AUTO is on for 2 s"]),
        (
            "cycle of A\n    when START is pressed\n    turn on READY, hold 1 s\n    turn off READY\n"
            f"cycle of B\n    when READY is on\n{STROKES}",
            [],
        ),
        (
            f"cycle of A\n    when START is pressed\n{STROKES}"
            "cycle of B\n    when A is at rest\n    turn on BUSY, hold 1 s\n    turn off BUSY\n",
            ["A is at rest (A_S0 is active)"],
        ),
    ],
)
def test_a_cycle_begins_by_itself_where_no_press_is_asked(cycles: str, begins: list[str]) -> None:
    what = understand(Source("test", HEAD + cycles))
    assert what.chart is not None, what.diagnostics
    found = with_supply(what.chart, what.machine)
    assert found.on == ()
    assert len(found.begins) == len(begins)
    assert all(words in told for told, words in zip(found.begins, begins, strict=True))


def _pressed_first(chart: Chart) -> Chart:
    """The same chart, with nothing on in its first steps, and a press asked for before anything else."""
    steps = [s.model_copy(update={"actions": ()}) if s.initial else s for s in chart.steps]
    initial = {step.name for step in steps if step.initial}
    press = Rise(device=chart.inputs[0])
    ways = [
        t.model_copy(update={"condition": both(press, t.condition)}) if initial.issuperset(t.sources) else t
        for t in chart.transitions
    ]
    return chart.model_copy(update={"steps": tuple(steps), "transitions": tuple(ways)})


@settings(max_examples=10, deadline=None)
@given(charts(stored=True))
def test_where_nothing_is_said_to_begin_nothing_comes_on(drawn: Chart) -> None:
    """Whatever comes on, with the inputs in any state as the supply comes on, was said to; and after a first step
    that asks for a press nothing does."""
    for chart in (drawn, _pressed_first(drawn)):
        found, logic = with_supply(chart, Machine()), chart_logic(chart)
        for inputs in product((False, True), repeat=len(chart.inputs)):
            try:
                comes_on = any(logic.power_up(inputs).outputs)
            except Chattering:
                continue
            assert not comes_on or found != WithSupply()
    assert with_supply(_pressed_first(drawn), Machine()) == WithSupply()
