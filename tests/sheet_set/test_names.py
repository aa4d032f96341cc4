"""Names that are markup, formulas, very long, or written from right to left stay text in every file of a build."""

from __future__ import annotations

import csv
import json
import re
import xml.etree.ElementTree as Xml
from io import StringIO
from pathlib import Path

import pytest
from vcdvcd import VCDVCD

from compiler.chart_logic import chart_logic
from compiler.checking.scenarios import usual_cycle
from compiler.simulation.simulate import simulate
from compiler.understand import understand
from grammar.source import Source
from targets.motion import as_vcd
from targets.target import Artefact
from tests.sheet_set.made import NASTY, page_of, papers_of
from tests.sheet_set.test_page import TELL, needs_browser, probed

SVG = "{http://www.w3.org/2000/svg}"
SHAPES = {
    "svg",
    "title",
    "desc",
    "style",
    "g",
    "line",
    "rect",
    "circle",
    "polyline",
    "polygon",
    "path",
    "text",
    "tspan",
}


@pytest.fixture(scope="module")
def artefacts() -> list[Artefact]:
    return [one.artefact for one in papers_of(NASTY).printed]


def of_kind(artefacts: list[Artefact], suffix: str) -> list[Artefact]:
    found = [one for one in artefacts if one.file.endswith(suffix)]
    assert found, suffix
    return found


def test_every_drawing_is_xml_of_shapes_and_words_alone(artefacts: list[Artefact]) -> None:
    """No element that runs, links or embeds, and no attribute that listens."""
    for drawing in of_kind(artefacts, ".svg"):
        for element in Xml.fromstring(drawing.text).iter():
            assert element.tag.removeprefix(SVG) in SHAPES, drawing.file
            assert not [name for name in element.attrib if name.startswith("on") or "href" in name], drawing.file


def test_the_title_is_in_the_drawings_as_written(artefacts: list[Artefact]) -> None:
    for drawing in of_kind(artefacts, ".svg"):
        said = " ".join(Xml.fromstring(drawing.text).itertext())
        assert "<script>alert(1)</script> & 'quotes'" in said, drawing.file


def test_no_cell_of_a_list_is_a_formula(artefacts: list[Artefact]) -> None:
    """RFC 4180; and no cell begins as spreadsheets take a formula to begin."""
    for listed in of_kind(artefacts, ".csv"):
        rows = list(csv.reader(StringIO(listed.text), strict=True))
        assert len({len(row) for row in rows}) == 1, listed.file
        assert not [cell for row in rows for cell in row if re.match(r"[=@\t\r]|[+-](?!\d+$)", cell)], listed.file


def test_every_program_and_circuit_is_read_back_the_same(artefacts: list[Artefact]) -> None:
    """Quotes and comment signs in names end no comment and no string early."""
    for one in papers_of(NASTY).printed:
        if one.artefact.implementation:
            assert one.unreadable is None, one.artefact.file
            assert one.verdict is not None
            assert one.sound(strict=False), one.artefact.file
    assert {Path(one.file).suffix for one in artefacts if one.implementation} >= {".st", ".sfc", ".rungs", ".json"}


def test_the_chart_file_has_the_title_as_written(artefacts: list[Artefact]) -> None:
    (chart,) = of_kind(artefacts, ".chart.json")
    assert understand(Source("x.seq", NASTY)).machine.title in json.dumps(json.loads(chart.text), ensure_ascii=False)


def test_a_value_change_dump_is_read_whole() -> None:
    """IEEE 1364: no name ends a section early, and every signal is there under a simple identifier."""
    understood = understand(Source("x.seq", NASTY))
    assert understood.chart is not None
    cycle = usual_cycle(understood.machine, understood.chart)
    dump = as_vcd(simulate(understood.machine, chart_logic(understood.chart), cycle))
    assert dump.isascii()
    read = VCDVCD(vcd_string=dump)
    names = [name.rsplit(".", 1)[1].split("[")[0] for name in read.signals]
    assert {"START", "SOL1", "LS1", "A_VERY_LONG_NAME_THAT_GOES_ON_AND_ON_XYZ"} <= set(names)
    assert all(re.fullmatch("[A-Za-z_][A-Za-z0-9_]*", name) for name in names)


def test_file_names_are_plain(artefacts: list[Artefact]) -> None:
    assert all(re.fullmatch(r"[a-z0-9][a-z0-9.-]{0,99}", one.file) for one in artefacts)


def test_names_stay_text_in_the_page() -> None:
    page = page_of(NASTY)
    assert not re.search(r"<(script|img src=x|b>&)", page)
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; &#39;quotes&#39; {{ braces }} <bdi>שלום</bdi> 😀" in page


def test_what_is_written_from_right_to_left_is_kept_apart() -> None:
    """Every name in such letters stands in an element of its own direction; none does that in an attribute."""
    page = page_of(NASTY).split("<body>")[1]
    body = re.sub("<svg.*?</svg>", "", page, flags=re.DOTALL)  # each text of a drawing is by itself
    assert re.search("<text[^<]*[\u0590-\u05ff]", page)
    for text in re.split(r"<bdi>[^<]*</bdi>|<[^>]*>", body):
        assert not re.search("[\u0590-\u05ff]", text)
    assert "<bdi>נורה</bdi>" in body
    assert not [tag for tag in re.findall(r"<[^>]*>", page) if "bdi" in tag and tag not in ("<bdi>", "</bdi>")]


@needs_browser
def test_nothing_in_it_runs(tmp_path: Path) -> None:
    """What would run says so by alert, before anything else of the page is read."""
    page = page_of(NASTY).replace("<head>", "<head><script>var ran = []; alert = m => ran.push(m)</script>", 1)
    script = TELL + (
        " addEventListener('load', () => setTimeout(() => tell([ran, document.scripts.length,"
        " [...document.querySelectorAll('*')].flatMap(e => e.getAttributeNames())"
        ".filter(name => name.startsWith('on')).length,"
        " [...new Set([...document.querySelectorAll('svg *')].map(e => e.tagName))],"
        " document.title]), 50))"
    )
    ran, scripts, listening, shapes, title = json.loads(probed(page, tmp_path, script, "--virtual-time-budget=2000"))
    assert (ran, scripts, listening) == ([], 2, 0)
    assert set(shapes) <= SHAPES - {"title", "desc", "style"}
    assert "<script>alert(1)</script>" in title
