"""The one-hot chain against the chart: with every press told apart it must be the same in everything."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from compiler.chart import Action, ActionKind, Chart, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.condition import Rise, Signal
from compiler.machine import Machine
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing
from compiler.understand import understand
from grammar.rungs.read import read
from grammar.rungs.tree import Form, wired
from grammar.source import Source
from targets.relay import TARGET
from targets.target import CAUTION, Artefact, Options, Refusal
from tests.relay.beside_chart import difference_from_chart
from tests.relay.strategies import MACHINE
from tests.relay.two_rods import CYCLES, DEVICES
from tests.relay.wide import INPUTS, OUTPUTS, wide_charts
from tests.strategies_chart import Moment, charts, histories, machines

_SETTINGS = settings(
    phases=(Phase.generate,),
    derandomize=True,  # the campaign draws others
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)


@_SETTINGS
@given(machines(), charts(stored=True), histories())
def test_is_the_chart_again(machine: Machine, chart: Chart, history: list[Moment]) -> None:
    difference = difference_from_chart("one-hot", machine, chart, history)
    assert difference is None, difference


@settings(_SETTINGS, max_examples=20)
@given(machines(), wide_charts(), histories(most=40))
def test_follows_stations_branches_choices_and_repeats(machine: Machine, chart: Chart, history: list[Moment]) -> None:
    difference = difference_from_chart("one-hot", machine, chart, history)
    assert difference is None, difference


@pytest.mark.campaign
@settings(_SETTINGS, max_examples=1000, derandomize=False)
@given(machines(), wide_charts(), histories(most=40))
def test_follows_many_more_of_them(machine: Machine, chart: Chart, history: list[Moment]) -> None:
    difference = difference_from_chart("one-hot", machine, chart, history)
    assert difference is None, difference


_CYCLES = {
    **CYCLES,
    "stop at end of cycle": """
cycle
    when START is pressed
    extend A, extend B, retract B, retract A
    again while AUTO is on
stop at end of cycle when FINISH is pressed
when STOP is pressed, drop out everything
""",
    "parallel work, a repeat and a choice": """
cycle
    when START is pressed
    together
        repeat 2 times
            extend B, retract B
    meanwhile
        if AUTO is on
            extend A until at-end, within 4 s or fault "slow"
        hold 1 s
    retract A
when STOP is pressed, drop out everything
a fault is reset by FINISH
""",
}


@pytest.mark.parametrize("cycle", _CYCLES.values(), ids=_CYCLES)
def test_whole_programs_are_proved_the_same(cycle: str) -> None:
    understood = understand(Source("test", DEVICES + cycle))
    assert understood.chart is not None, understood.diagnostics
    options = Options(anti_repeat=True, arrangements=("one-hot",))
    emitted = next(iter(TARGET.emit(understood.machine, understood.chart, options=options)))
    assert isinstance(emitted, Artefact), emitted
    printed = TARGET.read(emitted.text, emitted.file, understood.machine)
    proof = prove(chart_logic(understood.chart), printed, understood.machine)
    assert proof.standing is Standing.SAME, proof.headline
    assert CAUTION.split()[0] in emitted.text


def test_where_step_relays_cannot_follow_it_says_why() -> None:
    steps = (Step(name="S0", initial=True), Step(name="S1"))
    go = Transition(name="T1", sources=("S0",), targets=("S1",), condition=Rise(device="START"))
    again = Transition(name="T2", sources=("S1",), targets=("S1",), condition=Signal(device="LS1"))
    left = Action(output="SOL1", kind=ActionKind.SET_ON_EXIT)
    on = Transition(name="T2", sources=("S1",), targets=("S2",), condition=Signal(device="LS1"))
    back = Transition(name="T3", sources=("S2",), targets=("S0",), condition=Signal(device="LS1"))
    leaving = (steps[0], Step(name="S1", actions=(left,)), Step(name="S2"))
    cases = {
        "step S1 leads to itself": (steps, (go, again)),
        "SOL1 changes as step S1 is left": (leaving, (go, on, back)),
    }
    for reason, (of_it, ways) in cases.items():
        chart = Chart(inputs=INPUTS, outputs=OUTPUTS, steps=of_it, transitions=ways)
        (refused,) = TARGET.emit(MACHINE, chart, options=Options(arrangements=("one-hot",)))
        assert isinstance(refused, Refusal)
        assert refused.reason.startswith(reason)


STOPPED = """\
pneumatic cylinder RAM
    stroke 80 mm
    extends in 1 s, retracts in 1 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
pushbutton START
pushbutton STOP, normally closed
cycle
    when START is pressed
    extend RAM, hold 1 s, retract RAM
"""


def test_a_broken_wire_never_starts_anything() -> None:
    """A normally closed START is asked by its own make contact, which a broken wire leaves dead, and that is said."""
    words = STOPPED.replace("pushbutton START", "pushbutton START, normally closed")
    what = understand(Source("x.seq", words))
    assert what.chart is not None
    made = TARGET.emit(what.machine, what.chart, options=Options(arrangements=("one-hot",)))
    (rungs,) = (a for a in made if isinstance(a, Artefact) and a.implementation)
    asked = [use.form for use in wired(read(Source(rungs.file, rungs.text)).tree) if use.name.text == "START"]
    assert Form.NO in asked
    assert "Mind: START acts here by a make contact" in rungs.text


@pytest.mark.parametrize("stop", ["finish the stroke", "return home\n    retract RAM until at-home"])
def test_a_broken_wire_to_a_normally_closed_stop_acts_as_a_press_of_it(stop: str) -> None:
    """No contact waits for current through a normally closed button, which a broken wire would never bring: a relay
    is in while the button is up, and its contacts are asked (IEC 60204-1:2016 9.4.3, from memory). Pressed and
    broken are one to the circuit, and a press is proved to do what was written."""
    what = understand(Source("x.seq", f"{STOPPED}when STOP is pressed, {stop}\n"))
    assert what.chart is not None
    made = TARGET.emit(what.machine, what.chart, options=Options(arrangements=("one-hot",)))
    (rungs,) = (a for a in made if isinstance(a, Artefact) and a.implementation)
    circuit = read(Source(rungs.file, rungs.text)).tree
    assert [use.form for use in wired(circuit) if use.name.text == "STOP"] == [Form.NC]
    assert "broken wire to STOP" in rungs.text
    printed = TARGET.read(rungs.text, rungs.file, what.machine)
    proof = prove(chart_logic(what.chart), printed, what.machine)
    assert proof.standing in (Standing.SAME, Standing.SAME_ONLY_IF)
