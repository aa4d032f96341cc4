"""The files of a build, read by what other people read such files with."""

from __future__ import annotations

import csv
from pathlib import Path

import pandas
import pytest
from click.testing import CliRunner
from lxml import etree

from targets.command_line import main
from tests.whole.readme import ROOT


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("built")
    built = CliRunner().invoke(main, ["build", str(ROOT / "examples/bung-press.seq"), "-o", str(made), "--quick"])
    assert built.exit_code == 0, built.output
    return made


def test_every_drawing_is_xml_and_svg(folder: Path) -> None:
    """XML 1.0 by libxml2, which mends nothing unless told to; the root is that of SVG (W3C)."""
    drawings = list(folder.glob("*.svg"))
    assert {"grafcet", "motion-step", "motion-time", "timing"} <= {path.stem.split(".")[-1] for path in drawings}
    for path in drawings:
        assert etree.parse(path).getroot().tag == "{http://www.w3.org/2000/svg}svg", path.name


def test_every_list_is_read_the_same_by_a_table_library(folder: Path) -> None:
    """RFC 4180: Python's own reader and that of pandas find the same header and the same cells."""
    lists = list(folder.glob("*.csv"))
    assert lists
    for path in lists:
        with path.open(encoding="utf-8", newline="") as opened:
            header, *rows = csv.reader(opened)
        table = pandas.read_csv(path, dtype=str, keep_default_na=False)
        assert list(table.columns) == header, path.name
        assert table.to_numpy().tolist() == rows, path.name


def test_every_circuit_is_told_and_drawn_in_files_of_its_own(folder: Path) -> None:
    for rungs in folder.glob("*.rungs"):
        told = rungs.with_suffix(".walk-through.md").read_text(encoding="utf-8")
        assert "not a safety function" in told
        assert rungs.with_suffix(".timing.svg").exists()
