"""The step chain against the chart: with anti-repeat it must be the same in everything, whatever happens."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings

from compiler.chart import Chart, Forcing, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.condition import Elapsed, Rise, Signal, Sustained, both, walk
from compiler.machine import Machine
from compiler.proof.induction.induct import always_same
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing
from compiler.understand import understand
from grammar.source import Source
from targets.build import build_all
from targets.relay import TARGET
from targets.relay.network import Unfit, terms
from targets.target import Artefact, Options, Refusal
from tests.relay.clock import play_both
from tests.relay.strategies import MACHINE, resting_charts
from tests.relay.wide import INPUTS, OUTPUTS, wide_charts
from tests.strategies_chart import Moment, charts, histories, machines


def apart(chart: Chart) -> bool:
    """Whether inputs must change one at a time, and not as a timer expires, for relays to keep up with the chart.

    A timer's contact follows a moment after its coil. Where a condition asks for it beside other contacts, or a
    press counts only together with a time, two things at the very same instant are a race on any panel.
    """
    conditions = [t.condition for t in chart.transitions]
    if any(isinstance(part, Sustained) for condition in conditions for part in walk(condition)):
        return True
    try:
        found = [term for condition in conditions for term in terms(condition)]
    except Unfit:
        return False
    return any(t.rise and any(isinstance(p, Elapsed) for p in walk(t.rest)) for t in found)


@settings(
    phases=(Phase.generate,),
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)
@given(machines(), charts(stored=False), histories())
def test_is_the_chart_again(machine: Machine, chart: Chart, history: list[Moment]) -> None:
    options = Options(anti_repeat=True, arrangements=("step-chain",))
    emitted = next(iter(TARGET.emit(machine, chart, options=options)))
    assume(isinstance(emitted, Artefact))
    assert isinstance(emitted, Artefact)
    assert emitted.announces == frozenset()
    printed = TARGET.read(emitted.text, emitted.file, machine)
    moments = [(moment.pause_us, moment.inputs) for moment in history]
    difference = play_both(chart_logic(chart), printed, moments, joint=not apart(chart))
    assert difference is None, f"{difference}\n{emitted.text}"


@settings(max_examples=60, deadline=None)
@given(resting_charts(), histories(len(MACHINE.inputs), most=40))
def test_is_the_chart_again_where_something_stays_on_between_cycles(chart: Chart, history: list[Moment]) -> None:
    options = Options(anti_repeat=True, arrangements=("step-chain",))
    (emitted, _) = TARGET.emit(MACHINE, chart, options=options)
    assert isinstance(emitted, Artefact)
    printed = TARGET.read(emitted.text, emitted.file, MACHINE)
    moments = [(moment.pause_us, moment.inputs) for moment in history]
    difference = play_both(chart_logic(chart), printed, moments, joint=not apart(chart))
    assert difference is None, f"{difference}\n{emitted.text}"


@pytest.mark.parametrize(
    "program",
    [
        # Without the anti-repeat relay the press that ends the cycle would also start the next.
        "extend, retract, wait until START is pressed",
        # The careful operator presses at the very instant the time runs out.
        "extend, retract, wait until after 1.5 s and START is pressed",
        'extend, retract, wait until after 1.5 s and START is pressed, within 1.5 s or fault "late"',
    ],
)
def test_presses_in_mid_sequence_found_by_random_programs(program: str) -> None:
    understood = understand(Source("test", program))
    built = build_all(understood, Options(arrangements=("step-chain",)))
    assert built is not None
    chain = next(p for p in built.printed if p.artefact.target == "relay" and p.proof is not None)
    assert chain.artefact.announces == frozenset()
    assert chain.sound(strict=True), chain.proof


def _difference(machine: Machine, chart: Chart, history: list[Moment]) -> str | None:
    options = Options(anti_repeat=True, arrangements=("step-chain",))
    emitted = next(iter(TARGET.emit(machine, chart, options=options)))
    assume(isinstance(emitted, Artefact))
    assert isinstance(emitted, Artefact)
    printed = TARGET.read(emitted.text, emitted.file, machine)
    moments = [(moment.pause_us, moment.inputs) for moment in history]
    found = play_both(chart_logic(chart), printed, moments, joint=False)
    if found is not None and "the sequence as written chatters" in found:
        return None  # a partial chart that never settles may be a relay that does
    return None if found is None else f"{found}\n{emitted.text}"


_WIDE = settings(
    phases=(Phase.generate,),
    max_examples=15,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)


@_WIDE
@given(machines(), wide_charts(), histories(most=40))
def test_follows_stations_branches_choices_and_repeats(machine: Machine, chart: Chart, history: list[Moment]) -> None:
    difference = _difference(machine, chart, history)
    assert difference is None, difference


@pytest.mark.campaign
@settings(_WIDE, max_examples=1000)
@given(machines(), wide_charts(), histories(most=40))
def test_follows_many_more_of_them(machine: Machine, chart: Chart, history: list[Moment]) -> None:
    difference = _difference(machine, chart, history)
    assert difference is None, difference


_DEVICES = """\
pneumatic cylinder A
    stroke 80 mm, extends in 0.6 s to 1 s, retracts in 0.5 s to 0.9 s
    single solenoid valve Y1, spring return
    limit switch LS1 at end, LS2 at home
