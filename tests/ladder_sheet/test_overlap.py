"""Nothing on a sheet lies on anything else, and its wires connect what the circuit connects: every example, random
circuits, long names; and a layout broken on purpose is noticed."""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings

from compiler.machine import Machine
from compiler.understand import understand
from grammar.rungs.tree import Circuit
from grammar.source import Source
from targets.choices import Style
from targets.drawing.figure import Item, Line, Text
from targets.ladder_sheet import Heading, held_switches, ladder_sheets, lettering, pieces
from targets.ladder_sheet.sheets import HEIGHT, SheetOfRungs, laid_out
from targets.relay.emit import emit
from targets.target import Artefact, Options
from targets.wiring.nets import WiredCircuit, WiredCoil, WiredContact, wired
from tests.ladder_sheet.from_the_sheet import Symbol, symbols_of
from tests.ladder_sheet.geometry import clashes, loose_ends, shorts
from tests.relay.strategies import circuits
from tests.wiring.seal_in import SEAL_IN, circuit_of

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = sorted((ROOT / "examples").glob("**/*.seq"))
HEADING = Heading("Barrel bung press", "one-hot chain", "same, whatever its inputs do (6 situations, every timing)")


@cache
def printed_of(path: Path) -> tuple[Machine, dict[str, Circuit]]:
    understood = understand(Source(path.name, path.read_text(encoding="utf-8")))
    assert understood.chart is not None
    made = emit(understood.machine, understood.chart, options=Options())
    return understood.machine, {
        a.name: circuit_of(a.text) for a in made if isinstance(a, Artefact) and a.implementation
    }


def items_of(sheet: SheetOfRungs) -> list[Item]:
    return [*sheet.frame, *(item for part in sheet.parts for item in part.items)]


def expected_ends(made: WiredCircuit) -> Counter[int]:
    """Two ends at every symbol, numbered as the wires it stands between."""
    return Counter(
        [wire for one in made.contacts for wire in (one.left, one.right)]
        + [wire for one in made.coils for wire in (one.left, one.right)]
    )


def hold(made: WiredCircuit, style: Style, held: frozenset[str] = frozenset()) -> list[SheetOfRungs]:
    """The sheets, when nothing is amiss with them."""
    sheets = laid_out(made, HEADING, style=style, held=held)
    ends: Counter[int] = Counter()
    for sheet in sheets:
        items = items_of(sheet)
        assert clashes(items) == []
        assert shorts(items) == []
        ends += loose_ends(items)
    assert ends == expected_ends(made)
    return sheets


def rungs_of(sheets: list[SheetOfRungs]) -> list[tuple[str, float]]:
    """The numbers of rungs and their heights."""
    return [(i.text, i.y) for s in sheets for i in items_of(s) if isinstance(i, Text) and i.kind == "number"]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_sheets_of_every_example_are_clear_and_connect_what_the_circuit_connects(path: Path) -> None:
    """They fit their page as well, and either style has its rungs at the same heights."""
    machine, circuits_of = printed_of(path)
    for circuit in circuits_of.values():
        sheets = {style: hold(wired(circuit), style, held_switches(machine)) for style in Style}
        one, other = map(rungs_of, sheets.values())
        assert one == other
        assert [text for text, _ in one] == [str(rung.number) for rung in circuit.rungs]
        assert all(sheet.height <= HEIGHT for some in sheets.values() for sheet in some)


def read_off(made: WiredCircuit, style: Style) -> Counter[Symbol]:
    sheets = ladder_sheets(made, HEADING, style=style, held=frozenset())
    return Counter(symbol for sheet in sheets for symbol in symbols_of(sheet))


def expected_symbols(made: WiredCircuit) -> Counter[Symbol]:
    both: tuple[WiredContact | WiredCoil, ...] = (*made.contacts, *made.coils)
    return Counter((made.device(one.device).name.text, one.terminals, one.left, one.right) for one in both)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_the_whole_wiring_is_read_off_the_printed_sheets(path: Path) -> None:
    """From the SVG alone: every contact and coil under its name, with its terminals, between its wires."""
    for circuit in printed_of(path)[1].values():
        made = wired(circuit)
        for style in Style:
            assert read_off(made, style) == expected_symbols(made)


