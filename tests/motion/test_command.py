"""Every run a user wants is to be had by the command, on the terminal and as a file."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from vcdvcd import VCDVCD

from targets.command_line import main
from targets.target import CAUTION
from tests.motion.runs import EXAMPLES

_FOLDER = EXAMPLES[0].parent
_BUNG = _FOLDER / "bung-press.seq"


def chart(*asked: str, code: int = 0) -> str:
    result = CliRunner().invoke(main, ["chart", str(_BUNG), *asked])
    assert result.exit_code == code, result.output
    return " ".join(result.output.split())


@pytest.mark.parametrize(
    ("words", "run"),
    [
        ("STOP in step S2", "STOP in step S2, then started again"),
        ("stop s3", "STOP in step S3, then started again"),
        ("held START", "START held into step S1, then let go"),
        ("held throughout", "START held throughout"),
        ("lost supply", "supply lost in step S1"),
        ("jams", "RAM jams and stays"),
        ("one cycle", "one cycle"),
    ],
)
def test_a_run_is_found_by_words_of_its_name(words: str, run: str) -> None:
    assert f"Barrel bung press: {run}" in chart("--run", words, "--arrangement", "on-delay")


def test_a_run_that_is_not_there_is_refused_with_those_that_are() -> None:
    said = chart("--run", "moonlight", code=2)
    assert 'no run is called "moonlight"' in said
    assert "STOP in step S1" in said
    assert "supply lost" in said
    assert "--runs lists" in said
    assert "START held throughout" in chart("--runs")


@pytest.mark.parametrize("arrangement", ["on-delay", "one-shot", "step-chain"])
def test_the_difference_of_an_arrangement_is_a_run_as_well(arrangement: str, tmp_path: Path) -> None:
    said = chart("--arrangement", arrangement, "--run", "difference")
    assert "▲ they differ: SOL1" in said
    out = tmp_path / "d.svg"
    chart("--arrangement", arrangement, "--run", "difference", "-o", str(out))
    assert ">differs: SOL1<" in out.read_text(encoding="utf-8")


def test_a_difference_that_is_not_there_is_refused() -> None:
    assert "Name an --arrangement" in chart("--run", "difference", code=2)
    assert "and no difference 9" in chart("--run", "difference 9", "--arrangement", "one-shot", code=2)
    assert "differences are counted" in chart("--run", "difference two", "--arrangement", "one-shot", code=2)
    same = chart("--run", "difference", "--arrangement", str(_BUNG), code=2)
    assert "no difference of bung-press.seq from the sequence as written" in same


def test_a_circuit_that_was_typed_drives_a_run() -> None:
    typed = str(_FOLDER / "by-hand" / "bung-press-drawing.rungs")
    assert "CR1" in chart("--arrangement", typed)
    simulated = CliRunner().invoke(main, ["simulate", str(_BUNG), "--arrangement", typed])
    assert simulated.exit_code == 0
    assert "(bung-press-drawing.rungs)" in simulated.output


def test_a_run_that_a_typed_circuit_drove_is_replayed_with_it(tmp_path: Path) -> None:
    typed, kept = str(_FOLDER / "by-hand" / "bung-press-drawing.rungs"), str(tmp_path / "run.json")
    run = ["simulate", str(_BUNG)]
    saved = CliRunner().invoke(main, [*run, "--arrangement", typed, "--save", kept])
    again = CliRunner().invoke(main, [*run, "--arrangement", typed, "--replay", kept])
    assert (again.exit_code, again.output) == (0, saved.output)
    alone = CliRunner().invoke(main, [*run, "--replay", kept])
    assert (alone.exit_code, "name that as --arrangement" in " ".join(alone.output.split())) == (2, True)


def test_chosen_rods_and_signals_are_all_that_any_output_holds(tmp_path: Path) -> None:
    drill = str(_FOLDER / "bead-drill.seq")
    asked = ["chart", drill, "--signal", "QUILL", "--signal", "Y2", "--signal", "C1"]
    for kind in ("motion-step", "motion-time"):
        said = CliRunner().invoke(main, [*asked, "--kind", kind]).output
        assert "QUILL" in said
        assert "LS3" in said  # its switch
        assert "VICE" not in said
        assert "SPINDLE" not in said
    table = tmp_path / "a.csv"
    assert CliRunner().invoke(main, [*asked, "-o", str(table)]).exit_code == 0
    assert table.read_text(encoding="utf-8").splitlines()[0] == "time in s,Y2,C1,QUILL in mm"
    waves = tmp_path / "a.vcd"
    assert CliRunner().invoke(main, [*asked, "-o", str(waves)]).exit_code == 0
    names = {name.split(".")[-1].split("[")[0] for name in VCDVCD(str(waves)).references_to_ids}
    assert names == {"QUILL", "Y2", "C1"}
    drawn = tmp_path / "a.svg"
    assert CliRunner().invoke(main, [*asked, "-o", str(drawn)]).exit_code == 0
    svg = drawn.read_text(encoding="utf-8")
    assert all(f">{name}</text>" in svg for name in ("QUILL", "Y2", "C1"))
    assert ">VICE</text>" not in svg
    none = CliRunner().invoke(main, [*asked[:2], "--signal", "Y2", "--kind", "motion-step"])
    assert (none.exit_code, "name one of them as --signal" in none.output) == (2, True)


def test_a_waveform_file_carries_the_caution_and_a_table_is_pure_data(tmp_path: Path) -> None:
    waves, table = tmp_path / "a.vcd", tmp_path / "a.csv"
    chart("-o", str(waves))
    chart("-o", str(table))
    head, _ = waves.read_text(encoding="utf-8").split("$end", 1)
    assert head.startswith("$comment")
    assert CAUTION in head
    assert "aution" not in table.read_text(encoding="utf-8")
