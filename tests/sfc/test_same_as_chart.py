"""Every chart that is printed as an SFC is the same when read back: no output ever differs, for any history.

The two sides share neither code nor text: one is the chart by the rules of IEC 60848, the other what the reader
makes of the printed SFC. The broken emitters show that the comparison would notice.
"""

from __future__ import annotations

import re
from collections.abc import Hashable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, note, settings

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.logic import Bits, Logic, Reaction, StandIn, Timer
from compiler.machine import Machine
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing
from compiler.understand import Understood, understand
from grammar.reading import ReadBack
from grammar.source import Source
from targets.sfc import TARGET
from targets.target import Artefact, Options, Refusal
from tests.strategies_chart import Moment, charts, histories, machines, wide_charts
from tests.structured_text.test_same_as_chart import first_difference
from tests.structured_text.together import parting

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.seq"))
QUIET = [HealthCheck.filter_too_much, HealthCheck.too_slow, HealthCheck.data_too_large]


def printed(machine: Machine, chart: Chart) -> Artefact | Refusal:
    (made,) = TARGET.emit(machine, chart, options=Options())
    return made


def understood(path: Path) -> Understood:
    return understand(Source(path.name, path.read_text(encoding="utf-8")))


def same(machine: Machine, chart: Chart, moments: list[Moment]) -> None:
    made = printed(machine, chart)
    if isinstance(made, Refusal):
        note(made.reason)
        assume(False)
        return
    note(made.text)
    assert first_difference(chart_logic(chart), TARGET.read(made.text, "x.sfc", machine), moments) is None


@settings(max_examples=15, deadline=None, suppress_health_check=QUIET)
@given(machine=machines(), chart=charts(), moments=histories())
def test_any_line_of_steps_is_the_same(machine: Machine, chart: Chart, moments: list[Moment]) -> None:
    same(machine, chart, moments)


@settings(max_examples=15, deadline=None, suppress_health_check=QUIET)
@given(machine=machines(), chart=wide_charts(), moments=histories())
def test_any_chart_is_the_same(machine: Machine, chart: Chart, moments: list[Moment]) -> None:
    same(machine, chart, moments)


@settings(max_examples=12, deadline=None, suppress_health_check=QUIET)
@given(machine=machines(), chart=wide_charts(stations=1), moments=histories(most=40))
def test_any_station_is_the_same(machine: Machine, chart: Chart, moments: list[Moment]) -> None:
    same(machine, chart, moments)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_is_proved_the_same_with_nothing_assumed(path: Path) -> None:
    program = understood(path)
    assert program.chart is not None
    made = printed(program.machine, program.chart)
    assert isinstance(made, Artefact), made.reason
    proof = prove(chart_logic(program.chart), TARGET.read(made.text, made.file, program.machine), program.machine)
    assert proof.standing is Standing.SAME, proof.headline
    assert not proof.needs


BROKEN = {
    "a time in step is wrong": (r"S2\.T >= T#6s", "S2.T >= T#7s"),
    "a step drives another output": (r"STEP S3: SOL2B\(N\);", "STEP S3: SOL2A(N);"),
    "a transition leaves another step": (r"FROM S3 TO S4", "FROM S2 TO S4"),
    "NOT is dropped on a wire": (r"STOP_pressed := NOT STOP;", "STOP_pressed := STOP;"),
    "the edge is a level": (r":= START_rose", ":= START_pressed"),
    "an edge at power-up counts": (r" AND NOT FirstScan", ""),
    "an output is forgotten in a step": (r"(STEP S1:) SOL1A\(N\);", r"\1"),
    "an output stays on": (r"SOL2A\(N\)", "SOL2A(S)"),
    "STOP leaves a step as it is": (r".*FROM S3 TO S0 := Stop_called; END_TRANSITION.*\n", ""),
    "STOP leaves a fault as it is": (r".*FROM F1 TO S0 := Stop_called; END_TRANSITION.*\n", ""),
    "the fault never comes": (r"S2\.T >= T#6s", "S1.T >= T#6s"),
}


@pytest.mark.parametrize("broken", BROKEN)
def test_a_broken_emitter_is_caught(broken: str) -> None:
    program = understood(next(path for path in EXAMPLES if path.stem == "clamp-and-drill"))
    assert program.chart is not None
    made = printed(program.machine, program.chart)
    assert isinstance(made, Artefact)
    pattern, instead = BROKEN[broken]
    wrong, count = re.subn(pattern, instead, made.text)
    assert count, "the emitter no longer prints this"
    spoilt = TARGET.read(wrong, "x.sfc", program.machine)
    proof = prove(chart_logic(program.chart), spoilt, program.machine)
    assert proof.standing is Standing.DIFFERS or proof.needs, proof.headline


