"""Arrows of one moment are drawn side by side: each can be followed from its dot to all that it points at."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from targets.drawing.figure import Bent, Circle, Line
from targets.motion import timing_chart
from targets.motion.arrows import Anchor, Flight, flown
from tests.motion.runs import EXAMPLES, example

_LARGE = EXAMPLES[0].parent / "large" / "tray-transfer.seq"
_SVG = "{http://www.w3.org/2000/svg}"

Upright = tuple[float, float, float, float]
"""Where an upright line stands, its top, its bottom, and where it sets out."""


def upon_one_another(lines: list[Upright]) -> list[tuple[Upright, Upright]]:
    """Upright lines of one moment that share more than the height of an arrow head and do not set out from the same
    dot; but for a switch that lets go at once, which a rod points at twice."""
    return [
        (one, other)
        for one, other in combinations(lines, 2)
        if one[2:3] != other[2:3]
        and one[3] != other[3]
        and abs(one[0] - other[0]) < 0.5
        and one[1] < other[2] - 7
        and other[1] < one[2] - 7
    ]


@st.composite
def moments(draw: st.DrawFn) -> list[Flight]:
    """As many arrows at a moment as there are places, at moments that are not too near one another."""
    found = []
    for k in range(draw(st.integers(1, 4))):
        of = draw(st.lists(st.integers(0, 30), min_size=1, max_size=4, unique=True))
        for row in of:
            to = draw(st.lists(st.integers(0, 29), min_size=1, max_size=4))
            others = [r if r < row else r + 1 for r in to]
            anchors = tuple(Anchor(26 * r + 6, 26 * r + 13, 26 * r + 20) for r in others)
            found.append(Flight(100 + 40.0 * k, 26 * row + 13, anchors))
    return found


@settings(max_examples=40)
@given(flights=moments())
def test_arrows_from_several_dots_do_not_lie_upon_one_another(flights: list[Flight]) -> None:
    items = list(flown(flights, 1000))
    upright = [i for i in items if isinstance(i, Line) and i.x1 == i.x2]
    assert upon_one_another([(i.x1, min(i.y1, i.y2), max(i.y1, i.y2), i.y1) for i in upright]) == []
    assert {(i.x, i.y) for i in items if isinstance(i, Circle)} == {(f.x, f.of) for f in flights}
    tips = [i.points[0] for i in items if isinstance(i, Bent)]
    for flight in flights:
        for anchor in flight.to:  # a head ends where the row changes, at that very moment
            assert any(x == flight.x and y in (anchor.top, anchor.bottom) for x, y in tips)
    level = [i for i in items if isinstance(i, Line) and i.y1 == i.y2]
    assert all(any((i.x1, i.y1) == (f.x, f.of) for f in flights) for i in level)  # from a dot to its line


def test_an_arrow_beside_its_moment_turns_in_to_the_edge_it_leads_to() -> None:
    """Two that come from below to a row from 6 to 20: the second goes up beside the first and turns in to it."""
    row = Anchor(6, 13, 20)
    items = list(flown([Flight(100, 65, (row,)), Flight(100, 91, (row,))], 1000))
    assert [i.points[0] for i in items if isinstance(i, Bent)] == [(100, 20), (100, 20)]
    second = [i for i in items if isinstance(i, Line)][1:]
    assert [(i.x1, i.y1, i.x2, i.y2) for i in second] == [
        (100, 91, 105, 91),
        (105, 91, 105, 29),
        (105, 29, 100, 20),
    ]


@pytest.mark.parametrize("of", ["sequence", "step-chain", "one-hot"])
@pytest.mark.parametrize("path", [*EXAMPLES, _LARGE], ids=lambda path: path.stem)
def test_in_no_chart_of_an_example_does_an_arrow_hide_another(path: Path, of: str) -> None:
    made = example(path, of=of)
    root = ElementTree.fromstring(timing_chart(made.run, made.machine, why=made.why, chart=made.chart))
    lines = [
        tuple(float(line.get(name, "")) for name in ("x1", "y1", "x2", "y2"))
        for line in root.iter(f"{_SVG}line")
        if line.get("class") == "cause"
    ]
    upright = [(x1, min(y1, y2), max(y1, y2), y1) for x1, y1, x2, y2 in lines if x1 == x2]
    assert upon_one_another(upright) == []
