"""From words to structured text and back, where work goes on side by side: proved the same, and spoilt texts not."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from compiler.chart_logic import chart_logic
from compiler.proof.prove import prove
from compiler.understand import Understood, understand
from grammar.source import Source
from targets.build import Printed
from targets.structured_text import TARGET
from targets.target import Artefact, Options
from tests.structured_text.together import parting

PROGRAMS = sorted((Path(__file__).parent / "sequences").glob("*.seq"))


@cache
def program(stem: str) -> tuple[Understood, Artefact]:
    path = next(path for path in PROGRAMS if path.stem == stem)
    understood = understand(Source(path.name, path.read_text(encoding="utf-8")))
    assert understood.chart is not None
    (made,) = TARGET.emit(understood.machine, understood.chart, options=Options())
    assert isinstance(made, Artefact)
    return understood, made


def sound(stem: str, text: str) -> bool:
    """Whether a text is proved to be the same as its sequence, with nothing assumed."""
    understood, made = program(stem)
    assert understood.chart is not None
    logic = TARGET.read(text, made.file, understood.machine)
    proof = prove(chart_logic(understood.chart), logic, understood.machine)
    return Printed(made, proof=proof).sound(strict=True)


@pytest.mark.parametrize("path", PROGRAMS, ids=lambda path: path.stem)
def test_a_program_goes_the_same_way_as_what_is_printed_of_it(path: Path) -> None:
    understood, made = program(path.stem)
    assert understood.chart is not None
    assert not parting(understood.chart, TARGET.read(made.text, made.file, understood.machine), 4000)


@pytest.mark.parametrize("stem", ["clip-press", "hand-over"])
def test_a_program_is_proved_the_same(stem: str) -> None:
    assert sound(stem, program(stem)[1].text)


def test_one_line_with_repeats_and_an_interlock_keeps_one_step_number() -> None:
    text = program("nail-press")[1].text
    assert "CASE StepNo OF" in text
    assert "IF C1_count < 3 THEN C1_count := C1_count + 1; END_IF;" in text
    assert "SOL1A := SOL1A_commanded AND GUARD_made;" in text


def test_comments_name_stations_branches_and_routines() -> None:
    assert "(* Station LOADER: LOADER_S0 to LOADER_S6 *)" in program("hand-over")[1].text
    text = program("tray-line")[1].text
    for words in (
        "(* Branch 2 of 2, from T2 on *)",
        "extend STAMP until at-end, in TAP *)",
        "(* breaks off S5 to W2 *)",
    ):
        assert words in text


SPOILT = [
    ("clip-press", "lets the join wait for one branch", r"W1_active AND W2_active", "W1_active"),
    ("clip-press", "starts one branch", r"S3_active := T1_clears OR ", "S3_active := "),
    ("clip-press", "leaves a branch under way at STOP", r" S3_active := FALSE;", ""),
    ("clip-press", "prints a wrong limit", r"T#6s", "T#7s"),
    ("hand-over", "counts a pass too few", r"C1_count < 2\);", "C1_count < 1);"),
    ("hand-over", "takes the wrong step of the other station", r"AND LOADER_S3_active", "AND LOADER_S4_active"),
    ("hand-over", "leaves a station as it is at STOP", r" PRESS_S1_active := FALSE;", ""),
    ("hand-over", "forgets to clear a counter", r"PARTS_count := 0", "PARTS_count := PARTS_count"),
]


@pytest.mark.parametrize(("stem", "wrong", "pattern", "instead"), SPOILT, ids=[f"{s}: {w}" for s, w, _, _ in SPOILT])
def test_a_faulty_emitter_is_not_proved(stem: str, wrong: str, pattern: str, instead: str) -> None:
    text, count = re.subn(pattern, instead, program(stem)[1].text)
    assert count, f"the text no longer holds what would show that it {wrong}"
    assert not sound(stem, text)
