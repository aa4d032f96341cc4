"""Drawings cut to pages: nothing lost, nothing twice, nothing too small to read, no symbol or rung cut apart."""

from __future__ import annotations

import re
import xml.etree.ElementTree as Xml

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from targets.choices import Paper
from targets.sheet_set.closed import closed
from targets.sheet_set.fold import SMALLEST_PT, Frame, fold
from targets.sheet_set.measured import measured
from targets.sheet_set.paper import _frames

STYLE = "text { font-size: 10px; fill: var(--quiet) } svg { --quiet: #555 } @media print { svg { --quiet: #000 } }"
UPRIGHT, ACROSS = Frame(500, 700, 650, across=False), Frame(700, 450, 400, across=True)


def drawn(width: float, height: float, inside: str) -> str:
    size = f'width="{width}" height="{height}" viewBox="0 0 {width} {height}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}><style>{STYLE}</style>{inside}</svg>'


@st.composite
def drawings(draw: st.DrawFn) -> tuple[str, int]:
    """Texts and symbols in rows far enough apart that a cut has room; how many texts there are."""
    rows = draw(st.integers(1, 60))
    width = draw(st.integers(200, 2500))
    places = [(draw(st.integers(0, max(0, width - 60))), 40 * k + 20) for k in range(rows)]
    inside = "".join(
        f'<g transform="translate({x} {y})"><text x="0" y="0">text{k}!</text><circle cx="4" cy="8" r="3"/></g>'
        for k, (x, y) in enumerate(places)
    )
    return drawn(width, 40 * rows + 20, f"{inside}<line x1='5' y1='0' x2='5' y2='{40 * rows}'/>"), rows


@settings(max_examples=40, deadline=None)
@given(drawings())
def test_every_text_stands_on_one_page_large_enough_to_read(made: tuple[str, int]) -> None:
    svg, texts = made
    folded = fold(svg, UPRIGHT, ACROSS)
    frame = ACROSS if folded.across else UPRIGHT
    said = [word for part in folded.parts for word in re.findall(r"text\d+!", part.svg)]
    assert sorted(said) == sorted(f"text{k}!" for k in range(texts))
    assert 10 * folded.scale >= SMALLEST_PT - 1e-9
    assert folded.scale <= 0.75
    for k, part in enumerate(folded.parts):
        assert part.width <= frame.width + 0.5
        assert part.height <= (frame.height if k else frame.first) + 0.5
        Xml.fromstring(part.svg)
        assert "var(" not in part.svg
        assert "@media" not in part.svg


@settings(max_examples=40, deadline=None)
@given(drawings())
def test_no_text_is_cut_through(made: tuple[str, int]) -> None:
    """In rows with room between them every cut finds it: no text reaches over the edge of the window it stands in."""
    for part in fold(made[0], UPRIGHT, ACROSS).parts:
        box = re.findall(r'viewBox="([-\d.]+) ([-\d.]+) ([-\d.]+) ([-\d.]+)"', part.svg)[1]
        left, top, wide, high = map(float, box)
        for x, y in re.findall(r'translate\((\d+) (\d+)\)"><text', part.svg):
            assert top <= float(y) - 8
            assert float(y) + 3 <= top + high
            assert left <= float(x) <= left + wide


def test_a_rung_is_never_parted_from_its_comment() -> None:
    """What a group with the id of a rung holds stays together, though the widest gap is inside it."""
    rungs = "".join(
        f'<g id="rung-{k}"><text x="10" y="{20 + 200 * k}">comment{k}</text>'
        f'<text x="10" y="{190 + 200 * k}">wire{k}</text></g>'
        for k in range(12)
    )
    folded = fold(drawn(600, 2420, rungs), UPRIGHT, ACROSS)
    assert len(folded.parts) > 1
    assert sum(part.svg.count("comment") for part in folded.parts) == 12
    for part in folded.parts:
        assert re.findall(r"comment(\d+)", part.svg) == re.findall(r"wire(\d+)", part.svg)


def rungs_and_block(heights: list[int]) -> str:
    """Notes, rungs of these heights, and a title block as wide as the sheet."""
    at, inside = 100, '<text x="10" y="40">notes</text>'
    for k, high in enumerate(heights):
        inside += f'<g id="rung-{k}" class="rung"><text x="10" y="{at + 20}">comment{k}</text>'
        inside += f'<circle cx="30" cy="{at + high - 20}" r="8"/></g>'
        at += high
    return drawn(
        900, at + 160, f'{inside}<text x="10" y="{at + 60}">machine</text><text x="9" y="{at + 140}">CAUTION</text>'
    )


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(60, 260), min_size=1, max_size=12))
def test_no_page_holds_notes_or_a_title_block_alone(heights: list[int]) -> None:
    """Every page shows a rung, and neither notes nor title block are cut from their neighbour."""
    parts = fold(rungs_and_block(heights), ACROSS).parts
    said = [re.findall(r"(comment\d+|notes|machine|CAUTION)", part.svg) for part in parts]
    rungs = [f"comment{k}" for k in range(len(heights))]
    assert [word for words in said for word in words] == ["notes", *rungs, "machine", "CAUTION"]
    assert all("comment" in " ".join(words) for words in said)


