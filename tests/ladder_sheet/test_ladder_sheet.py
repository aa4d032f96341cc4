"""Sheets: every contact and coil is there, and the trade's conventions are kept."""

from __future__ import annotations

import textwrap
import time
from collections import Counter
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.machine import End
from compiler.understand import understand
from grammar.rungs import read
from grammar.rungs.tree import Circuit, Comments, Form, Kind, Terminal, contacts
from grammar.source import Source
from targets.anchors import rung_anchor
from targets.choices import Style
from targets.drawing.figure import Bent, Item, Line, Text, Up
from targets.ladder_sheet import Heading, held_switches, iec, ladder_sheets, north_american
from targets.ladder_sheet.comments import said
from targets.ladder_sheet.rung import LEFT, RIGHT, rail_of
from targets.ladder_sheet.sheets import HEIGHT, laid_out
from targets.target import CAUTION
from targets.wiring.nets import WiredCoil, WiredContact, wired
from tests.relay.strategies import circuits

_SVG = "{http://www.w3.org/2000/svg}"
_ELEMENTS = {"svg", "title", "desc", "style", "g", "line", "rect", "circle", "polyline", "polygon", "text"}
_NUMBERS = {
    "line": ("x1", "y1", "x2", "y2"),
    "rect": ("x", "y", "width", "height"),
    "circle": ("cx", "cy", "r"),
    "text": ("x", "y"),
}

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


def items_of(circuit: Circuit, style: Style = Style.IEC) -> list[Item]:
    """Everything on the sheets of a circuit."""
    sheets = laid_out(wired(circuit), Heading("m", "a"), style=style, held=frozenset())
    return [i for sheet in sheets for i in (*sheet.frame, *(i for part in sheet.parts for i in part.items))]


def of_rung(circuit: Circuit, number: int, style: Style = Style.IEC) -> list[Item]:
    """What is drawn of one rung, at its place on its sheet."""
    sheets = laid_out(wired(circuit), Heading("m", "a"), style=style, held=frozenset())
    return [i for sheet in sheets for part in sheet.parts if part.rung.number == number for i in part.items]


def texts(items: list[Item], kind: str) -> list[str]:
    return [i.text for i in items if isinstance(i, Text) and i.kind == kind]


@pytest.mark.parametrize("style", Style)
@settings(deadline=None, max_examples=10)
@given(circuit=circuits(comments=False, leaves=6))
def test_every_contact_and_coil_is_drawn_with_its_terminals(circuit: Circuit, style: Style) -> None:
    made = wired(circuit)
    small = Counter(texts(items_of(circuit, style), "small"))
    both: tuple[WiredContact | WiredCoil, ...] = (*made.contacts, *made.coils)
    expected = Counter(end for one in both for end in one.terminals)
    assert {text: small[text] for text in expected} == dict(expected)


def test_no_rail_behind_a_master_crosses_a_comment() -> None:
    text = PRESS.partition("rung 2")[0] + (
        "# Behind CR1.\nmaster CR1:\n    # Behind TR1 too.\n    master TR1 NCTO:\n        # TR1 times the hold.\n"
        "        rung 2: LS1, feeds TR1\n    end master\nend master\n"
        "rung 3: CR1, feeds SOL1 and BUSY\nrung 4: CR1 NC, feeds REST\n"
    )
    circuit = circuit_of(text)
    items = of_rung(circuit, 2)
    left = {i.text: i.x for i in items if isinstance(i, Text) and i.kind == "comment"}
    assert rail_of(0) < left["Behind CR1."] < rail_of(1) < left["Behind TR1 too."] < rail_of(2)
    assert left["TR1 times the hold."] > rail_of(2)


