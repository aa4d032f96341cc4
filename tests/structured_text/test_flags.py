"""Charts that do several things at once, printed with a flag for each step and read back."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.machine import Machine
from targets import structured_text
from targets.structured_text import TARGET
from tests.strategies_chart import Moment, histories, machines, wide_charts
from tests.structured_text.drill import CHART, MACHINE
from tests.structured_text.nets import nets
from tests.structured_text.test_same_as_chart import first_difference, printed
from tests.structured_text.together import parting, visited

SLOW = [HealthCheck.filter_too_much, HealthCheck.too_slow, HealthCheck.data_too_large]
TEXT = printed(MACHINE, CHART).text


@settings(max_examples=12, deadline=None, suppress_health_check=SLOW)
@given(machine=machines(), chart=nets())
def test_any_chart_goes_the_same_way_as_what_is_printed_of_it(machine: Machine, chart: Chart) -> None:
    text = printed(machine, chart).text
    note(text)
    assert not parting(chart, TARGET.read(text, "x.st", machine), 250)


@settings(max_examples=12, deadline=None, suppress_health_check=SLOW)
@given(machine=machines(), chart=wide_charts(depth=1), tried=st.lists(histories(), min_size=1, max_size=2))
def test_any_chart_as_lowering_makes_them_is_the_same(
    machine: Machine, chart: Chart, tried: list[list[Moment]]
) -> None:
    text = printed(machine, chart).text
    note(text)
    logic = TARGET.read(text, "x.st", machine)
    assert [first_difference(chart_logic(chart), logic, moments) for moments in tried] == [None] * len(tried)
    assert not parting(chart, logic, 250)


@settings(max_examples=12, deadline=None, suppress_health_check=SLOW)
@given(machine=machines(), chart=nets(parallel=False))
def test_repeats_choices_and_counters_in_one_line_keep_one_step_number(machine: Machine, chart: Chart) -> None:
    text = printed(machine, chart).text
    note(text)
    assert "CASE StepNo OF" in text
    assert not parting(chart, TARGET.read(text, "x.st", machine), 250)


def test_the_drill_goes_the_same_way_and_every_step_of_it_is_seen() -> None:
    logic = TARGET.read(TEXT, "x.st", MACHINE)
    assert not parting(CHART, logic)
    assert visited(CHART, logic) == {step.name for step in CHART.steps}


def test_the_block_reads_as_agreed() -> None:
    lines = TEXT.split("\n")
    for line in (
        "    S0_active : BOOL := TRUE;",
        "    PASSES_count : INT;  (* counter PASSES *)",
        "S4_after_10s(IN := S4_active, PT := T#10s);",
        "(* The cycle: S0 to F3 *)",
        "Aborted_1 := TF1_clears OR TF2_clears OR TF3_clears;  (* breaks off S1 to S5 *)",
        "T2_clears := S1_active AND LS1_made AND NOT Aborted_1;"
        "  (* S1 to S2 and S4, in parallel: extend CLAMP until at-end *)",
        "(* Branch 1 of 2, from T2 on *)",
        "(* Branch 2 of 2, from T2 on *)",
        "T7_clears := W1_active AND W2_active AND NOT Aborted_1;  (* W1 and W2 to S5 *)",
        "(* Remembered for others: M0 to M1 *)",
        "    W2_active := T6_clears OR (W2_active AND NOT (T7_clears OR Aborted_1));"
        "  (* W2: waits for the other branches *)",
        "    PASSES_count := PASSES_count + 1;",
        "SOL4_commanded := S4_active;",
        "SOL4 := SOL4_commanded AND NOT SOL2B_commanded;  (* never SOL2B with SOL4 *)",
    ):
        assert line in lines, line


def test_the_readme_shows_lines_that_are_printed() -> None:
    readme = (Path(structured_text.__file__).parent / "README.md").read_text(encoding="utf-8")
    shown = [line.strip() for line in readme.split("\n") if line.startswith("    ") and "_active" in line]
    assert len(shown) == 2
    assert set(shown) <= {line.strip() for line in TEXT.split("\n")}


def test_lines_tell_the_words_they_came_from() -> None:
    made = printed(MACHINE, CHART)
    lines = made.text.split("\n")
    told = {lines[number - 1].split(" := ")[0].strip(): words for number, words in made.lines.items()}
    assert told["T8_clears"] == "retract CLAMP until at-home"
    assert told["S2_active"] == "extend DRILL until at-end"
    assert told["SOL1"] == "SOL1 only while GUARD is made"
    assert told["IF STOP_pressed THEN  (* when STOP is pressed, drop out everything *)"] == (
        "when STOP is pressed, drop out everything"
    )


def test_names_of_devices_that_the_block_would_use_itself_stay_theirs() -> None:
    """The block's own names give way."""
    named = ("S1_active", "SOL1_commanded", "T2_clears", "Passes_Count", "aborted_1")
    theirs = dict(zip(("LS1", "LS2", "LS3", "LS4", "LS5"), named, strict=True))
    text = CHART.model_dump_json()
    machine = MACHINE.model_dump_json()
    for old, new in theirs.items():
        text, machine = text.replace(f'"{old}"', f'"{new}"'), machine.replace(f'"{old}"', f'"{new}"')
    chart, renamed = Chart.model_validate_json(text), Machine.model_validate_json(machine)
    made = printed(renamed, chart).text
    for name in theirs.values():
        assert f"    {name} : BOOL;  (* limit switch" in made
        assert f"    {name}_2 : ".casefold() in made.casefold()
    assert not parting(chart, TARGET.read(made, "x.st", renamed), 1000)


