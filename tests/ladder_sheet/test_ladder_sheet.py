"""Sheets: nothing lies on anything else, every contact and coil is there, and the trade's conventions are kept."""

from __future__ import annotations

from collections import Counter
from itertools import combinations
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.rungs import read
from grammar.rungs.tree import Circuit, Form, Kind, Terminal, contacts
from grammar.source import Source
from targets.choices import Style
from targets.drawing.figure import Bent, Box, Circle, Item, Line, Text, text_width
from targets.ladder_sheet import Heading, iec, ladder_sheets, north_american
from targets.ladder_sheet.rung import RIGHT, drawing, rail_of
from targets.target import CAUTION
from targets.wiring.nets import wired
from tests.relay.strategies import circuits

_SVG = "{http://www.w3.org/2000/svg}"
_SIZES = {"device": 12, "small": 9.5, "wire-number": 9.5, "reference": 10, "number": 13, "comment": 12, "across": 11}

PRESS = """\
circuit "Press"
pushbutton START
pushbutton STOP
limit switch LS1
limit switch LS2
relay CR1
timer TR1, on-delay 4 s
solenoid SOL1
lamp BUSY
lamp REST

rung 1: (START and LS2) or CR1, STOP NC, TR1 NCTO, feeds CR1
rung 2: CR1, LS1, feeds TR1
rung 3: CR1, feeds SOL1 and BUSY
rung 4: CR1 NC, feeds REST
"""


def circuit_of(text: str) -> Circuit:
    reading = read(Source("x.rungs", text))
    assert reading.sound, reading.diagnostics
    return reading.tree


def extent(text: Text) -> tuple[float, float, float, float]:
    width = text_width(text.text, size=_SIZES.get(text.kind, 11)) / 1.06
    left = {"start": text.x, "middle": text.x - width / 2, "end": text.x - width}[text.anchor]
    return left, text.y - 7, left + width, text.y + 1