pneumatic cylinder B
    stroke 60 mm, extends in 2 s to 3 s, retracts in 1 s to 1.4 s
    double solenoid valve Y2 extends, Y3 retracts
    limit switch LS3 at end, LS4 at home
pushbutton START, normally open
pushbutton STOP, normally closed
pushbutton FINISH, normally open
selector AUTO
signal LOADED
counter DONE
"""

_CYCLES = {
    "parallel work": """
cycle
    when START is pressed
    together
        extend B, retract B
    meanwhile
        extend A, hold 1 s
    retract A
when STOP is pressed, drop out everything
""",
    "a choice with a fault": """
cycle
    when START is pressed
    if AUTO is on
        extend A until at-end, within 4 s or fault "slow"
    otherwise
        extend B, retract B
    retract A
when STOP is pressed, drop out everything
a fault is reset by FINISH
""",
    "a repeat that begins with a choice": """
cycle
    when START is pressed
    repeat 3 times
        if AUTO is on
            extend A, retract A
        otherwise
            extend B, retract B
when STOP is pressed, drop out everything
""",
    "repeats in a repeat": """
cycle
    when START is pressed
    repeat until AUTO is on
        repeat 2 times
            extend A, retract A
        extend B, retract B
when STOP is pressed, drop out everything
""",
    "a repeat in a branch": """
cycle
    when START is pressed
    together
        repeat 2 times
            extend B, retract B
    meanwhile
        extend A
    retract A
when STOP is pressed, drop out everything
""",
    "a counter over many cycles": """
cycle
    when START is pressed
    extend A, retract A
    count DONE
    if DONE reaches 2
        extend B, retract B
        clear DONE
when STOP is pressed, drop out everything
""",
    "stop at end of cycle": """
cycle
    when START is pressed
    extend A, extend B, retract B, retract A
    again while AUTO is on
stop at end of cycle when FINISH is pressed
when STOP is pressed, drop out everything
""",
    "finish the stroke": """
cycle
    when START is pressed
    extend A, extend B, retract B, retract A
when STOP is pressed, finish the stroke
""",
    "return home": """
cycle
    when START is pressed
    extend A, extend B, retract B, retract A
when STOP is pressed, return home
    retract B until at-home
    retract A until at-home
""",
    "two stations and an interlock": """
cycle of LOADER
    when START is pressed
    extend A
    turn on LOADED
    retract A
    wait until PRESS is at rest
    turn off LOADED
cycle of PRESS
    when LOADED is on
    extend B, retract B
when STOP is pressed, drop out everything
never Y1 with Y2
""",
}


def _whole(cycle: str) -> tuple[Machine, Chart, Artefact]:
    understood = understand(Source("test", _DEVICES + cycle))
    assert understood.chart is not None, understood.diagnostics
    options = Options(anti_repeat=True, arrangements=("step-chain",))
    emitted = next(iter(TARGET.emit(understood.machine, understood.chart, options=options)))
    assert isinstance(emitted, Artefact), emitted
    return understood.machine, understood.chart, emitted


def _same(machine: Machine, chart: Chart, text: str) -> bool:
    printed = TARGET.read(text, "x.rungs", machine)
    if always_same(chart_logic(chart), printed, machine, one_by_one=True) is not None:
        return True
    return prove(chart_logic(chart), printed, machine).standing is Standing.SAME


@pytest.mark.parametrize("cycle", _CYCLES.values(), ids=_CYCLES)
def test_whole_programs_are_proved_the_same(cycle: str) -> None:
    machine, chart, emitted = _whole(cycle)
    assert _same(machine, chart, emitted.text)
    assert "Accumulating" in emitted.text
