"""Rungs that go on on another sheet: none is taller than its paper, what leaves one comes in on the next, and
references name the sheet that a contact is on; sheets are as few as can be, and about equally full."""

from __future__ import annotations

from collections import Counter
from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.rungs.tree import Circuit
from targets.choices import Style
from targets.drawing.figure import Item, Line, Text, Up
from targets.ladder_sheet import Heading, ladder_sheets, sheets
from targets.ladder_sheet.dealing import Part, _shares
from targets.ladder_sheet.parting import Drawing, Stretch
from targets.ladder_sheet.rung import RIGHT
from targets.ladder_sheet.sheets import SheetOfRungs, laid_out
from targets.ladder_sheet.symbols import CELL
from targets.wiring.nets import WiredCircuit, WiredCoil, WiredContact, wired
from tests.ladder_sheet.from_the_sheet import symbols_of
from tests.ladder_sheet.geometry import clashes, loose_ends, shorts
from tests.relay.strategies import circuits
from tests.wiring.seal_in import circuit_of

HEADING = Heading("Press", "chain", "same")
SHORT = 620.0  # a paper with room for about five rows


def items_of(sheet: SheetOfRungs) -> list[Item]:
    return [*sheet.frame, *(item for part in sheet.parts for item in part.items)]


def hold(made: WiredCircuit, style: Style) -> list[SheetOfRungs]:
    """The sheets, when nothing is amiss with them."""
    found = laid_out(made, HEADING, style=style, held=frozenset())
    ends: Counter[int] = Counter()
    for sheet in found:
        items = items_of(sheet)
        assert sheet.height <= sheets.HEIGHT
        assert clashes(items) == []
        assert shorts(items) == []
        ends += loose_ends(items)
    both: tuple[WiredContact | WiredCoil, ...] = (*made.contacts, *made.coils)
    assert ends == Counter([wire for one in both for wire in (one.left, one.right)])
    for one, other in pairwise(found):
        assert leaving(one) == entering(other)
    assert leaving(found[-1]) == entering(found[0]) == []
    return found


def leaving(sheet: SheetOfRungs) -> list[tuple[int, float]]:
    """The wires that end at an arrow downwards, with their places across; their numbers stand under it."""
    items = items_of(sheet)
    heads = {(i.x, i.y - 10) for i in items if isinstance(i, Up) and i.way == "down"}
    found = [i for i in items if isinstance(i, Line) and i.kind == "wire" and (i.x1, max(i.y1, i.y2)) in heads]
    assert len(found) == len(heads)
    assert all(_said(items, i.wire, i.x1, max(i.y1, i.y2) + 21) for i in found)
    return sorted((i.wire, i.x1) for i in found)


def entering(sheet: SheetOfRungs) -> list[tuple[int, float]]:
    """The upright wires that begin under their own number."""
    items = items_of(sheet)
    upright = [i for i in items if isinstance(i, Line) and i.kind == "wire" and i.x1 == i.x2]
    return sorted((i.wire, i.x1) for i in upright if _said(items, i.wire, i.x1, min(i.y1, i.y2) - 3))


def _said(items: list[Item], wire: int, x: float, y: float) -> bool:
    said = [i for i in items if isinstance(i, Text) and i.kind == "wire-number" and i.anchor == "middle"]
    return any(i.text == str(wire) and i.x == x and abs(i.y - y) < 4 for i in said)


def many_coils(count: int) -> Circuit:
    lamps = "".join(f"lamp L{k}\n" for k in range(count))
    fed = " and ".join(f"L{k}" for k in range(count))
    return circuit_of(f'circuit "Lamps"\npushbutton A\n{lamps}\nrung 1: A, feeds {fed}\n')


@pytest.mark.parametrize("style", Style)
def test_a_rung_with_more_coils_than_a_sheet_has_room_for_goes_on_on_the_next(style: Style) -> None:
    found = hold(wired(many_coils(45)), style)
    assert len(found) == 3
    said = [
        [i.text for i in items_of(s) if isinstance(i, Text) and i.text.startswith(("rung 1 ", "rung 1,"))]
        for s in found
    ]
    assert said == [
        ["rung 1 goes on on sheet 2"],
        ["rung 1, from sheet 1", "rung 1 goes on on sheet 3"],
        ["rung 1, from sheet 2"],
    ]
    assert [leaving(s) for s in found] == [[(3, leaving(found[0])[0][1])]] * 2 + [[]]


@pytest.mark.parametrize("style", Style)
@settings(deadline=None, max_examples=8)
@given(data=st.data())
def test_random_circuits_on_short_paper_are_parted_clearly(data: st.DataObject, style: Style) -> None:
    circuit = data.draw(circuits(masters=True, leaves=12))
    with pytest.MonkeyPatch.context() as short:
        short.setattr(sheets, "HEIGHT", SHORT)
        hold(wired(circuit), style)