def test_empty_rails_below_the_last_rung_take_no_page() -> None:
    """What stands below them moves up and the rails end where it begins; nothing of it is lost, nor of the rungs."""
    rung = '<g id="rung-1"><line class="wire" x1="20" y1="90" x2="600" y2="90"/><text x="20" y="80">CR1</text></g>'
    rails = "".join(f'<line class="rail" x1="{x}" y1="40" x2="{x}" y2="1300"/>' for x in (20, 600))
    block = '<line class="link" x1="0" y1="1320" x2="640" y2="1320"/><text x="9" y="1340">machine</text>'
    (part,) = fold(drawn(640, 1400, rung + rails + block), UPRIGHT, ACROSS).parts
    assert part.height < 200
    assert re.findall("CR1|machine", part.svg) == ["CR1", "machine"]
    found = closed(measured(drawn(640, 1400, rung + rails + block)))
    bottoms = {thing.kind: thing.extent.bottom for thing in found.things if thing.extent and thing.tag == "line"}
    assert bottoms["wire"] == 90 < bottoms["rail"] < bottoms["link"] < found.height
    assert bottoms["link"] - bottoms["rail"] == 20
    assert closed(measured(drawn(640, 1400, rails + block))).height == 1400
    beside = '<rect class="frame" x="300" y="60" width="40" height="700"/>'
    assert closed(measured(drawn(640, 1400, rung + rails + beside + block))).height == 1400


def test_pages_of_one_drawing_are_about_as_full_as_each_other() -> None:
    """Ten rungs alike on two pages: five and five, not nine and one; under a heading the first holds fewer."""
    alike = drawn(
        600, 1400, "".join(f'<g id="rung-{k}"><text x="1" y="{80 + 130 * k}">r!</text></g>' for k in range(10))
    )
    even = fold(alike, Frame(700, 600, 600, across=True)).parts
    assert [part.svg.count("r!") for part in even] == [5, 5]
    headed = fold(alike, Frame(700, 600, 300, across=True)).parts
    first, second = (part.svg.count("r!") for part in headed)
    assert first < second


def test_a_drawing_takes_the_side_of_the_paper_on_which_it_is_larger() -> None:
    """Unless it is low enough to share an upright page, or about as large there."""
    a_text = '<text x="1" y="20">a</text>'
    assert not fold(drawn(800, 300, a_text), UPRIGHT, ACROSS).across
    assert fold(drawn(800, 530, a_text), UPRIGHT, ACROSS).across
    assert not fold(drawn(600, 580, a_text), UPRIGHT, ACROSS).across
    assert fold(drawn(600, 500, a_text), ACROSS, UPRIGHT).across


def test_a_page_on_which_nothing_would_be_is_left_out() -> None:
    """Of two columns and two rows one corner is empty."""
    corners = "".join(f'<text x="{x}" y="{y}">corner</text>' for x, y in ((20, 20), (1800, 20), (20, 1200)))
    parts = fold(drawn(2000, 1300, corners), UPRIGHT, ACROSS).parts
    assert [part.svg.count("corner") for part in parts] == [1, 1, 1]


def test_the_names_of_rows_stand_again_beside_what_is_carried_on() -> None:
    names = "".join(f'<text class="row" x="60" y="{30 * k + 20}" text-anchor="end">ROW{k}</text>' for k in range(4))
    wide = "".join(f'<text x="{k * 50 + 80}" y="10">{k}</text>' for k in range(40))
    folded = fold(drawn(2200, 140, names + wide), UPRIGHT, ACROSS)
    assert len(folded.parts) > 1
    for part in folded.parts:
        assert part.svg.count("ROW") == 4


@pytest.mark.parametrize("paper", Paper)
def test_a_drawing_that_fits_is_left_whole(paper: Paper) -> None:
    upright, across = _frames(paper)
    assert upright.height > upright.width
    assert across.width > across.height
    small = fold(drawn(600, 400, '<text x="1" y="20">a</text>'), upright, across)
    assert (len(small.parts), small.across, small.scale) == (1, False, 0.75)
    wide = fold(drawn(1024, 600, '<text x="1" y="20">a</text>'), upright, across)
    assert (len(wide.parts), wide.across) == (1, True)


def test_colours_are_written_out_and_groups_measured() -> None:
    found = measured(
        drawn(100, 100, '<g transform="translate(10 20)" id="rung-7"><rect x="1" y="2" width="3" height="4"/></g>')
    )
    (thing,) = found.things
    assert thing.extent is not None
    assert (thing.extent.left, thing.extent.top, thing.extent.right, thing.extent.bottom) == (11, 22, 14, 26)
    assert thing.within == ("rung-7",)
    assert "fill: #555" in found.style
    assert "id=" not in thing.markup