def test_references_beside_a_coil_underline_contacts_that_break() -> None:
    """RSES "Ladder diagram locators", its example: NO on 7 and 11, NC on 39 is written 7, 11 and 39 underlined."""
    rungs = "rung 1: START, feeds CR1\nrung 7: CR1, feeds BUSY\nrung 11: CR1, LS1, feeds SOL1\n"
    head = PRESS.partition("rung 1")[0].replace("timer TR1, on-delay 4 s\n", "")
    items = of_rung(circuit_of(f"{head}{rungs}rung 39: CR1 NC, feeds REST\n"), 1)
    beside = [(i.text, i.x) for i in items if isinstance(i, Text) and i.x > RIGHT]
    assert [text for text, _ in beside] == ["7", "11", "39"]
    assert [i.x1 for i in items if isinstance(i, Line) and i.kind == "under"] == [
        x for text, x in beside if text == "39"
    ]


def test_references_go_by_the_coil_that_latches() -> None:
    """Also where the one that unlatches comes first."""
    text = "pushbutton A\npushbutton B\nlatching relay KR1\nlamp L\n"
    text += "rung 1: B, feeds KR1 unlatch\nrung 2: A, feeds KR1 latch\nrung 3: KR1, feeds L\n"
    circuit = circuit_of(text)
    assert [texts(of_rung(circuit, k), "across") for k in (1, 2)] == [[], ["3"]]
    assert texts(of_rung(circuit, 3), "reference") == ["(2)"]


def long_machine() -> Circuit:
    """Forty rungs, on several sheets."""
    relays = "".join(f"relay CR{k}\n" for k in range(5, 40))
    rungs = "".join(f"rung {k}: CR1, LS1, feeds CR{k}\n" for k in range(5, 40))
    return circuit_of(PRESS.replace("timer TR1", relays + "timer TR1", 1) + rungs)


def test_references_name_the_sheet_of_a_rung_elsewhere() -> None:
    """IEC 61082-1 (from memory) refers to another sheet by its number before a stop."""
    sheets = laid_out(wired(long_machine()), Heading("m", "a"), style=Style.IEC, held=frozenset())
    on = {part.rung.number: k for k, sheet in enumerate(sheets, 1) for part in sheet.parts}
    assert len(sheets) > 2
    items = [list(part.items) for sheet in sheets for part in sheet.parts]
    expected = [str(n) if on[n] == 1 else f"/{on[n]}.{n}" for n in (1, 2, 3, 4, *range(5, 40))]
    assert texts(items[0], "across") == expected
    assert [t for t in texts(items[-1], "reference") if t.startswith("(")] == ["(/1.1)"]
    frame = [texts(list(sheet.frame), "reference") for sheet in sheets]
    assert frame[0] == ["to sheet 2"]
    assert frame[1] == ["to sheet 3", "from sheet 1"]
    assert frame[-1] == [f"from sheet {len(sheets) - 1}"]


def test_the_rail_of_a_master_goes_on_over_sheets_with_its_wire_number() -> None:
    relays = "".join(f"relay CR{k}\n" for k in range(5, 40))
    rungs = "".join(f"rung {k}: LS1, feeds CR{k}\n" for k in range(5, 40))
    text = PRESS.replace("timer TR1", relays + "timer TR1", 1)
    circuit = circuit_of(f"{text}master CR1:\n{rungs}end master\n")
    (rail,) = wired(circuit).rails[39]
    sheets = laid_out(wired(circuit), Heading("m", "a"), style=Style.IEC, held=frozenset())
    for k, sheet in enumerate(sheets):
        inner = [i for i in sheet.frame if isinstance(i, Line) and i.kind == "rail" and i.x1 == i.x2 == rail_of(1)]
        assert [i.wire for i in inner] == [rail]
        assert texts(list(sheet.frame), "wire-number") == ["1", "2", *([str(rail)] if k else [])]


