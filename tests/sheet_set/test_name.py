"""What the sheet set is called: ``index``, but never over the page of another machine."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner

from targets.command_line import main
from targets.papers import sheet_set_name
from tests.sheet_set.made import EXAMPLES, NASTY, page_of, sheets_of


def test_a_machine_knows_its_own_page_again(tmp_path: Path) -> None:
    """Whatever its name: it is the name that is compared, not how HTML writes it."""
    title = sheets_of(NASTY).title
    assert sheet_set_name(tmp_path, title) == "index"
    (tmp_path / "index.html").write_text(page_of(NASTY), encoding="utf-8")
    assert sheet_set_name(tmp_path, title) == "index"
    assert sheet_set_name(tmp_path, "Turn table") == "turn-table"
    assert sheet_set_name(tmp_path, "Index") == "index-sheet-set"


def test_a_page_that_is_none_of_ours_stays_and_it_is_said(tmp_path: Path) -> None:
    (tmp_path / "index.html").write_text("<p>mine", encoding="utf-8")
    asked = [str(EXAMPLES / "one-line.seq"), "-o", str(tmp_path), "--quick", "--arrangement", "on-delay"]
    made = CliRunner().invoke(main, ["build", *asked])
    assert made.exit_code == 0, made.output
    assert (tmp_path / "index.html").read_text(encoding="utf-8") == "<p>mine"
    assert "index.html in" in made.output
    name = sheets_of((EXAMPLES / "one-line.seq").read_text(encoding="utf-8")).title
    assert (tmp_path / f"{name.lower().replace(' ', '-')}.html").is_file()