def overlap(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def symbols(items: tuple[Item, ...]) -> list[tuple[float, float, float, float]]:
    """The middles of symbols: circles, sawteeth and frames."""
    found = []
    for item in items:
        match item:
            case Circle(x=x, y=y, radius=r) if r > 5:
                found.append((x - r, y - r, x + r, y + r))
            case Box(x=x, y=y, width=w, height=h):
                found.append((x, y, x + w, y + h))
            case _:
                pass
    return found


def clashes(items: tuple[Item, ...]) -> list[tuple[object, object]]:
    texts = [i for i in items if isinstance(i, Text) and i.kind not in ("letter", "comment")]
    found: list[tuple[object, object]] = []
    found += [(a, b) for a, b in combinations(texts, 2) if overlap(extent(a), extent(b))]
    found += [(a, b) for a in symbols(items) for b in texts if overlap(a, extent(b))]
    found += [(a, b) for a, b in combinations(symbols(items), 2) if overlap(a, b)]
    wires = [i for i in items if isinstance(i, Line) and i.kind in ("wire", "rail")]
    for wire in wires:
        thin = (
            min(wire.x1, wire.x2),
            min(wire.y1, wire.y2),
            max(wire.x1, wire.x2) + 0.01,
            max(wire.y1, wire.y2) + 0.01,
        )
        found += [(wire, text) for text in texts if overlap(thin, extent(text))]
    return found


@pytest.mark.parametrize("style", Style)
@settings(deadline=None, max_examples=20)
@given(circuit=circuits())
def test_nothing_on_a_sheet_lies_on_anything_else(circuit: Circuit, style: Style) -> None:
    made = wired(circuit)
    for rung in circuit.rungs:
        one = drawing(rung, made, style=style, held=frozenset({"ls1"}))
        assert clashes(one.items) == []


@pytest.mark.parametrize("style", Style)
@settings(deadline=None, max_examples=20)
@given(circuit=circuits())
def test_every_contact_and_coil_is_drawn_with_its_terminals(circuit: Circuit, style: Style) -> None:
    made = wired(circuit)
    for rung in circuit.rungs:
        items = drawing(rung, made, style=style, held=frozenset()).items
        small = Counter(i.text for i in items if isinstance(i, Text) and i.kind == "small")
        own, coils = made.of_rung(rung.number)
        ends = [*(one.terminals for one in own), *(one.terminals for one in coils)]
        expected = Counter(end for pair in ends for end in pair)
        assert {text: small[text] for text in expected} == dict(expected)


def test_no_rail_behind_a_master_crosses_a_comment() -> None:
    text = PRESS.partition("rung 2")[0] + (
        "# Behind CR1.\nmaster CR1:\n    # Behind TR1 too.\n    master TR1 NCTO:\n        # TR1 times the hold.\n"
        "        rung 2: LS1, feeds TR1\n    end master\nend master\n"
        "rung 3: CR1, feeds SOL1 and BUSY\nrung 4: CR1 NC, feeds REST\n"
    )
    circuit = circuit_of(text)
    items = drawing(circuit.rungs[1], wired(circuit), style=Style.IEC, held=frozenset()).items
    left = {i.text: i.x for i in items if isinstance(i, Text) and i.kind == "comment"}
    assert rail_of(0) < left["Behind CR1."] < rail_of(1) < left["Behind TR1 too."] < rail_of(2)
    assert left["TR1 times the hold."] > rail_of(2)


def test_references_beside_a_coil_underline_contacts_that_break() -> None:
    """RSES "Ladder diagram locators": the rungs of a coil's contacts at the right, break contacts underlined."""
    circuit = circuit_of(PRESS)
    one = drawing(circuit.rungs[0], wired(circuit), style=Style.NORTH_AMERICAN, held=frozenset())
    beside = [(i.text, i.x) for i in one.items if isinstance(i, Text) and i.x > RIGHT]
    assert [text for text, _ in beside] == ["1", "2", "3", "4"]
    under = [i.x1 for i in one.items if isinstance(i, Line) and i.kind == "under"]
    assert under == [x for text, x in beside if text == "4"]


def test_a_wire_has_its_number_once_in_a_rung() -> None:
    circuit = circuit_of(PRESS)
    one = drawing(circuit.rungs[0], wired(circuit), style=Style.IEC, held=frozenset())
    assert [i.text for i in one.items if isinstance(i, Text) and i.kind == "wire-number"] == ["3", "4", "5", "6"]


def ends(items: tuple[Item, ...]) -> float:
    """How high the far end of a North American blade is: its line runs from the left terminal."""
    return next(i.y2 for i in items if isinstance(i, Line) and i.x1 == -10.5)


def test_the_four_forms_of_a_limit_switch() -> None:
    """JIC/NMTBA EGP1-1967 names them: NO, NC, NO held closed, NC held open. A push acts upward (common practice)."""
    forms = {
        (form, held): ends(north_american.contact(Kind.LIMIT_SWITCH, form, bool(held)))
        for form in (Form.NO, Form.NC)
        for held in (0, 1)
    }
    assert forms[Form.NO, 0] > 4  # open: under the terminal
    assert 3 <= forms[Form.NO, 1] <= 4  # held closed: touches it from beneath
    assert -4 <= forms[Form.NC, 0] <= -3  # closed: rests on it
    assert forms[Form.NC, 1] < -4  # held open: lifted off


def test_the_arrow_of_a_timed_contact_points_up_for_a_delay_after_energising() -> None:
    """JIC/NMTBA EGP1-1967: time delay after coil energised, after coil de-energised."""
    for form in (Form.NOTC, Form.NCTO, Form.NOTO, Form.NCTC):
        (head,) = (i for i in north_american.contact(Kind.TIMER, form, False) if isinstance(i, Bent))
        tip, side = head.points[1][1], head.points[0][1]
        assert (tip < side) is (form in (Form.NOTC, Form.NCTO))


def test_a_slow_coil_is_crossed_when_slow_to_operate_and_filled_when_slow_to_release() -> None:
    """IEC 60617 (from memory)."""
    on = iec.coil(Kind.TIMER, Terminal.COIL, "on-delay")
    off = iec.coil(Kind.TIMER, Terminal.COIL, "off-delay")
    assert not any(isinstance(i, Bent) and i.solid for i in on)
    assert any(isinstance(i, Bent) and i.solid for i in off)


def test_a_make_contact_hangs_open_and_closes_upward() -> None:
    """IEC 60617 (from memory): actuation moves the blade upward when the path is drawn from left to right."""

    def tip(form: Form, held: bool) -> float:
        return next(
            i.y2
            for i in iec.contact(Kind.LIMIT_SWITCH, form, held)
            if isinstance(i, Line) and (i.x1, i.x2 < 0) == (10, True)
        )

    assert tip(Form.NO, False) > tip(Form.NO, True) == 0
    assert tip(Form.NC, True) < tip(Form.NC, False) < 0


@pytest.mark.parametrize("style", Style)
def test_sheets_are_sound_svg_with_the_caution_the_verdict_and_a_count(style: Style) -> None:
    relays = "".join(f"relay CR{k}\n" for k in range(5, 40))
    rungs = "".join(f"rung {k}: CR1, LS1, feeds CR{k}\n" for k in range(5, 40))
    made = wired(circuit_of(PRESS.replace("timer TR1", relays + "timer TR1", 1) + rungs))
    sheets = ladder_sheets(made, Heading("Press <1> & co", "dwell", "same"), style=style, held=frozenset())
    assert len(sheets) >= 3
    for k, sheet in enumerate(sheets, 1):
        texts = [t.text or "" for t in ElementTree.fromstring(sheet).iter(f"{_SVG}text")]
        assert CAUTION in " ".join(texts)
        assert {f"{k} of {len(sheets)}", "Press <1> & co", "same"} <= {*texts}


@given(name=st.text(min_size=1, max_size=30))
def test_any_heading_is_escaped(name: str) -> None:
    (sheet,) = ladder_sheets(wired(circuit_of(PRESS)), Heading(name, name), style=Style.IEC, held=frozenset())
    if all(c in "\t\n\r" or " " <= c < "\ud800" or "\ue000" <= c <= "\ufffd" or c > "\uffff" for c in name):
        root = ElementTree.fromstring(sheet)
        assert not list(root.iter(f"{_SVG}script"))


def test_all_contacts_of_a_long_rung_are_drawn() -> None:
    many = ", ".join(["LS1", "LS2 NC", "CR1"] * 7)
    circuit = circuit_of(PRESS.replace("rung 2: CR1, LS1, feeds TR1", f"rung 2: {many}, feeds TR1"))
    rung = circuit.rungs[1]
    items = drawing(rung, wired(circuit), style=Style.IEC, held=frozenset()).items
    named = [i.text for i in items if isinstance(i, Text) and i.kind == "device"]
    assert sorted(named) == sorted([*(c.name.text for c in contacts(rung.network)), "TR1"])
    assert max(i.x for i in items if isinstance(i, Text) and i.kind == "device") < RIGHT


def test_a_branch_that_is_too_long_is_carried_on_and_not_drawn_as_two() -> None:
    """Beside the coil only its number is left; of its lines the first begins with that, and each ends where the next
    one begins."""
    series = " and ".join(f"CR{k} NC" for k in range(1, 10))
    relays = "\n".join(f"relay CR{k}" for k in range(1, 10))
    rest = "\n".join(f"rung {k + 1}: CR1, feeds CR{k}" for k in range(1, 10))
    head = f'circuit "Long"\npushbutton START\nrelay AR1\n{relays}\n'
    text = f"{head}rung 1: (START and {series}) or AR1, feeds AR1\n{rest}\n"
    circuit = circuit_of(text)
    items = drawing(circuit.rungs[0], wired(circuit), style=Style.IEC, held=frozenset()).items
    marks = [i.text for i in items if isinstance(i, Text) and i.kind == "reference" and not i.text.startswith("(")]
    assert [m for m in marks if m.startswith("[") or "→" in m] == ["[1]", "[1]", "1.1→", "→1.1"]
    assert clashes(items) == []
