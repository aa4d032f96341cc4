"""The step chain against the chart: with anti-repeat it must be the same in everything, whatever happens."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.condition import Elapsed, Sustained, walk
from compiler.machine import Machine
from compiler.understand import understand
from grammar.source import Source
from targets.build import build_all
from targets.relay import TARGET
from targets.relay.network import Unfit, terms
from targets.target import Artefact, Options
from tests.relay.clock import play_both
from tests.relay.strategies import MACHINE, resting_charts
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