def test_the_notes_of_a_rung_list_stand_over_the_first_sheet_without_its_caution() -> None:
    wrapped = "\n".join(f"# {line}" for line in textwrap.wrap(CAUTION, 76))
    notes = f"# It does what was\n# written as long as:\n# - START is let go\n# - LS1 works\n#\n{wrapped}\n\n"
    circuit = circuit_of(PRESS.replace('circuit "Press"\n', f'circuit "Press"\n{notes}'))
    (sheet,) = laid_out(wired(circuit), Heading("m", "a"), style=Style.IEC, held=frozenset())
    said = [i for i in sheet.frame if isinstance(i, Text) and i.kind == "comment"]
    assert [i.text for i in said] == [
        "It does what was written as long as:", "-", "START is let go", "-", "LS1 works"
    ]  # fmt: skip
    top = min(i.y1 for i in sheet.frame if isinstance(i, Line) and i.kind == "rail")
    assert max(i.y for i in said) < top - 20


def test_a_comment_broken_to_fit_a_rung_list_is_one_text_again_and_keeps_its_paragraphs() -> None:
    """References in words, as a printed rung list has them, are left out: the drawing has its own."""
    above = ("CR1 is in while the", "press runs.", "", "Second.", "contacts of CR1: NO in rungs 1,", "2 and 3")
    assert said(Comments(above, "Beside."), 640) == ["CR1 is in while the press runs.", "Second. Beside."]


def test_a_wire_has_its_number_once_in_a_rung() -> None:
    assert texts(of_rung(circuit_of(PRESS), 1), "wire-number") == ["3", "4", "5", "6"]


def test_the_number_of_every_wire_is_on_its_line_as_well() -> None:
    """A page can find all that is electrically one point."""
    circuit = circuit_of(PRESS)
    lines = {i.wire for i in items_of(circuit) if isinstance(i, Line) and i.kind in ("wire", "rail") and i.wire}
    assert lines == set(wired(circuit).points())


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


