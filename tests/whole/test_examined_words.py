"""What is proved of a sequence by itself, in words for whoever stands at the machine."""

from __future__ import annotations

from dataclasses import replace

import pytest

from compiler.chart_logic import chart_logic
from compiler.proof.cycle import CycleTime
from compiler.proof.examine import Examined
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing
from targets.proof_report import claim, examined_lines
from tests.whole.programs import example


def _lines(stem: str, *, cycle: CycleTime | None = None, away: tuple[str, ...] = ()) -> list[str]:
    """What is said of a sequence of which no more was found than this."""
    understood = example(stem)
    assert understood.chart is not None
    found = Examined(
        open=(), situations=1, chatters=(), both_on=(), unreached=(), unmet=(), stuck=(), away=away, cycle=cycle,
        stations=(), kept=(),
    )  # fmt: skip
    return [line for line, _ in examined_lines(found, understood.machine, understood.chart)]


@pytest.mark.parametrize(
    ("stem", "cycle", "told"),
    [
        ("log-winch", CycleTime(3_000_000, None), "at least 3 s, plus the waits for FAR, NEAR and GUARD"),
        ("seed-tray-lifter", CycleTime(2_000_000, None), "at least 2 s, plus the waits for TRAY and the operator"),
        ("weir-gate", CycleTime(18_000_000, None), "at least 18 s, plus the wait for FLOOD"),
        ("bung-press", CycleTime(7_000_000, None), "at least 7 s, plus what it waits for"),
        ("bung-press", CycleTime(7_000_000, 9_000_000), "7 s to 9 s, undisturbed"),
        ("bung-press", CycleTime(7_000_000, 7_000_000), "7 s exactly, undisturbed"),
    ],
)
def test_the_time_of_a_cycle_names_whom_it_waits_for(stem: str, cycle: CycleTime, told: str) -> None:
    assert f"a cycle takes {told}" in _lines(stem, cycle=cycle)


def test_a_time_that_is_not_exact_says_so() -> None:
    line = next(x for x in _lines("tile-press", cycle=CycleTime(1_000_000, 2_000_000, True)) if "cycle" in x)
    assert "(roughly: a stroke that stops, turns or changes speed midway" in line


def test_steps_that_stop_leaves_away_stand_in_order_and_rest_apart() -> None:
    told = _lines("log-winch", away=("H1", "S1", "S2", "S3", "S0", "S4"))
    assert "STOP alone may leave the machine away from home (in S1 to S4 and H1, and at rest in S0)" in told


def test_nothing_is_called_proved_of_a_search_that_was_given_up() -> None:
    press = example("bung-press")
    assert press.chart is not None
    logic = chart_logic(press.chart)
    settled = prove(logic, logic, press.machine)
    given_up = replace(settled, standing=Standing.NOT_SETTLED, anywhere=False)
    assert claim([given_up]).startswith("What is settled is proved over every run")
    assert claim([replace(settled, anywhere=False)]).startswith("Proved over every run")