BROKEN = {
    "a join does not wait for the other branch": (r"W1_active AND W2_active", "W1_active"),
    "a fork forgets a branch": (r"S4_active := T2_clears OR ", "S4_active := "),
    "a step is not left": (r"NOT \(T3_clears OR Aborted_1\)", "NOT Aborted_1"),
    "a step is left and never entered": (r"W2_active := T6_clears OR \(", "W2_active := ("),
    "a fault breaks off one branch only": (r"NOT \(T6_clears OR Aborted_1\)", "NOT T6_clears"),
    "what is broken off goes on": (r"(T3_clears := .*?) AND NOT Aborted_1", r"\1"),
    "two faults are shown at once": (r"(TF3_clears := .*?) AND NOT \(TF1_clears OR TF2_clears\)", r"\1"),
    "a fault is forgotten": (r"Aborted_1 := TF1_clears OR ", "Aborted_1 := "),
    "a transition looks at what the scan has changed": (
        r"AND NOT S0_active;",
        "AND NOT (S0_active AND NOT T1_clears);",
    ),
    "the step at the beginning is not active": (r"M0_active : BOOL := TRUE", "M0_active : BOOL"),
    "STOP forgets a step": (r" S4_active := FALSE;", ""),
    "STOP leaves a lamp on": (r" BUSY_stored := FALSE;(?=\s+ELSE)", ""),
    "a lamp is set as a step is left": (r"IF S1_active AND NOT S1_was_active", "IF S1_was_active AND NOT S1_active"),
    "a lamp is not reset": (r"IF S5_active AND NOT S5_was_active THEN BUSY_stored := FALSE", "IF FALSE THEN ;"),
    "a pass is counted in every scan": (r"\(S2_active AND NOT S2_was_active\)", "S2_active"),
    "a pass too few": (r"PASSES_count < 3\) AND NOT", "PASSES_count < 2) AND NOT"),
    "a counter stops too soon": (r"\(PASSES_count < 3\) THEN", "(PASSES_count < 2) THEN"),
    "a counter is not cleared": (r"PASSES_count := 0", "PASSES_count := PASSES_count"),
    "an interlock is forgotten": (r"SOL1_commanded AND GUARD_made", "SOL1_commanded"),
    "of two that exclude each other one comes on": (r"AND NOT SOL2B_commanded", "AND NOT SOL2B"),
    "a time runs in another step": (r"IN := S4_active", "IN := S2_active"),
    "an edge is a level": (r"FINISH_rose AND", "FINISH_pressed AND"),
}  # fmt: skip


# Seconds to wait, then the inputs that are actuated from there on, the guard closed unless it says no GUARD.
ONE_CYCLE = [(1, on) for on in ("LS1", "LS3", "LS4", "LS3", "LS4", "LS3", "LS4", "", "LS5", "")]
SCRIPTS: dict[str, list[tuple[float, str]]] = {
    "two cycles": [(0, "LS2"), (1, "LS2 START"), *ONE_CYCLE, (1, "LS2 START"), *ONE_CYCLE, (1, "LS2"), (9, "LS2")],
    "FINISH in the first": [
        (0, "LS2"), (1, "LS2 START"), (1, "START"), (1, "START FINISH"), *((s, f"{on} START") for s, on in ONE_CYCLE),
        (1, "LS2 START"), (9, "START"), (1, "START LS1"),
    ],
    "FINISH held from the beginning": [
        (0, "LS2 FINISH"), (1, "LS2 START FINISH"), *((s, f"{on} START FINISH") for s, on in ONE_CYCLE),
        (1, "LS2 START"), (9, "START LS1"),
    ],
    "FINISH with START": [
        (0, "LS2"), (1, "LS2 START FINISH"), *((s, f"{on} START") for s, on in ONE_CYCLE),
        (1, "LS2 START"), (9, "START LS1"),
    ],
    "the switch comes with the fault": [(0, "LS2"), (1, "LS2 START"), (1, "LS1"), (10, "LS3"), (9, "")],
    "two faults at once": [(0, "LS2"), (1, "LS2 START"), (1, "LS1"), (11, ""), (1, "STOP"), (1, "")],
    "STOP in parallel work": [(0, "LS2"), (1, "LS2 START"), (1, "LS1"), (1, "STOP"), (1, ""), (11, "")],
    "the stamp is late": [(0, "LS2"), (1, "LS2 START"), (1, "LS1"), (1, "LS3"), (12, "")],
    "the guard is opened": [(0, "LS2"), (1, "LS2 START"), (1, "no GUARD"), (1, "LS1 no GUARD"), (1, "")],
}  # fmt: skip


def _actuated(on: str) -> tuple[bool, ...]:
    return tuple((name in on) != (name == "GUARD") for name in CHART.inputs)


HISTORIES = [[Moment(round(pause * 1_000_000), _actuated(on)) for pause, on in script] for script in SCRIPTS.values()]


def differing(text: str) -> list[int]:
    """The histories in which a text is not the same as the drill's chart."""
    logic = TARGET.read(text, "x.st", MACHINE)
    return [k for k, h in enumerate(HISTORIES) if first_difference(chart_logic(CHART), logic, h) is not None]


@pytest.mark.parametrize("broken", BROKEN)
def test_a_broken_emitter_is_caught(broken: str) -> None:
    """A few minutes of nothing clever show each of them."""
    pattern, instead = BROKEN[broken]
    wrong, count = re.subn(pattern, instead, TEXT)
    assert count, "the emitter no longer prints this"
    assert differing(wrong)
    assert not differing(TEXT)