def test_a_sheet_drawn_wrong_is_not_read_as_the_circuit(monkeypatch: pytest.MonkeyPatch) -> None:
    made = wired(circuit_of(SEAL_IN))
    in_order = pieces._row
    with monkeypatch.context() as broken:  # contacts in another order: each still tells its own wires, which now meet
        broken.setattr(pieces, "_row", lambda some: in_order([*reversed(some)]))
        assert any(shorts(items_of(s)) for s in laid_out(made, HEADING, style=Style.IEC, held=frozenset()))
    monkeypatch.setattr("targets.ladder_sheet.symbols.fitting", lambda text, room, kind: text[:2])
    assert read_off(made, Style.IEC) != expected_symbols(made)


@pytest.mark.parametrize("style", Style)
@settings(deadline=None, max_examples=8)
@given(circuit=circuits(masters=True, leaves=7))
def test_sheets_of_random_circuits_are_clear(circuit: Circuit, style: Style) -> None:
    hold(wired(circuit), style, frozenset({"ls1"}))


@pytest.mark.campaign
@pytest.mark.parametrize("style", Style)
@settings(deadline=None, max_examples=1000)
@given(circuit=circuits(masters=True, leaves=40))
def test_sheets_of_many_large_random_circuits_are_clear(circuit: Circuit, style: Style) -> None:
    hold(wired(circuit), style, frozenset({"ls1"}))


_LONG = [
    "W" * 30,
    "PARTS_PRESENT_AT_THE_INFEED_1",
    "größe",
    "寸法寸法寸法寸法寸法",
    "مفتاح البداية الطويل",
    "🦀" * 9,
    "<b>&'c'</b>",
]


@pytest.mark.parametrize("style", Style)
@pytest.mark.parametrize("name", _LONG)
def test_a_long_or_foreign_name_stays_in_its_place(name: str, style: Style) -> None:
    text = SEAL_IN
    for known in ("LS1", "CR1", "SOL1"):
        text = text.replace(f" {known}", f' "{name}{known}"')
    hold(wired(circuit_of(text)), style)
    heading = Heading(name * 9, name * 5, name * 60, name * 3)
    for sheet in laid_out(wired(circuit_of(text)), heading, style=style, held=frozenset()):
        assert clashes(items_of(sheet)) == []


def test_a_layout_broken_on_purpose_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    made = wired(circuit_of(SEAL_IN))
    with monkeypatch.context() as broken:  # rows too close
        broken.setattr("targets.ladder_sheet.pieces.ROW", 30.0)
        assert any(clashes(items_of(s)) for s in laid_out(made, HEADING, style=Style.IEC, held=frozenset()))
    with monkeypatch.context() as broken:  # letters larger than the layout thinks
        broken.setitem(lettering.SIZES, "device", 30.0)
        broken.setattr("targets.ladder_sheet.symbols.fitting", lambda text, room, kind: text)
        broken.setattr("targets.ladder_sheet.symbols.width", lambda text, kind: 0.0)
        assert any(clashes(items_of(s)) for s in laid_out(made, HEADING, style=Style.IEC, held=frozenset()))
    with monkeypatch.context() as broken:  # a branch joined to the wrong wire
        broken.setattr("targets.ladder_sheet.pieces.Line", lambda a, b, c, d, kind, wire: Line(a, b, c, d, kind, 9))
        assert any(shorts(items_of(s)) for s in laid_out(made, HEADING, style=Style.IEC, held=frozenset()))
    with monkeypatch.context() as broken:  # a branch that ends in nothing
        broken.setattr("targets.ladder_sheet.pieces.CELL", 60.0)
        sheets = laid_out(made, HEADING, style=Style.IEC, held=frozenset())
        assert sum((loose_ends(items_of(s)) for s in sheets), Counter()) != expected_ends(made)
