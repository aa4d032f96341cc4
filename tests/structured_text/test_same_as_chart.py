"""Every chart that is printed is the same when read back: no output ever differs, at any moment, for any history.

The two sides share neither code nor text: one is the chart by the rules of IEC 60848, the other what the reader
makes of the printed block. The broken emitters show that the comparison would notice.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from compiler.chart import Chart, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.condition import Rise, Signal
from compiler.logic import Chattering, Logic
from compiler.machine import Input, InputKind, Machine
from compiler.understand import understand
from grammar.source import Source
from targets.structured_text import TARGET
from targets.target import Artefact, Options
from tests.strategies_chart import Moment, charts, histories, machines
from tests.structured_text.clock import Clocked

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.seq"))


def printed(machine: Machine, chart: Chart) -> Artefact:
    (artefact,) = TARGET.emit(machine, chart, options=Options())
    assert isinstance(artefact, Artefact)
    return artefact


def first_difference(ours: Logic, theirs: Logic, moments: list[Moment]) -> int | None:
    """The number of the moment at which outputs first differ; both chattering at one moment ends the run."""
    sides: list[Clocked] = []
    now = 0
    for k, moment in enumerate(moments):
        now += moment.pause_us if k else 0
        rounds: list[object] = []
        for side, logic in enumerate((ours, theirs)):
            try:
                if k == 0:
                    sides.append(Clocked(logic, moment.inputs))
                else:
                    sides[side].advance(now, moment.inputs)
                rounds.append(_changes(sides[side].trace))
            except Chattering:
                rounds.append("chatters")
        if rounds[0] != rounds[1]:
            return k
        if rounds[0] == "chatters":
            return None
    return None


def _changes(trace: list[tuple[int, tuple[bool, ...]]]) -> list[tuple[int, tuple[bool, ...]]]:
    """What the outputs were at each instant, without the instants at which nothing changed."""
    last = dict(trace)
    times = sorted(last)
    return [(t, last[t]) for k, t in enumerate(times) if k == 0 or last[t] != last[times[k - 1]]]


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(machine=machines(), chart=charts(), moments=histories())
def test_any_chart_printed_and_read_back_is_the_same(machine: Machine, chart: Chart, moments: list[Moment]) -> None:
    text = printed(machine, chart).text
    note(text)
    assert first_difference(chart_logic(chart), TARGET.read(text, "x.st", machine), moments) is None


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_is_the_same(path: Path) -> None:
    understood = understand(Source(path.name, path.read_text(encoding="utf-8")))
    assert understood.chart is not None
    chart, machine = understood.chart, understood.machine
    text = printed(machine, chart).text

    @settings(max_examples=25, deadline=None)
    @given(histories(len(chart.inputs), 40))
    def same(moments: list[Moment]) -> None:
        assert first_difference(chart_logic(chart), TARGET.read(text, "x.st", machine), moments) is None

    same()


BROKEN = {
    "a preset is wrong": (r"PT := T#12s", "PT := T#13s"),
    "a step number is wrong": (r"StepNo := 30;", "StepNo := 20;"),
    "a CASE label is wrong": (r"(?m)^    30:", "    60:"),
    "NOT is dropped on a wire": (r"STOP_pressed := NOT STOP;", "STOP_pressed := STOP;"),
    "the edge is a level": (r"IF START_rose AND", "IF START_pressed AND"),
    "an edge at power-up counts": (r" AND NOT FirstScan", ""),
    "an output is forgotten in a step": (r"SOL1 := \(StepNo = 10\) OR ", "SOL1 := "),
    "the home condition is dropped": (r" AND LS2_made AND GUARD_made THEN", " THEN"),
    "STOP does nothing": (r"IF STOP_pressed THEN", "IF STOP_pressed AND NOT STOP_pressed THEN"),
    "the time runs in another step": (
        r"Step20_after_12s\(IN := \(StepNo = 20\)",
        "Step20_after_12s(IN := (StepNo = 10)",
    ),
    "the fault is forgotten": (r"StepNo := 40;", "StepNo := 10;"),
}


@pytest.mark.parametrize("broken", BROKEN)
def test_a_broken_emitter_is_caught(broken: str) -> None:
    """Ten seconds of nothing clever: the normal cycle, STOP, a held button and a late switch show each of them."""
    path = next(p for p in EXAMPLES if p.stem == "hide-embossing")
    understood = understand(Source(path.name, path.read_text(encoding="utf-8")))
    assert understood.chart is not None
    text = printed(understood.machine, understood.chart).text
    pattern, instead = BROKEN[broken]
    wrong, count = re.subn(pattern, instead, text)
    assert count, "the emitter no longer prints this"
    sides = chart_logic(understood.chart), TARGET.read(wrong, "x.st", understood.machine)
    histories_tried = [_history(understood.chart, script) for script in SCRIPTS]
    assert [k for k, moments in enumerate(histories_tried) if first_difference(*sides, moments) is not None]
    right = TARGET.read(text, "x.st", understood.machine)
    assert not [m for m in histories_tried if first_difference(sides[0], right, m) is not None]


# Seconds to wait, then the devices that are actuated from there on.
SCRIPTS: list[list[tuple[float, str]]] = [
    [(0, "LS2 GUARD"), (1, "LS2 GUARD START"), (1, "GUARD"), (3, "LS1 GUARD"), (12.5, ""), (2, "LS2 GUARD"), (9, "")],
    [(0, "LS2 GUARD START"), (1, "LS2 GUARD START"), (1, ""), (20, "")],
    [(0, "LS2 GUARD"), (1, "LS2 GUARD START STOP"), (1, "LS2 GUARD START"), (3, "")],
    [(0, "LS2 GUARD"), (1, "LS2 GUARD START"), (1, "LS1 GUARD"), (1, "STOP LS1"), (1, "LS2")],
    [(0, ""), (1, "START"), (1, "")],
    [(0, "LS2 GUARD"), (1, "LS2 GUARD START"), (20, ""), (9, "")],
]  # fmt: skip


def _history(chart: Chart, script: list[tuple[float, str]]) -> list[Moment]:
    return [
        Moment(round(pause * 1_000_000), tuple(name in on.split() for name in chart.inputs)) for pause, on in script
    ]


@given(st.permutations(range(6)))
@settings(max_examples=5)
def test_printing_is_deterministic(order: list[int]) -> None:
    path = EXAMPLES[order[0] % len(EXAMPLES)]
    understood = understand(Source(path.name, path.read_text(encoding="utf-8")))
    assert understood.chart is not None
    assert printed(understood.machine, understood.chart) == printed(understood.machine, understood.chart)


def test_back_to_where_an_edge_led_away_from_is_no_circle() -> None:
    """Rule 2 clears by the edge once; a step passed through leads back, and there the chart stands."""
    there, back = Rise(device="START"), Signal(device="START")
    chart = Chart(
        inputs=("START",),
        outputs=(),
        steps=(Step(name="S0", initial=True), Step(name="S1")),
        transitions=(
            Transition(name="T1", sources=("S0",), targets=("S1",), condition=there),
            Transition(name="T2", sources=("S1",), targets=("S0",), condition=back),
        ),
    )
    machine = Machine(inputs=(Input(name="START", kind=InputKind.PUSHBUTTON),), loads=())
    ours, theirs = chart_logic(chart), TARGET.read(printed(machine, chart).text, "x.st", machine)
    pressed = [one.react(one.power_up((False,)).state, (True,)).state for one in (ours, theirs)]
    assert ours.lit(pressed[0]) == ("S0",)
    assert theirs.lit(pressed[1])[0] == "StepNo = 0"
