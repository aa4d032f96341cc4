"""The drawing: everything is in it once, nothing lies on anything else, and odd names do no harm."""

from __future__ import annotations

from itertools import combinations, pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings

from compiler.chart import Action, Chart, Forcing, Step, Transition
from compiler.condition import Always, Rise, Signal
from compiler.machine import Machine
from compiler.understand import understand
from grammar.source import Source
from targets.drawing.figure import Box, Item, Line, Text, Up, extent, text_width
from targets.grafcet.emit import _side_by_side, emit
from targets.grafcet.layout import Drawer
from targets.grafcet.structure import Bar, Choice, Jump, Loop, Parallel, Part, StepPart, nesting
from targets.target import CAUTION
from tests.grafcet.nets import Shape, chart_of, shapes
from tests.whole.programs import EXAMPLES

_SVG = "{http://www.w3.org/2000/svg}"
_NEST: Shape = (
    "line",
    (
        ("step", ()),
        ("together", (("line", (("faulty step", ()), ("step", ()))), ("choice", (("step", ()), ("step", ()))))),
        ("loop", (("step", ()), ("faulty step", ()))),
    ),
)


def parts_in(parts: tuple[Part, ...]) -> list[Part]:
    """Every part, with all that is inside it."""
    found: list[Part] = []
    for part in parts:
        found.append(part)
        match part:
            case StepPart(asides=asides):
                found += [inner for aside in asides for inner in parts_in(aside.parts)]
            case Choice(branches=branches) | Parallel(branches=branches):
                found += [inner for branch in branches for inner in parts_in(branch)]
            case Loop(body=body, back=back):
                found += [*parts_in(body), *([back] if back else [])]
            case _:
                pass
    return found


def rectangle(item: Box | Text) -> tuple[float, float, float, float]:
    if isinstance(item, Box):
        return item.x, item.y, item.x + item.width, item.y + item.height
    width = text_width(item.text)
    left = item.x if item.anchor == "start" else item.x - width / 2
    return left, item.y - 9, left + width, item.y + 2


