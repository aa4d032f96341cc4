"""Each sentence leads to its rung and its moment, on the sheets and the chart as drawn, by the number it says."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from _pytest.mark.structures import ParameterSet
from click.testing import CliRunner

from compiler.checking.scenarios import usual_cycle
from compiler.simulation.simulate import simulate
from compiler.understand import Understood, understand
from grammar.rungs.read import read
from grammar.source import Source
from targets.build import emit_all, read_back
from targets.choices import Style
from targets.command_line import main
from targets.ladder_sheet import Heading, ladder_sheets
from targets.motion import timing_chart
from targets.target import Artefact, Options
from targets.walkthrough import Told, as_html, as_markdown, walk_through
from targets.wiring.nets import wired
from tests.whole.programs import EXAMPLES

_LARGE = EXAMPLES[0].parent / "large" / "tray-transfer.seq"
_CHAINS = ("step-chain", "one-hot")
_ID = re.compile(r' id="([^"]+)"')
_HTML_LINK = re.compile(r'<a href="#([^"]+)">(?:<b>)?([^<]+)')
_MARKDOWN_LINK = re.compile(r"\[([^\[\]]+)\]\(([^()]*)\)")


def _programs() -> list[Path]:
    return [*EXAMPLES, _LARGE]


@dataclass(frozen=True)
class _Drawn:
    """What a link may lead to, and what the walk-through says."""

    told: Told
    rungs: set[str]
    moments: set[str]


def _drawn(program: Understood, artefact: Artefact) -> _Drawn:
    assert program.chart is not None
    machine, chart = program.machine, program.chart
    logic = read_back(artefact, machine)
    told = walk_through(machine, chart, logic)
    at = {p.at_us for section in told.sections for p in section.passages if p.at_us is not None}
    run = simulate(machine, logic, usual_cycle(machine, chart), after_us=2_000_000)
    svg = timing_chart(run, machine, chart=chart, told=at)
    tree = read(Source(artefact.file, artefact.text)).tree
    sheets = ladder_sheets(wired(tree), Heading("x", "y", "z", "0"), style=Style.IEC, held=frozenset())
    return _Drawn(told, {name for sheet in sheets for name in _ID.findall(sheet)}, set(_ID.findall(svg)))


def _understood(path: Path) -> Understood:
    return understand(Source(path.name, path.read_text(encoding="utf-8")))


def _circuits(program: Understood, part: str = "") -> list[Artefact]:
    """Those of one arrangement, or with ``other`` of all that are no chain."""
    only = (part,) if part in _CHAINS else ()
    made, _ = emit_all(program, Options(arrangements=only))
    circuits = [a for a in made if a.implementation and a.file.endswith(".rungs")]
    if part != "other":
        return [a for a in circuits if part in a.file]
    return [a for a in circuits if not any(chain in a.file for chain in _CHAINS)]


def _each() -> Iterator[ParameterSet]:
    """Every example with each arrangement; of the largest only one, or in a campaign."""
    for path in _programs():
        for part in (*_CHAINS, "other"):
            long = [pytest.mark.campaign] if path == _LARGE and part != _CHAINS[0] else []
            yield pytest.param(path, part, id=f"{path.stem}-{part}", marks=long)


@pytest.mark.parametrize(("path", "part"), list(_each()))
def test_every_link_leads_to_what_its_words_say(path: Path, part: str) -> None:
    program = _understood(path)
    circuits = _circuits(program, part)
    assert circuits or part == "other"
    for artefact in circuits:
        drawn = _drawn(program, artefact)
        _calls_steps_by_their_words(drawn.told, program)
        html = as_html(drawn.told, rungs=False, moments=False)
        assert not _ID.findall(html)
        for target, words in _HTML_LINK.findall(html):
            _leads(drawn, words, target)
        markdown = as_markdown(drawn.told, chart="x.timing.svg")
        own = set(re.findall(r'<a id="([^"]+)"', markdown))
        links = _MARKDOWN_LINK.findall(markdown)
        assert len(links) == len(_HTML_LINK.findall(html))
        for words, target in links:
            file, _, name = target.partition("#")
            assert name in own
            assert (file == "x.timing.svg") is name.startswith("moment-")
            _leads(drawn, words, name)


def _leads(drawn: _Drawn, words: str, name: str) -> None:
    """To a rung of that number, or a moment of that time; phases and ways to the moment of the cycle they go with."""
    rung = re.fullmatch(r"rung-(\d+)", name)
    if rung is not None:
        assert name in drawn.rungs
        assert words.removeprefix("rung ").removeprefix("Rung ") == rung[1]
        return
    assert name in drawn.moments
    number, unit = re.fullmatch(r"moment-(\d+)(ms|us)", name).groups()  # type: ignore[union-attr]
    if re.fullmatch(r"[\d.]+ s", words):
        seconds = int(number) / (1_000 if unit == "ms" else 1_000_000)
        assert abs(seconds - float(words.removesuffix(" s"))) < 0.0006
    else:
        assert words.startswith(("In ", "Back in the cycle"))


@pytest.mark.parametrize("path", _programs(), ids=lambda path: path.stem)
def test_steps_are_called_by_the_words_of_the_sequence(path: Path) -> None:
    program = _understood(path)
    assert program.chart is not None
    _calls_steps_by_their_words(walk_through(program.machine, program.chart), program)


def _calls_steps_by_their_words(told: Told, program: Understood) -> None:
    """The name of a step stands in brackets behind its words, as it does in the GRAFCET, and nowhere else."""
    assert program.chart is not None
    names = "|".join(re.escape(step.name) for step in program.chart.steps)
    bare = re.compile(rf"(?<![\w(])(?:{names})\b(?!\w)")
    for section in told.sections:
        for said in (section.title, section.opening, *(t.text for p in section.passages for t in p.sentences)):
            assert not bare.search(re.sub(r"\([^()“”]*\)", "()", said)), said


def test_the_page_of_its_own_holds_the_chart(tmp_path: Path) -> None:
    """A moment leads into the chart, a rung to where it is written out; and nothing is there twice."""
    out = tmp_path / "told.html"
    press = EXAMPLES[0].parent / "bung-press.seq"
    done = CliRunner().invoke(main, ["tell", str(press), "--arrangement", "on-delay", "-o", str(out)])
    assert done.exit_code == 0, done.output
    page = out.read_text(encoding="utf-8")
    before, svg = page.split("<svg", 1)
    ids = _ID.findall(page)
    assert len(ids) == len(set(ids))
    targets = {target for target, _ in _HTML_LINK.findall(page)}
    assert len(targets) > 5
    for target in targets:
        assert (f' id="{target}"' in svg) is ("moment" in target)
        assert (f' id="{target}"' in before) is ("rung" in target)


def test_names_from_right_to_left_stand_by_themselves_on_that_page(tmp_path: Path) -> None:
    program = tmp_path / "press.seq"
    text = (EXAMPLES[0].parent / "bung-press.seq").read_text(encoding="utf-8")
    program.write_text(text.replace("RAM", "בוכנה"), encoding="utf-8")
    out = tmp_path / "told.html"
    done = CliRunner().invoke(main, ["tell", str(program), "-o", str(out)])
    assert done.exit_code == 0, done.output
    page = out.read_text(encoding="utf-8")
    outside = re.sub(r"<svg.*?</svg>|<title>.*?</title>", "", page, flags=re.DOTALL)
    assert outside.count("<bdi>בוכנה</bdi>") == outside.count("בוכנה") > 3


def test_a_machine_without_a_title_is_called_as_on_its_sheets() -> None:
    program = _understood(EXAMPLES[0].parent / "one-line.seq")
    assert program.chart is not None
    told = walk_through(program.machine, program.chart)
    assert as_markdown(told).startswith("# Sequence: walk-through of ")


def test_a_note_stands_above_what_is_told() -> None:
    program = _understood(EXAMPLES[0].parent / "one-line.seq")
    assert program.chart is not None
    noted = as_markdown(walk_through(program.machine, program.chart), note="Call CR1 -K1.")
    assert noted.splitlines()[2] == "Call CR1 -K1."