@pytest.mark.campaign
@pytest.mark.parametrize("style", Style)
@settings(deadline=None, max_examples=1500)
@given(data=st.data())
def test_many_random_circuits_on_short_paper_are_parted_clearly(data: st.DataObject, style: Style) -> None:
    test_random_circuits_on_short_paper_are_parted_clearly.hypothesis.inner_test(data, style)


def test_references_name_the_sheet_that_a_contact_or_a_coil_is_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """Read off the printed sheets: also where a rung stands on two of them."""
    monkeypatch.setattr(sheets, "HEIGHT", SHORT)
    relays = "".join(f"relay CR{k}\n" for k in range(1, 13))
    fed = " and ".join(f"CR{k}" for k in range(1, 13))
    branches = " or ".join(f"CR{k}" for k in range(1, 13))
    rungs = f"rung 1: A or {branches}, feeds {fed}\nrung 2: CR9, feeds L\n"
    text = f'circuit "Two"\npushbutton A\nlamp L\n{relays}\n{rungs}'
    made = wired(circuit_of(text))
    printed = ladder_sheets(made, HEADING, style=Style.IEC, held=frozenset())
    at = {(name, ends): k for k, s in enumerate(printed, 1) for name, ends, _, _ in symbols_of(s)}
    found = laid_out(made, HEADING, style=Style.IEC, held=frozenset())
    for k, sheet in enumerate(found, 1):
        said = [i for i in items_of(sheet) if isinstance(i, Text)]
        for name in (i for i in said if i.kind == "device" and i.text.startswith("CR")):
            (coil,) = made.coils_of(name.text)
            there = at[coil.device, coil.terminals]
            below = [i.text for i in said if (i.x, i.y) == (name.x, name.y + 42)]
            assert {*below} <= {f"({coil.rung})" if there == k else f"(/{there}.{coil.rung})"}
            if name.x > RIGHT - CELL:
                ways = [(at[one.device, one.terminals], one.rung) for one in made.contacts_of(name.text)]
                beside = [i.text for i in said if i.kind == "across" and i.y == name.y + 21]
                assert beside == [str(rung) if there == k else f"/{there}.{rung}" for there, rung in ways]
    assert len({sheet for (name, _), sheet in at.items() if name == "CR9"}) > 1


def test_notes_longer_than_a_sheet_go_on_on_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheets, "HEIGHT", SHORT)
    notes = "".join(f"# - point {k}\n" for k in range(60))
    text = f'circuit "Talk"\n{notes}\npushbutton A\nlamp L\n\nrung 1: A, feeds L\n'
    found = hold(wired(circuit_of(text)), Style.IEC)
    said = [i.text for s in found for i in s.frame if isinstance(i, Text) and i.text.startswith("point")]
    assert said == [f"point {k}" for k in range(60)]
    assert [len(s.parts) for s in found] == [0, 0, 0, 1] or [len(s.parts) for s in found][-1] == 1


def part(height: float) -> Part:
    rung = many_coils(1).rungs[0]
    return Part(rung, None, Drawing((), height, 0.0, 0.0), Stretch(0, 0.0, height, last=True))


@settings(deadline=None)
@given(heights=st.lists(st.integers(10, 110), min_size=1, max_size=9), first=st.integers(60, 100))
def test_rungs_are_dealt_to_the_fewest_sheets_and_those_about_equally_full(heights: list[int], first: int) -> None:
    """Against every way of dealing them: rungs 16 apart, on sheets 100 high; one that is higher has one to itself."""
    rooms = [float(first), 100.0]

    def left(share: tuple[int, int]) -> float | None:
        a, b = share
        room = rooms[0] if a == 0 else rooms[1]
        empty = room - sum(heights[a:b]) - 16 * (b - a - 1)
        return max(empty, 0.0) if empty >= 0 or b == a + 1 else None

    ways = []
    for count in range(len(heights)):
        for cuts in combinations(range(1, len(heights)), count):
            shares = [*pairwise((0, *cuts, len(heights)))]
            empties = [left(share) for share in shares]
            if all(empty is not None for empty in empties):
                ways.append((len(shares), sum(empty**2 for empty in empties if empty is not None)))
    found = _shares([part(float(height)) for height in heights], rooms)
    assert (len(found), sum((left(share) or 0.0) ** 2 for share in found)) == pytest.approx(min(ways))


def test_slave_relays_stay_with_the_relay_they_repeat() -> None:
    """Where that takes no sheet more and leaves none much emptier than another."""
    relays = "".join(f"relay CR{k}\nrelay SL{k}\n" for k in range(20))
    rungs = "".join(f"rung {2 * k + 2}: A, feeds CR{k}\nrung {2 * k + 3}: CR{k}, feeds SL{k}\n" for k in range(20))
    circuit = circuit_of(f'circuit "Slaves"\npushbutton A\nlamp L\n{relays}\nrung 1: A, feeds L\n{rungs}')
    found = laid_out(wired(circuit), HEADING, style=Style.IEC, held=frozenset())
    assert len(found) > 2
    assert all(sheet.parts[0].rung.number % 2 == 0 for sheet in found[1:])
