"""The wiring list says the whole circuit: made again from it alone, every coil has the same contacts before it."""

from __future__ import annotations

import csv
import io
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.machine import Machine
from compiler.understand import understand
from grammar.rungs import read
from grammar.rungs.tree import (
    Circuit,
    Contact,
    Kind,
    Network,
    Parallel,
    Series,
    contacts,
)
from grammar.source import Source
from targets.choices import Letters, Standard, Supply
from targets.relay.emit import emit
from targets.target import CAUTION, Artefact, Options
from targets.wiring.colours import colour
from targets.wiring.connections import STRIP, connections, strip
from targets.wiring.designations import designations
from targets.wiring.lists import Sheet, as_csv, sheets
from targets.wiring.nets import COMMON, LIVE, wired
from tests.relay.strategies import circuits
from tests.wiring.from_the_list import rungs_from

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = sorted((ROOT / "examples").glob("*.seq"))


def circuit_of(text: str) -> Circuit:
    reading = read(Source("x.rungs", text))
    assert reading.sound, reading.diagnostics
    return reading.tree


Shape = tuple[str, tuple["Shape", ...]]


def shape(network: Network) -> Shape:
    """A network with its order taken out: what is in series and what side by side, nested ones of a kind as one."""
    match network:
        case Contact(name=name, form=form):
            return f"{name.text.casefold()} {form}", ()
        case Series(parts=parts) | Parallel(parts=parts):
            kind = type(network).__name__
            inner = [shape(part) for part in parts]
            flat = [each for part in inner for each in (part[1] if part[0] == kind else (part,))]
            return flat[0] if len(flat) == 1 else (kind, tuple(sorted(flat)))


def shapes(circuit: Circuit) -> dict[tuple[str, str], list[Shape]]:
    """For every coil what lies before it."""
    found: dict[tuple[str, str], list[Shape]] = {}
    for rung in circuit.rungs:
        for feed in rung.feeds:
            found.setdefault((feed.name.text.casefold(), str(feed.terminal)), []).append(shape(rung.network))
    return found


def presets(circuit: Circuit) -> dict[str, str]:
    return {
        d.name.text: f", {d.function or 'preset'} {d.preset.number} {d.preset.unit}".rstrip()
        for d in circuit.devices
        if d.preset is not None
    }


def rebuilt(circuit: Circuit) -> Circuit:
    """The circuit made again from the CSV of its wiring list."""
    listed = next(s for s in sheets(wired(circuit), Machine()) if s.key == "wires")
    kinds = {d.name.text: str(d.kind) for d in circuit.devices}
    return circuit_of(rungs_from(as_csv(listed), kinds, presets(circuit)))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_every_circuit_of_an_example_comes_back_from_its_wiring_list(path: Path) -> None:
    understood = understand(Source(path.name, path.read_text(encoding="utf-8")))
    assert understood.machine is not None
    assert understood.chart is not None
    printed = [
        made
        for made in emit(understood.machine, understood.chart, options=Options())
        if isinstance(made, Artefact) and made.implementation
    ]
    assert printed
    for made in printed:
        circuit = circuit_of(made.text)
        assert shapes(rebuilt(circuit)) == shapes(circuit), made.name


def _plain(circuit: Circuit) -> bool:
    """Each coil in one rung, a rung of its own, and no name that is odd in a
    list typed again by hand."""
    feeds = Counter((f.name.text.casefold(), f.terminal) for r in circuit.rungs for f in r.feeds)
    names = [d.name.text for d in circuit.devices]
    return max(feeds.values(), default=0) == 1 and all(name.isascii() and name.isalnum() for name in names)


@settings(deadline=None, max_examples=60)
@given(circuit=circuits())
def test_a_random_circuit_comes_back_from_its_wiring_list(circuit: Circuit) -> None:
    used = {c.name.text for r in circuit.rungs for c in contacts(r.network)} | {
        f.name.text for r in circuit.rungs for f in r.feeds
    }
    if not _plain(circuit) or not used:
        return
    listed = next(s for s in sheets(wired(circuit), Machine()) if s.key == "wires")
    kinds = {d.name.text: str(d.kind) for d in circuit.devices}
    again = circuit_of(rungs_from(as_csv(listed), kinds, presets(circuit)))
    assert shapes(again) == shapes(circuit)


SEAL_IN = """\
pushbutton START
pushbutton STOP
limit switch LS1
relay CR1
timer TR1, on-delay 4 s
solenoid SOL1
lamp BUSY

rung 1: START or CR1, STOP NC, TR1 NCTO, feeds CR1
rung 2: CR1, LS1, feeds TR1
rung 3: CR1, feeds SOL1 and BUSY
"""


