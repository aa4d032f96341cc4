"""Differences that a proof found, as drawings: one each, with both implementations, shaded where they differ."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from compiler.chart_logic import chart_logic
from compiler.proof.prove import prove
from targets.build import build_all
from targets.command_line import main
from targets.difference_papers import difference_artefacts, difference_drawings
from targets.drawing.figure import text_width
from targets.implementation import implementation
from targets.motion.page import SIZES
from targets.target import CAUTION, Options
from tests.motion.runs import EXAMPLES, program
from tests.motion.test_charts import clashes, words

_SVG = "{http://www.w3.org/2000/svg}"
_BUNG = next(p for p in EXAMPLES if p.stem == "bung-press")


@pytest.mark.parametrize("arrangement", ["one-shot", "off-delay"])
def test_every_difference_is_drawn_with_both_and_shaded_from_where_it_begins(arrangement: str) -> None:
    what = program(_BUNG.read_text(encoding="utf-8"))
    assert what.chart is not None
    sequence, rungs = chart_logic(what.chart), implementation(arrangement, what, Options()).logic
    proof = prove(sequence, rungs, what.machine)
    shown = [outside.run for outside in proof.outside if outside.run is not None]
    drawn = list(difference_drawings(proof, what.machine, sequence, rungs))
    assert len(drawn) == len(shown) > 0
    for run, (line, svg) in zip(shown, drawn, strict=True):
        root = ElementTree.fromstring(svg)
        assert clashes(root) == []
        said = " ".join(words(root))
        assert {sequence.name, rungs.name} <= set(words(root))
        assert line in said
        assert CAUTION in said
        begins = max(float(each.get("x", "")) for each in root.iter(f"{_SVG}text") if each.get("class") == "row") + 16
        for each in root.iter(f"{_SVG}text"):
            if each.get("class") == "group" and each.text in (sequence.name, rungs.name):  # clear of the grid
                assert float(each.get("x", "")) + text_width(each.text or "", size=SIZES["group"]) < begins
        assert run.difference is not None
        (first,) = (each for each in root.iter(f"{_SVG}line") if each.get("class") == "first")
        shades = [box for box in root.iter(f"{_SVG}rect") if box.get("class") == "differs"]
        assert min(float(box.get("x", "")) for box in shades) == float(first.get("x1", ""))
        hatching = [each for each in root.iter(f"{_SVG}line") if each.get("class") == "hatch"]
        assert len(hatching) >= len(shades)  # not by colour alone


def test_compare_writes_a_drawing_for_each_difference_and_over_no_file(tmp_path: Path) -> None:
    out = tmp_path / "differs.svg"
    asked = ["compare", str(_BUNG), "one-shot", "--brief", "-o", str(out)]
    assert CliRunner().invoke(main, asked).exit_code == 0
    written = sorted(path.name for path in tmp_path.iterdir())
    assert written == ["differs-1.svg", "differs-2.svg", "differs-3.svg", "differs-4.svg"]
    again = CliRunner().invoke(main, asked)
    assert (again.exit_code, "already there" in again.output) == (2, True)


def test_what_is_the_same_has_no_drawing(tmp_path: Path) -> None:
    out = tmp_path / "differs.svg"
    result = CliRunner().invoke(main, ["compare", str(_BUNG), str(_BUNG), "-o", str(out)])
    assert (result.exit_code, "no difference to draw" in result.output) == (0, True)
    assert not out.exists()
    wrong = CliRunner().invoke(main, ["compare", str(_BUNG), "one-shot", "-o", str(tmp_path / "a.png")])
    assert (wrong.exit_code, "should end in .svg" in wrong.output) == (2, True)


def test_a_build_has_a_file_for_each_difference() -> None:
    what = program(next(p for p in EXAMPLES if p.stem == "crate-stamp").read_text(encoding="utf-8"))
    built = build_all(what, Options())
    assert built is not None
    found = [o for one in built.printed if one.proof is not None for o in one.proof.outside if o.run is not None]
    files = [artefact.file for artefact in difference_artefacts(what, built)]
    assert len(files) == len(set(files)) == len(found) > 0
    assert all(file.endswith(".svg") for file in files)
