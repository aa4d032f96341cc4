"""The step chain against the chart: with anti-repeat it must be the same in everything, whatever happens."""

from __future__ import annotations

import re

import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings

from compiler.chart import Chart, Forcing, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.condition import Elapsed, Rise, Signal, Sustained, walk
from compiler.machine import Machine
from compiler.proof.induction.induct import always_same
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing
from compiler.races import RaceKind, RelayTimes, open_world, races
from compiler.understand import understand
from grammar.rungs import read
from grammar.source import Source
from targets.build import build_all
from targets.relay import TARGET
from targets.relay.network import Unfit, terms
from targets.target import Artefact, Options, Refusal
from tests.relay.beside_chart import difference_from_chart, repeats_inputs
from tests.relay.clock import play_both
from tests.relay.strategies import MACHINE, resting_charts
from tests.relay.two_rods import CYCLES, DEVICES
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
    derandomize=True,  # the campaign draws others
    max_examples=15,
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
    difference = play_both(
        chart_logic(chart), printed, moments, joint=not apart(chart) and not repeats_inputs(emitted)
    )
    assert difference is None, f"{difference}\n{emitted.text}"


@settings(max_examples=25, deadline=None, derandomize=True)
@given(resting_charts(), histories(len(MACHINE.inputs), most=40))
def test_is_the_chart_again_where_something_stays_on_between_cycles(chart: Chart, history: list[Moment]) -> None:
    options = Options(anti_repeat=True, arrangements=("step-chain",))
    (emitted, _) = TARGET.emit(MACHINE, chart, options=options)
    assert isinstance(emitted, Artefact)
    printed = TARGET.read(emitted.text, emitted.file, MACHINE)
    moments = [(moment.pause_us, moment.inputs) for moment in history]
    difference = play_both(
        chart_logic(chart), printed, moments, joint=not apart(chart) and not repeats_inputs(emitted)
    )
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


_WIDE = settings(
    phases=(Phase.generate,),
    derandomize=True,  # the campaign draws others
    max_examples=10,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)


@_WIDE
@given(machines(), wide_charts(), histories(most=40))
def test_follows_stations_branches_choices_and_repeats(machine: Machine, chart: Chart, history: list[Moment]) -> None:
    difference = difference_from_chart("step-chain", machine, chart, history)
    assert difference is None, difference


@pytest.mark.campaign
@settings(_WIDE, max_examples=1000, derandomize=False)
@given(machines(), wide_charts(), histories(most=40))
def test_follows_many_more_of_them(machine: Machine, chart: Chart, history: list[Moment]) -> None:
    difference = difference_from_chart("step-chain", machine, chart, history)
    assert difference is None, difference


_CYCLES = {
    **CYCLES,
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
        hold 1 s
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
    "a way home that begins with a time, and anew with another stop": """
cycle
    when START is pressed
    extend A, retract A
when STOP is pressed, return home
    extend B for 1 s
    retract B until at-home
""",
    "stop at end of cycle": """
cycle
    when START is pressed
    extend A, retract A
    again while AUTO is on
stop at end of cycle when FINISH is pressed
when STOP is pressed, drop out everything
""",
}


def _whole(cycle: str) -> tuple[Machine, Chart, Artefact]:
    understood = understand(Source("test", DEVICES + cycle))
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


@pytest.mark.parametrize(
    ("cycle", "right", "wrong"),
    [
        ("parallel work", r"CR(\d+) and CR(\d+)\) or \(\(CR\1 or CR\2\)", r"CR\1 or CR\2) or ((CR\1 or CR\2)"),
        ("a choice with a fault", r"LS1 or CR4", "LS1"),
        ("a repeat in a branch", r", RR1 NC, feeds", ", feeds"),
        ("a counter over many cycles", r"\bCT1 NC", "CT1"),
    ],
)
def test_a_rung_that_is_not_as_it_should_be_is_caught(cycle: str, right: str, wrong: str) -> None:
    machine, chart, emitted = _whole(_CYCLES[cycle])
    spoilt, changed = re.subn(right, wrong, emitted.text, count=1)
    assert changed, emitted.text
    assert not _same(machine, chart, spoilt)