NETS = Path(__file__).parents[1] / "structured_text" / "sequences"


@pytest.mark.parametrize("stem", ["clip-press", "hand-over", "nail-press"])
def test_parallel_work_and_stations_are_proved_the_same(stem: str) -> None:
    """Work that is broken off and joined, choices, counters, two stations that shake hands."""
    program = understood(NETS / f"{stem}.seq")
    assert program.chart is not None
    made = printed(program.machine, program.chart)
    assert isinstance(made, Artefact), made.reason
    proof = prove(chart_logic(program.chart), TARGET.read(made.text, made.file, program.machine), program.machine)
    assert proof.standing is Standing.SAME, proof.headline
    assert not proof.needs


@pytest.mark.parametrize("stem", ["clip-press", "hand-over", "nail-press", "tray-line"])
def test_parallel_work_and_stations_go_through_the_same_situations(stem: str) -> None:
    """Outputs and timers after every event of a long walk, where a timer may run out at any moment."""
    program = understood(NETS / f"{stem}.seq")
    assert program.chart is not None
    made = printed(program.machine, program.chart)
    assert isinstance(made, Artefact), made.reason
    logic = InOrder(TARGET.read(made.text, made.file, program.machine), chart_logic(program.chart))
    assert parting(program.chart, logic, most=1200) == ""


class InOrder(StandIn):
    """A function chart with its timers in the order of the sequence's: "time in S3" is "S3.T >= T#6s: time"."""

    def __init__(self, logic: Logic, like: Logic) -> None:
        super().__init__(logic)
        own = {timer: k for k, timer in enumerate(logic.timers)}
        self._places = [next(own.pop(t) for t in list(own) if _stands_for(t, wanted)) for wanted in like.timers]
        assert not own

    @property
    def timers(self) -> tuple[Timer, ...]:
        return tuple(self.logic.timers[k] for k in self._places)

    def power_up(self, inputs: Bits) -> Reaction:
        return self._turned(self.logic.power_up(inputs))

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        return self._turned(self.logic.react(state, inputs, frozenset(self._places[k] for k in expired)))

    def _turned(self, one: Reaction) -> Reaction:
        running, started = (
            frozenset(k for k, place in enumerate(self._places) if place in timers)
            for timers in (one.running, one.started)
        )
        return one._replace(running=running, started=started)


def _stands_for(timer: Timer, wanted: Timer) -> bool:
    step = wanted.name.removeprefix("time in ")
    named = timer.name.startswith(f"{step}.T " if step != wanted.name else "Sustained")
    return named and timer.preset_us == wanted.preset_us


def test_stop_leaves_parallel_work_step_by_step_and_not_by_combinations() -> None:
    program = understood(NETS / "tray-line.seq")
    assert program.chart is not None
    made = printed(program.machine, program.chart)
    assert isinstance(made, Artefact), made.reason
    stops = [line for line in made.text.splitlines() if ":= Stop_called;" in line and "TRANSITION" in line]
    assert len(stops) < len(program.chart.steps)


SPOILT = {
    "a combination is forgotten": r".*FROM \(S3, S6\) TO F1.*\n",
    "a counter never counts": r" S3_begins\(P1\);",
    "a branch is not left at STOP": r".*FROM S6 TO Out_2.*\n",
    "branches left at STOP are not joined": r".*FROM \(Out_1, Out_2\).*\n",
    "an interlock is forgotten": r" AND [^;]*(?=;\s*\(\* [^*]*(?:never|only while))",
}


@pytest.mark.parametrize("spoilt", SPOILT)
def test_a_broken_emitter_of_parallel_work_is_caught(spoilt: str) -> None:
    program = understood(NETS / "tray-line.seq")
    assert program.chart is not None
    made = printed(program.machine, program.chart)
    assert isinstance(made, Artefact), made.reason
    wrong, count = re.subn(SPOILT[spoilt], "", made.text)
    assert count, "the emitter no longer prints this"
    try:
        logic = InOrder(TARGET.read(wrong, "x.sfc", program.machine), chart_logic(program.chart))
    except ReadBack:
        return
    assert parting(program.chart, logic, most=6000)