def test_the_arc_of_a_timed_contact_slows_the_movement_towards_its_middle() -> None:
    """IEC 60617 07-05-01 to 04 (from memory): as with a parachute. Operating moves a blade up, so the arc that hangs
    down slows operating, the one that stands up slows releasing; both hang on a double link under the blade."""
    for form in (Form.NOTC, Form.NCTO, Form.NOTO, Form.NCTC):
        items = iec.contact(Kind.TIMER, form, False)
        (arc,) = (i for i in items if isinstance(i, Bent))
        end, middle = arc.points[0][1], arc.points[len(arc.points) // 2][1]
        assert (middle > end) is (form in (Form.NOTC, Form.NCTO))
        links = [i for i in items if isinstance(i, Line) and i.x1 == i.x2 and abs(i.x1) < 3]
        assert len(links) == 2
        assert all(abs(link.y2 - middle) < 0.5 for link in links)


def test_contacts_that_follow_a_timer_at_once_carry_no_mark_of_delay() -> None:
    for style in (iec, north_american):
        assert style.contact(Kind.TIMER, Form.NO, False) == style.contact(Kind.RELAY, Form.NO, False)
        assert style.contact(Kind.TIMER, Form.NC, False) == style.contact(Kind.RELAY, Form.NC, False)


def test_every_kind_of_switch_has_a_symbol_of_its_own_and_every_form_another() -> None:
    """In either style no two of pushbutton, selector, sensor, limit and pressure switch, NO and NC, look the same."""
    kinds = (Kind.PUSHBUTTON, Kind.SELECTOR, Kind.SENSOR, Kind.LIMIT_SWITCH, Kind.PRESSURE_SWITCH, Kind.RELAY)
    for style in (iec, north_american):
        drawn = [style.contact(kind, form, False) for kind in kinds for form in (Form.NO, Form.NC)]
        drawn += [style.contact(Kind.LIMIT_SWITCH, form, True) for form in (Form.NO, Form.NC)]
        drawn += [style.contact(Kind.TIMER, form, False) for form in (Form.NOTC, Form.NCTO, Form.NOTO, Form.NCTC)]
        assert len({*drawn}) == len(drawn)
        loads = (Kind.SOLENOID, Kind.LAMP, Kind.HORN, Kind.MOTOR, Kind.RELAY)
        assert len({style.coil(kind, Terminal.COIL, "") for kind in loads}) == len(loads)


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
    made = wired(long_machine())
    sheets = ladder_sheets(made, Heading("Press <1> & co", "dwell", "same"), style=style, held=frozenset())
    assert len(sheets) >= 3
    for k, sheet in enumerate(sheets, 1):
        root = ElementTree.fromstring(sheet)
        said = [t.text or "" for t in root.iter(f"{_SVG}text")]
        assert CAUTION in " ".join(said)
        assert {f"{k} of {len(sheets)}", "Press <1> & co", "same"} <= {*said}
        assert {e.tag.removeprefix(_SVG) for e in root.iter()} <= _ELEMENTS
        for element in root.iter():
            name = element.tag.removeprefix(_SVG)
            assert all(float(element.attrib[key]) < 4000 for key in _NUMBERS.get(name, ()))
            assert all(len(pair.split(",")) == 2 for pair in element.attrib.get("points", "0,0").split())


def test_every_rung_has_its_anchor_once_over_all_sheets() -> None:
    made = wired(long_machine())
    sheets = ladder_sheets(made, Heading("m", "a"), style=Style.IEC, held=frozenset(), prefix="dwell-")
    ids = [g.attrib["id"] for sheet in sheets for g in ElementTree.fromstring(sheet).iter(f"{_SVG}g")]
    assert ids == [f"dwell-{rung_anchor(rung.number)}" for rung in made.circuit.rungs]


@given(name=st.text(min_size=1, max_size=30))
def test_any_heading_is_escaped(name: str) -> None:
    (sheet,) = ladder_sheets(wired(circuit_of(PRESS)), Heading(name, name), style=Style.IEC, held=frozenset())
    if all(c in "\t\n\r" or " " <= c < "\ud800" or "\ue000" <= c <= "\ufffd" or c > "\uffff" for c in name):
        root = ElementTree.fromstring(sheet)
        assert not list(root.iter(f"{_SVG}script"))


def test_all_contacts_of_a_long_rung_are_drawn() -> None:
    many = ", ".join(["LS1", "LS2 NC", "CR1"] * 7)
    circuit = circuit_of(PRESS.replace("rung 2: CR1, LS1, feeds TR1", f"rung 2: {many}, feeds TR1"))
    items = of_rung(circuit, 2)
    assert sorted(texts(items, "device")) == sorted(
        [*(c.name.text for c in contacts(circuit.rungs[1].network)), "TR1"]
    )
    assert max(i.x for i in items if isinstance(i, Text) and i.kind == "device") < RIGHT
    leaving, entering = carried(items)
    assert leaving == entering
    assert len(leaving) == 2


def carried(items: list[Item]) -> tuple[list[int], list[int]]:
    """The wires that lead to an arrow at the end of a line, and those that begin at one, from above; each has its
    number over it."""
    level = [i for i in items if isinstance(i, Line) and i.kind == "wire" and i.y1 == i.y2]
    said = [i for i in items if isinstance(i, Text) and i.kind == "wire-number"]
    leaving: list[int] = []
    entering: list[int] = []
    for head in sorted((i for i in items if isinstance(i, Up)), key=lambda i: i.y):
        for wire in level:
            found = leaving if wire.x2 == head.x - 10 else entering if wire.x1 == head.x else None
            if wire.y1 == head.y and found is not None:
                found.append(wire.wire)
                near = [i.text for i in said if 4 < head.y - i.y < 9 and abs(i.x - head.x) < 40]
                assert str(wire.wire) in near
    return leaving, entering


def many_relays(first: str) -> Circuit:
    relays = "\n".join(f"relay CR{k}" for k in range(1, 30))
    rest = "\n".join(f"rung {k + 1}: CR1, feeds CR{k}" for k in range(1, 30))
    return circuit_of(f'circuit "Long"\npushbutton START\nrelay AR1\n{relays}\nrung 1: {first}, feeds AR1\n{rest}\n')


def test_a_branch_that_is_too_long_is_carried_on_in_its_place_and_not_drawn_as_two() -> None:
    """Each further line of it goes on where the one before it ends; only the first begins at the rail, and only the
    last is joined to the other branch."""
    series = " and ".join(f"CR{k} NC" for k in range(1, 10))
    items = of_rung(many_relays(f"(START and {series}) or AR1"), 1)
    assert texts(items, "apart") == []
    leaving, entering = carried(items)
    assert leaving == entering
    assert len(leaving) == 1
    wires = [i for i in items if isinstance(i, Line) and i.kind == "wire"]
    assert len([i for i in wires if i.x1 == LEFT]) == 2
    (joined,) = (i for i in wires if i.x1 == i.x2)
    assert len([i for i in wires if i.x2 == joined.x1 and i.y1 == i.y2]) == 2


def test_a_branch_too_deep_to_be_folded_is_drawn_apart() -> None:
    """Its letter stands once in its place, and before and after what it stands for."""
    inner = "(CR20 or CR21)"
    for k in range(1, 9):
        inner = f"(CR{k} or (CR{k + 8} and {inner}))"
    items = of_rung(many_relays(f"START, {inner}"), 1)
    letters = Counter(texts(items, "apart"))
    assert letters
    assert {*letters.values()} == {3}


def test_branches_too_many_for_a_sheet_are_drawn_apart_and_cut_over_sheets() -> None:
    circuit = many_relays(" or ".join(["START", "AR1", *(f"CR{k}" for k in range(1, 30))]))
    sheets = laid_out(wired(circuit), Heading("m", "a"), style=Style.IEC, held=frozenset())
    assert all(sheet.height <= HEIGHT for sheet in sheets)
    parts = [(part.rung.number, k) for k, sheet in enumerate(sheets) for part in sheet.parts if part.rung.number == 1]
    assert parts == [(1, 0), (1, 0), (1, 1)] or parts == [(1, 0), (1, 1), (1, 2)]
    devices = Counter(texts(of_rung(circuit, 1), "device"))
    assert devices == Counter(["START", "AR1", "AR1", *(f"CR{k}" for k in range(1, 30))])
    assert texts(of_rung(circuit, 1), "number") == ["1"]


def test_switches_that_a_machine_rests_on_are_drawn_held() -> None:
    """A cylinder that rests extended holds the switch at its end, one that rests at home the one there."""
    source = 'machine "Gate"\nhydraulic cylinder GATE\n    stroke 100 mm, travel 1 s\n    single solenoid valve Y1\n'
    source += "    limit switch LS1 at end, LS2 at home\n"
    cycle = "cycle\n    when START is pressed\n    extend GATE until at-end\n    retract GATE until at-home\n"
    machine = understand(Source("gate.seq", source + cycle)).machine
    assert held_switches(machine) == {"LS2"}
    (gate,) = machine.actuators
    resting = gate.model_copy(update={"rest": End.END})
    assert held_switches(machine.model_copy(update={"actuators": (resting,)})) == {"LS1"}


def test_the_time_it_takes_grows_with_the_rungs_and_not_with_their_square() -> None:
    """Four times as many rungs in at most eight times the time; a thousand then take seconds."""

    def drawn(count: int) -> float:
        relays = "".join(f"relay CR{k}\n" for k in range(count))
        rungs = "".join(f"rung {k + 1}: A, CR{k} NC, feeds CR{k}\n" for k in range(count))
        made = wired(circuit_of(f'circuit "Long"\npushbutton A\n{relays}\n{rungs}'))
        begun = time.process_time()
        ladder_sheets(made, Heading("m", "a"), style=Style.IEC, held=frozenset())
        return time.process_time() - begun

    drawn(20)
    assert drawn(200) < 8 * max(drawn(50), drawn(50))