_USUAL = RelayTimes(pick_up=(5_000, 20_000), drop_out=(3_000, 15_000), middle=2_000)
"""Invented, of the size that data sheets of small relays give (common practice)."""

_LASTING = """
cycle
    when AUTO is on
    extend A, extend B, retract B, retract A
when STOP is pressed, drop out everything
"""

_PASSES = """
cycle
    when AUTO is on
    repeat until FINISH is pressed
        extend A, retract A
when STOP is pressed, drop out everything
"""


def _critical(machine: Machine, text: str) -> list[tuple[str, ...]]:
    tree = read(Source("x.rungs", text)).tree
    times = dict.fromkeys((device.name.text for device in tree.devices), _USUAL)
    found = races(tree, machine, open_world(circuit_logic(tree, machine), limit=4_000).stimuli, times=times)
    assert found.settled, found.why
    return [race.lines for race in found.found if race.kind is RaceKind.CRITICAL]


@pytest.mark.parametrize("cycle", [_LASTING, _PASSES], ids=["the end of the cycle", "the end of a pass"])
def test_what_begins_anew_finds_a_chain_that_is_all_out(cycle: str) -> None:
    """The cycle, or the pass, begins again the very moment the last relay lets it: whichever relay is slow."""
    machine, _, emitted = _whole(cycle)
    assert not _critical(machine, emitted.text)


def test_relays_that_all_hang_on_the_first_would_not_be_free_of_races() -> None:
    """The other usual form: a relay that drops out slowly is still in when the first comes in again."""
    machine, _, emitted = _whole(_LASTING)
    other, changed = re.subn(
        r"(CR[2-4]), (LS[1-4]) or (CR[3-5]), feeds", r"CR1, (\1 and \2) or \3, feeds", emitted.text
    )
    assert changed == 3, emitted.text
    assert _critical(machine, other)


_START, _LS1 = Rise(device="START"), Signal(device="LS1")
_Ways = list[tuple[tuple[str, ...], tuple[str, ...]]]


def _refused(ways: _Ways, *, initial: tuple[str, ...] = ("S0",), fault: str = "", stop: str = "") -> str:
    names = dict.fromkeys(name for sources, targets in ways for name in (*sources, *targets))
    steps = tuple(Step(name=n, initial=n in initial, fault="late" if n == fault else "") for n in names)
    transitions = tuple(
        Transition(name=f"T{k}", sources=sources, targets=targets, condition=_START if k == 0 else _LS1)
        for k, (sources, targets) in enumerate(ways)
    )
    forcing = Forcing(condition=Rise(device="STOP"), steps=(stop,)) if stop else None
    chart = Chart(inputs=INPUTS, outputs=OUTPUTS, steps=steps, transitions=transitions, forcing=forcing)
    (refused,) = TARGET.emit(MACHINE, chart, options=Options(arrangements=("step-chain",)))
    assert isinstance(refused, Refusal)
    return refused.reason


_LINE: _Ways = [(("S0",), ("S1",)), (("S1",), ("S2",)), (("S2",), ("S0",))]
_BRANCHES: _Ways = [(("S0",), ("A1", "B1")), (("A1",), ("A2",)), (("A2", "B1"), ("S0",))]


def test_what_is_refused_and_which_arrangement_does_it() -> None:
    """By hand: none of these ends with all relays out, or begins again with only those out that should be."""
    instead = "; the one-hot chain can do that"
    assert _refused(_LINE, stop="S2") == f"a stop leads to step S2, into the middle of the cycle{instead}"
    back: _Ways = [*_LINE, (("S1",), ("F",)), (("F",), ("S2",))]
    assert _refused(back, fault="F") == f"step F leads back into the cycle that it broke off, to S2{instead}"
    part: _Ways = [*_BRANCHES, (("A1",), ("F",))]
    assert _refused(part, fault="F").endswith(f"it breaks off only part of what goes on side by side{instead}")
    apart: _Ways = [(("S0",), ("S1",)), (("S3",), ("S4",)), (("S1", "S4"), ("S0", "S3"))]
    two = _refused(apart, initial=("S0", "S3"))
    assert two == f"a station begins with several steps{instead}"
