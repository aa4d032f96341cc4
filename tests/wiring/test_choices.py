"""What the user chooses on the command line is what the papers show."""

from __future__ import annotations

import csv
import io
import re

import pytest
from click.testing import CliRunner

from compiler.understand import Understood, understand
from grammar.source import Source
from targets.build import Built, Printed, emit_all
from targets.choices import Letters, Standard, Style, Supply
from targets.circuit_papers import CircuitPapers, circuit_papers
from targets.command_line import main
from targets.target import Options
from targets.wiring.lists import as_csv

_PROGRAM = "extend until at-end, hold 2 s, retract"
_USUAL = Options(arrangements=("on-delay",))
_CHOSEN = Options(
    arrangements=("on-delay",),
    symbols=Style.NORTH_AMERICAN,
    colours=Standard.NFPA,
    supply=Supply.AC,
    letters=Letters.JIC,
)
_BOTH = pytest.mark.parametrize("options", [_USUAL, _CHOSEN], ids=["usual", "chosen"])


@_BOTH
def test_the_command_line_passes_every_choice_on(options: Options, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Options] = []

    def build(understood: Understood, options: Options, **_: object) -> None:
        asked.append(options)

    monkeypatch.setattr("targets.build.build_all", build)
    chosen = ["--symbols", "nema", "--colours", "nfpa", "--control", "ac", "--letters", "jic"]
    words = ["build", "--text", _PROGRAM, "--arrangement", "on-delay", *(chosen if options is _CHOSEN else [])]
    CliRunner().invoke(main, words)
    assert asked == [options]


def papers(options: Options) -> CircuitPapers:
    understood = understand(Source("x.seq", _PROGRAM))
    artefacts, _ = emit_all(understood, options)
    printed = tuple(Printed(artefact) for artefact in artefacts if artefact.file.endswith(".rungs"))
    (made,) = circuit_papers(Built(printed, ()), understood.machine, options)
    return made


def column(made: CircuitPapers, key: str, head: str) -> list[str]:
    text = as_csv(next(sheet for sheet in made.lists if sheet.key == key))
    heads, *rows = csv.reader(io.StringIO(text, newline=""))
    return [row[heads.index(head)] for row in rows if any(row[1:])]


@_BOTH
def test_colours_follow_the_standard_and_the_supply(options: Options) -> None:
    """NFPA 79 13.2: ac control red, grounded ac white. IEC 60204-1 13.2.4 (from memory): dc control blue."""
    made, chosen = papers(options), options is _CHOSEN
    colours = dict(zip(column(made, "wires", "wire"), column(made, "wires", "colour"), strict=True))
    assert colours["3"] == ("red" if chosen else "blue")
    assert colours["2"] == ("white" if chosen else "blue (not fixed)")
    assert ("coil 120 V ac" if chosen else "coil 24 V dc") in " ".join(column(made, "parts", "what"))


@_BOTH
def test_letters_are_in_every_list_and_on_the_sheets(options: Options) -> None:
    made = papers(options)
    relay, valve = ("1CR", "1SOL") if options is _CHOSEN else ("CR1", "SOL1")
    for sheets in made.sheets.values():
        assert f">{relay}</text>" in sheets[0]
    assert {relay, valve} <= set(column(made, "devices", "designation"))
    assert {relay, valve} <= {*column(made, "wires", "from"), *column(made, "wires", "to")}
    assert {relay, valve} <= set(column(made, "parts", "which"))
    assert any(f"{relay}:" in cell for cell in column(made, "strip", "panel side"))
    assert made.unlike == ()


@_BOTH
def test_where_papers_and_program_meet_it_is_told_which_device_is_which(options: Options) -> None:
    """The walk-through and the rung list speak of CR1 and START whatever the letters are."""
    made = papers(options)
    told = "call the devices of the program by other letters: LS1 is 1LS, START is 1PB, STOP is 2PB,"
    assert (told in made.called and "CR1 is 1CR" in made.called) == (options is _CHOSEN)
    assert bool(made.called) == (options is _CHOSEN)
    for sheets in made.sheets.values():
        texts = " ".join(re.findall(r"<text[^>]*>([^<]*)</text>", sheets[0]))
        assert (told in texts) == (options is _CHOSEN)


def test_the_revision_is_a_mark_of_the_rung_list() -> None:
    """The same rungs under other letters have the same one."""

    def mark(sheet: str) -> str:
        (found,) = re.findall(r">revision</text>\s*<text[^>]*>([0-9a-f]{4} [0-9a-f]{4})<", sheet)
        return str(found)

    (same,) = {mark(papers(_USUAL).sheets[style][0]) for style in Style}
    assert mark(papers(_CHOSEN).sheets[Style.IEC][0]) == same


def test_the_title_block_tells_what_was_found_of_its_own_circuit(monkeypatch: pytest.MonkeyPatch) -> None:
    """And what the machine is called, also where it has no name."""
    monkeypatch.setattr(Printed, "headline", property(lambda self: f"told of {self.artefact.name}"))
    understood = understand(Source("x.seq", _PROGRAM))
    options = Options(arrangements=("on-delay", "off-delay"))
    artefacts, _ = emit_all(understood, options)
    printed = tuple(Printed(artefact) for artefact in artefacts if artefact.file.endswith(".rungs"))
    made = [*circuit_papers(Built(printed, ()), understood.machine, options)]
    assert len(made) == 2
    for one in made:
        for drawn in one.sheets.values():
            said = re.findall(r"<text[^>]*>([^<]*)</text>", drawn[0])
            assert [text for text in said if text.startswith("told of")] == [f"told of {one.artefact.name}"]
            assert "Sequence" in said
            assert re.search(r'aria-label="Sequence: ', drawn[0])