def overlap(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    """Whether they share more than an edge, of which a thousandth of a pixel may be rounding."""
    right, bottom = min(one[2], other[2]), min(one[3], other[3])
    return max(one[0], other[0]) + 0.001 < right and max(one[1], other[1]) + 0.001 < bottom


def clashes(items: tuple[Item, ...]) -> list[tuple[Item, Item]]:
    """Frames on frames, texts on texts, links through frames or texts, and links that cross in their middles."""
    boxes = [i for i in items if isinstance(i, Box) and i.kind != "inner"]
    texts = [i for i in items if isinstance(i, Text)]
    lines = [i for i in items if isinstance(i, Line) and i.kind in ("link", "double")]
    found: list[tuple[Item, Item]] = []
    found += [(a, b) for a, b in combinations(boxes, 2) if overlap(rectangle(a), rectangle(b))]
    found += [(a, b) for a, b in combinations(texts, 2) if overlap(rectangle(a), rectangle(b))]
    for line in lines:
        x1, x2 = sorted((line.x1, line.x2))
        y1, y2 = sorted((line.y1, line.y2))
        thin = (x1, y1, x2 + 0.01, y2 + 0.01)
        found += [(line, text) for text in texts if overlap(thin, rectangle(text))]
        for box in boxes:
            left, top, right, bottom = rectangle(box)
            if overlap(thin, (left + 0.5, top + 0.5, right - 0.5, bottom - 0.5)):
                found.append((line, box))
    found += [(a, b) for a, b in combinations(lines, 2) if _cross(a, b)]
    return found


def _cross(one: Line, other: Line) -> bool:
    for across, down in ((one, other), (other, one)):
        if across.y1 == across.y2 and down.x1 == down.x2 and across.x1 != across.x2:
            left, right = sorted((across.x1, across.x2))
            top, bottom = sorted((down.y1, down.y2))
            if left + 1 < down.x1 < right - 1 and top + 1 < across.y1 < bottom - 1:
                return True
    return False


@settings(deadline=None, max_examples=150)
@given(shape=shapes())
def test_every_step_and_transition_of_a_nested_chart_is_drawn_once_without_references(shape: Shape) -> None:
    chart = chart_of(shape)
    found = [part for station in nesting(chart) for part in parts_in(station)]
    assert sorted(p.step.name for p in found if isinstance(p, StepPart)) == sorted(s.name for s in chart.steps)
    drawn = sorted(p.transition.name for p in found if isinstance(p, Bar))
    assert drawn == sorted(t.name for t in chart.transitions)
    assert not [part for part in found if isinstance(part, Jump)]


@settings(deadline=None, max_examples=50)
@given(shape=shapes())
def test_nothing_lies_on_anything_else(shape: Shape) -> None:
    chart = chart_of(shape)
    (parts,) = nesting(chart)
    assert clashes(Drawer(Machine(), chart).series(parts).items) == []


_EXAMPLES = [*EXAMPLES, *sorted((EXAMPLES[0].parent / "large").glob("*.seq"))]


@pytest.mark.parametrize("path", _EXAMPLES, ids=lambda path: path.stem)
def test_nothing_lies_on_anything_else_in_an_example(path: Path) -> None:
    understood = understand(Source(path.name, path.read_text(encoding="utf-8")))
    assert understood.chart is not None
    for parts in nesting(understood.chart):
        assert clashes(Drawer(understood.machine, understood.chart).series(parts, entered=False).items) == []
    root = ElementTree.fromstring(emit(understood.machine, understood.chart)[0].text)
    said = " ".join(text.text or "" for text in root.iter(f"{_SVG}text"))
    assert all(step.name in said for step in understood.chart.steps)
    assert CAUTION in said
    wide, high = float(root.get("width", "")), float(root.get("height", ""))
    for text in root.iter(f"{_SVG}text"):
        assert 0 <= float(text.get("x", "")) <= wide
        assert 0 <= float(text.get("y", "")) <= high


def test_actions_stand_side_by_side_and_many_go_on_in_a_further_row() -> None:
    actions = tuple(Action(output=f"LONG_OUTPUT_{k}") for k in range(5))
    step = Step(name="S0", initial=True, actions=actions)
    figure = Drawer(Machine(), Chart(inputs=(), outputs=tuple(a.output for a in actions), steps=(step,))).step(step)
    boxes = [i for i in figure.items if isinstance(i, Box) and i.kind == "action"]
    assert len(boxes) == 5
    rows = sorted({box.y for box in boxes})
    assert len(rows) > 1
    for y in rows:
        row = sorted((box.x, box.width) for box in boxes if box.y == y)
        assert row[0][0] == min(box.x for box in boxes)
        assert all(x + wide == pytest.approx(after) for (x, wide), (after, _) in pairwise(row))
    assert clashes(figure.items) == []


def test_a_fault_is_left_by_a_transition_of_its_own() -> None:
    """IEC 60848:2013 (from memory): between two steps stands a transition with its condition, also before a jump."""
    steps = (Step(name="S0", initial=True), Step(name="F1", fault="stuck"))
    ways = (("S0", "F1", "LS1"), ("F1", "S0", "RESET"))
    transitions = tuple(
        Transition(name=f"T{k}", sources=(a,), targets=(b,), condition=Signal(device=on))
        for k, (a, b, on) in enumerate(ways)
    )
    chart = Chart(inputs=("LS1", "RESET"), outputs=(), steps=steps, transitions=transitions)
    items = Drawer(Machine(), chart).series(nesting(chart)[0]).items
    (fault,) = (i for i in items if isinstance(i, Box) and i.kind == "fault")
    middle = fault.x + fault.width / 2
    below = [i for i in items if isinstance(i, Line) and i.kind == "bar" and i.y1 > fault.y + fault.height]
    assert [(bar.x1 + bar.x2) / 2 for bar in below] == [middle]
    (said,) = (i for i in items if isinstance(i, Text) and "RESET" in i.text)
    assert abs(said.y - 4 - below[0].y1) < 2
    (tip,) = (i for i in items if isinstance(i, Up) and i.way == "down")
    assert tip.x == middle
    assert [i.text for i in items if isinstance(i, Text) and i.kind == "reference" and i.x == middle] == ["S0"]
    assert clashes(items) == []


@pytest.mark.parametrize("path", _EXAMPLES, ids=lambda path: path.stem)
def test_stations_stand_clear_of_each_other(path: Path) -> None:
    """Wherever there was room for them."""
    understood = understand(Source(path.name, path.read_text(encoding="utf-8")))
    assert understood.chart is not None
    figures = [
        Drawer(understood.machine, understood.chart).series(p, entered=False) for p in nesting(understood.chart)
    ]
    items, width, height = _side_by_side(figures)
    assert clashes(items) == []
    assert max(extent(item)[0][1] for item in items) <= width
    assert max(extent(item)[1][1] for item in items) <= height
    assert len({round(i.width) for i in items if isinstance(i, Box) and i.kind in ("step", "fault")}) == 1


def test_signals_are_actions_of_their_steps_and_waited_for_by_their_names() -> None:
    """TRAY_READY is on in the loader's S6 alone; the presser turns TRAY_TAKEN on in S2 and off in S14."""
    path = next(path for path in _EXAMPLES if path.stem == "tray-transfer")
    understood = understand(Source(path.name, path.read_text(encoding="utf-8")))
    assert understood.chart is not None
    drawer = Drawer(understood.machine, understood.chart)
    shown = {step.name: {*drawer.actions(step)} & {"TRAY_READY", "TRAY_TAKEN"} for step in understood.chart.steps}
    taken = {f"PRESSER_S{k}" for k in range(2, 14)}
    assert {name: said for name, said in shown.items() if said} == {
        "LOADER_S6": {"TRAY_READY"}, **{step: {"TRAY_TAKEN"} for step in taken}
    }  # fmt: skip
    waits = {t.sources[0]: drawer.condition(t) for t in understood.chart.transitions}
    assert waits["LOADER_S6"] == "TRAY_TAKEN is on"
    assert waits["PRESSER_S13"] == "TRAY_READY is off"
    assert waits["PRESSER_S0"].startswith("TRAY_READY is on and ")


def test_work_side_by_side_stands_between_double_lines() -> None:
    """IEC 60848:2013 (from memory): two parallel lines begin and end simultaneous sequences."""
    figure = Drawer(Machine(), chart_of(_NEST)).series(nesting(chart_of(_NEST))[0])
    doubles = [i for i in figure.items if isinstance(i, Line) and i.kind == "double"]
    assert len(doubles) == 4
    top, second, *_ = sorted(line.y1 for line in doubles)
    assert 0 < second - top < 6


def test_an_initial_step_has_a_double_frame_and_a_link_upward_an_arrow() -> None:
    """IEC 60848:2013 (from memory)."""
    text = emit(Machine(title="Nest"), chart_of(_NEST))[0].text
    root = ElementTree.fromstring(text)
    kinds = [box.get("class") for box in root.iter(f"{_SVG}rect")]
    assert kinds.count("inner") == 1
    assert len(list(root.iter(f"{_SVG}polygon"))) == 2  # the loop and the whole cycle


def test_a_chart_that_is_not_nested_ends_in_references() -> None:
    steps = tuple(Step(name=name, initial=name == "A") for name in "ABCD")
    ways = (("A", "B"), ("A", "C"), ("B", "C"), ("C", "B"), ("B", "D"), ("C", "D"), ("D", "A"))
    transitions = tuple(
        Transition(name=f"T{k}", sources=(a,), targets=(b,), condition=Signal(device=f"LS{k}"))
        for k, (a, b) in enumerate(ways)
    )
    chart = Chart(inputs=tuple(f"LS{k}" for k in range(7)), outputs=(), steps=steps, transitions=transitions)
    found = [part for station in nesting(chart) for part in parts_in(station)]
    assert sorted(p.step.name for p in found if isinstance(p, StepPart)) == list("ABCD")
    assert sorted(p.transition.name for p in found if isinstance(p, Bar)) == [t.name for t in transitions]
    assert [part for part in found if isinstance(part, Jump)]
    assert clashes(Drawer(Machine(), chart).series(nesting(chart)[0]).items) == []


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "a & b", 'say "no"', "‮evil", "😀" * 40, "x" * 300])
def test_odd_names_stay_text(name: str) -> None:
    chart = Chart(
        inputs=("START",),
        outputs=(name,),
        steps=(Step(name="S0", initial=True), Step(name="S1", actions=(Action(output=name),), fault="")),
        transitions=(
            Transition(name="T1", sources=("S0",), targets=("S1",), condition=Rise(device="START")),
            Transition(name="T2", sources=("S1",), targets=("S0",), condition=Always()),
        ),
        forcing=Forcing(condition=Signal(device="START")),
    )
    root = ElementTree.fromstring(emit(Machine(title=name), chart)[0].text)
    assert {element.tag.removeprefix(_SVG) for element in root} <= {
        "title", "desc", "style", "line", "rect", "polygon", "text"
    }  # fmt: skip
    assert name in [text.text for text in root.iter(f"{_SVG}text")]


def test_the_drawing_carries_the_caution_and_what_forces_it() -> None:
    chart = chart_of(_NEST).model_copy(update={"forcing": Forcing(condition=Signal(device="LS1"))})
    texts = [t.text or "" for t in ElementTree.fromstring(emit(Machine(), chart)[0].text).iter(f"{_SVG}text")]
    assert CAUTION in " ".join(texts)
    assert any("forced to {INIT}" in text for text in texts)
