"""What the dimensions, the ramps and the marks of a chart say is what happened."""

from __future__ import annotations

from itertools import pairwise
from xml.etree import ElementTree

import pytest

from compiler.chart_logic import chart_logic
from compiler.simulation.run import Pace, Scenario
from tests.motion.runs import EXAMPLES, Ran, example, of_scenario, pressed, program, ran
from tests.motion.test_charts import bands, corners, cycle, drawing

_SVG = "{http://www.w3.org/2000/svg}"
_BUNG = next(p for p in EXAMPLES if p.stem == "bung-press")
_TILE = next(p for p in EXAMPLES if p.stem == "tile-press")


def drawn(made: Ran) -> tuple[ElementTree.Element, list[tuple[float, float]]]:
    """The displacement-time chart of a run, and the corners of its first rod."""
    root = drawing("time", made)
    return root, bands(root)[0]


def small(root: ElementTree.Element) -> dict[str, tuple[float, float]]:
    return {t.text or "": (float(t.get("x", "")), float(t.get("y", ""))) for t in root.iter(f"{_SVG}text")}


def test_every_stroke_and_every_stand_is_dimensioned_between_its_ends() -> None:
    """RAM of the bung press goes out in 2.938 s, stays for 4 s and comes back in 2.203 s."""
    root, rod = drawn(example(_BUNG))
    x = [place for place, _ in rod]
    texts, ticks = (
        small(root),
        {
            float(line.get("x1", ""))
            for line in root.iter(f"{_SVG}line")
            if line.get("class") == "dimension" and line.get("x1") == line.get("x2")
        },
    )
    assert ticks == set(x[1:5])  # it stands before, and after
    for said, (left, right) in zip(("2.938 s", "4 s", "2.203 s"), pairwise(x[1:5]), strict=True):
        assert left < texts[said][0] < right
        assert texts[said][1] > max(y for _, y in rod)
    tips = {
        corners(head)[0][0] if head.get("points") else 0.0
        for head in root.iter(f"{_SVG}polygon")
        if head.get("class") == "dimension"
    }
    assert tips == set(x[1:5])  # the arrow heads of the dimension lines end on the ticks


def test_a_time_with_no_room_between_its_ends_stands_beside_them() -> None:
    """A goes out in 0.2 s, B out and back in 7 s each, and A back: A's strokes are a seventieth of the chart."""
    letters = cycle("A+ B+ B- A-")
    quick, slow = (f"extends in {t} s, retracts in {t} s" for t in (0.2, 7))
    made = ran(
        program(
            letters.replace("extends in 1 s, retracts in 1 s", quick, 1).replace(
                "extends in 1 s, retracts in 1 s", slow
            )
        )
    )
    root, rod = drawn(made)
    where = [float(t.get("x", "")) for t in root.iter(f"{_SVG}text") if t.text == "0.2 s"]
    assert len(where) == 2
    assert min(where) < rod[1][0] < rod[-2][0] < max(where)


@pytest.mark.parametrize(("of", "timer"), [("sequence", "time in S2"), ("on-delay", "TR1 elapsed")])
def test_the_ramp_of_a_timer_rises_while_it_runs_and_drops_when_its_time_is_over(of: str, timer: str) -> None:
    """The time begins as LS1 makes and is over 4 s later."""
    made = example(_BUNG, of=of)
    root = drawing("timing", made)
    assert timer in small(root)
    begins = next(c.at_us for c in made.run.changes if c.signal == "LS1" and c.on)
    ramp = next(corners(line) for line in root.iter(f"{_SVG}polyline") if line.get("class") == "ramp")
    left, right = (place(root, made, at_us) for at_us in (begins, begins + 4_000_000))
    (x1, low), (x2, top), (x3, bottom) = ramp
    assert (x1, x2, x3) == pytest.approx((left, right, right), abs=0.2)
    assert top < low == bottom
    dot = next(c for c in root.iter(f"{_SVG}circle") if float(c.get("cy", "")) == pytest.approx(top, abs=0.1))
    assert float(dot.get("cx", "")) == pytest.approx(right, abs=0.2)


def place(root: ElementTree.Element, made: Ran, at_us: int) -> float:
    """Where a moment stands: worked out from two seconds that are written below."""
    ticks = {
        float(t.text): float(t.get("x", ""))
        for t in root.iter(f"{_SVG}text")
        if t.get("class") == "tick" and t.get("text-anchor") == "middle" and t.text and t.text.isdecimal()
    }
    (a, left), (b, right), *_ = sorted(ticks.items())
    return left + (right - left) * (at_us / 1_000_000 - a) / (b - a)


def test_a_solid_mark_is_where_a_switch_makes_and_an_open_one_where_it_lets_go() -> None:
    """PRESS of the tile press: LS2 at home, LS3 on the way and LS1 at the end; each makes and lets go once."""
    made = example(_TILE)
    root, _ = drawn(made)
    switches = {s.name for a in made.machine.actuators for s in (*a.limit_switches, *a.pressure_switches)}
    for on, kind in ((True, "made"), (False, "mark")):
        moments = [c.at_us for c in made.run.changes if c.signal in switches and c.on == on and c.at_us > 0]
        marks = [float(c.get("cx", "")) for c in root.iter(f"{_SVG}circle") if c.get("class") == kind]
        assert sorted(marks) == pytest.approx(sorted(place(root, made, at) for at in moments), abs=0.4)


def test_a_speed_that_changes_soon_after_the_start_parts_no_dimension() -> None:
    """The rod is slow for its first 20 ms of 2 s: one stroke to the eye, and one time."""
    what = program("extend until at-end, retract")
    (rod,) = what.machine.actuators
    paces = (Pace(actuator=rod.name, from_us=500_000, at_um=1_000, by_us=520_000),)
    scenario = Scenario(name="slow", duration_us=9_000_000, events=pressed((500, "START", True)), paces=paces)
    assert what.chart is not None
    made = of_scenario(what, scenario, chart_logic(what.chart))
    out, back = (m.at_us for m in made.run.moves if m.way and m.position_um in (0, rod.stroke_um))
    texts = [t.text for t in drawing("time", made).iter(f"{_SVG}text")]
    assert f"{(back - out) / 1_000_000:.10g} s" in texts


def test_the_legend_speaks_of_arrows_only_where_there_are_some() -> None:
    for path in (_BUNG, _TILE):
        root = drawing("time", example(path))
        arrows = [line for line in root.iter(f"{_SVG}line") if line.get("class") == "cause"]
        said = " ".join(t.text or "" for t in root.iter(f"{_SVG}text") if t.get("class") == "note")
        assert ("An arrow leads" in said) == bool(arrows) == (path == _TILE)