def test_wires_and_terminals_of_a_seal_in_circuit_as_an_electrician_numbers_them() -> None:
    """Numbered by hand: rails 1 and 2, a new number after every contact, contacts counted along the rungs."""
    circuit = wired(circuit_of(SEAL_IN))
    found = [(c.device, c.terminals, c.left, c.right) for c in circuit.contacts]
    assert found == [
        ("START", ("13", "14"), 1, 3),
        ("CR1", ("13", "14"), 1, 3),
        ("STOP", ("11", "12"), 3, 4),
        ("TR1", ("15", "16"), 4, 5),
        ("CR1", ("23", "24"), 1, 6),
        ("LS1", ("13", "14"), 6, 7),
        ("CR1", ("33", "34"), 1, 8),
    ]
    assert [(c.device, c.terminals, c.left, c.right) for c in circuit.coils] == [
        ("CR1", ("A1", "A2"), 5, 2),
        ("TR1", ("A1", "A2"), 7, 2),
        ("SOL1", ("1", "2"), 8, 2),
        ("BUSY", ("X1", "X2"), 8, 2),
    ]


@settings(deadline=None, max_examples=60)
@given(circuit=circuits())
def test_a_wire_number_is_one_point_and_one_point_has_one_number(circuit: Circuit) -> None:
    """opentextbc "Basic Motor Control": one number for each electrically common point, another after each device."""
    made = wired(circuit)
    points = made.points()
    assert sorted(points) == [*range(LIVE, max(points) + 1)] if {LIVE, COMMON} <= points.keys() else True
    where: dict[tuple[str, str, int], int] = {}
    for contact in made.contacts:
        assert contact.left != contact.right
        for side in contact.terminals:
            where.setdefault((contact.device, side, contact.rung), 0)
    terminals = [(c.device.casefold(), c.terminals) for c in made.contacts]
    assert len(set(terminals)) == len(terminals)


@settings(deadline=None, max_examples=60)
@given(circuit=circuits())
def test_the_machine_meets_the_panel_at_the_strip_only(circuit: Circuit) -> None:
    made = wired(circuit)
    inside = {Kind.RELAY, Kind.LATCHING_RELAY, Kind.TIMER, Kind.COUNTER}
    outside = {d.name.text.casefold() for d in circuit.devices if d.kind not in inside}
    for one in connections(made):
        ends = [one.here, one.there]
        if any(device.casefold() in outside for device, _ in ends):
            assert (STRIP, str(one.wire)) in ends
    assert {t.wire for t in strip(made)} >= {w for w in (LIVE, COMMON) if w in made.points()}


@given(cells=st.lists(st.text(max_size=12), min_size=1, max_size=4))
def test_csv_is_rfc_4180_and_no_cell_is_a_formula(cells: list[str]) -> None:
    text = as_csv(Sheet("x", "x", tuple(cells), (tuple(cells),)))
    assert text.endswith("\r\n")
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert len(rows) == 3
    assert rows[2] == [CAUTION, *[""] * (len(cells) - 1)]
    for cell, printed in zip(cells, rows[1], strict=True):
        risky = cell.strip()[:1] in {"=", "+", "-", "@"} or cell[:1] in {"\t", "\r"}
        assert printed == (f"'{cell}" if risky else cell)
        assert printed.strip()[:1] not in {"=", "+", "-", "@"}


def test_a_quote_is_doubled_as_in_the_example_of_rfc_4180() -> None:
    assert as_csv(Sheet("x", "x", ("a",), (('a "b"',),))).startswith('a\r\n"a ""b"""\r\n')


def test_colours_follow_the_standard_chosen() -> None:
    """NFPA 79 13.2: ungrounded ac control red, dc control blue, grounded ac white. EN 60204-1 13.2.3: light blue."""
    assert colour(7, Standard.NFPA, Supply.AC) == "red"
    assert colour(7, Standard.NFPA, Supply.DC) == "blue"
    assert colour(COMMON, Standard.NFPA, Supply.AC) == "white"
    assert colour(COMMON, Standard.IEC, Supply.AC) == "light blue"


def test_designations_by_jic_and_by_iec_81346() -> None:
    """JIC/NMTBA EGP1-1967: PB, LS, CR, TR, SOL, LT, the number first. IEC 81346-2: S, B, K, M, P."""
    devices = circuit_of(SEAL_IN).devices
    assert list(designations(devices, Letters.JIC).values()) == ["1PB", "2PB", "1LS", "1CR", "1TR", "1SOL", "1LT"]
    assert list(designations(devices, Letters.IEC).values()) == ["-S1", "-S2", "-B1", "-K1", "-K2", "-M1", "-P1"]
