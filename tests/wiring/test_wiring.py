"""Wire numbers, terminals, strip, colours, designations and lists as CSV, against the standards they follow."""

from __future__ import annotations

import csv
import io
from itertools import count, pairwise

import networkx as nx  # type: ignore[import-untyped]
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.rungs.tree import (
    Circuit,
    Contact,
    Kind,
    Network,
    Parallel,
    Series,
)
from targets.choices import Letters, Standard, Supply
from targets.target import CAUTION
from targets.wiring.colours import colour
from targets.wiring.connections import connections, strip, strip_name
from targets.wiring.designations import designations
from targets.wiring.lists import Sheet, as_csv
from targets.wiring.nets import COMMON, LIVE, WiredCoil, WiredContact, wired
from tests.relay.strategies import circuits
from tests.wiring.seal_in import SEAL_IN, circuit_of


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


def electrically(circuit: Circuit) -> nx.Graph:
    """The points of a circuit, drawn from its tree alone: a node for each side of a network and each terminal, an
    edge where nothing lies between two. The devices' own terminals come last in a node."""
    graph = nx.Graph()
    numbers = count()

    def lay(network: Network, left: object, right: object) -> None:
        match network:
            case Contact(name=name):
                place = next(numbers)
                graph.add_edge(left, (place, name.text, 0))
                graph.add_edge((place, name.text, 1), right)
            case Series(parts=()):
                graph.add_edge(left, right)
            case Series(parts=parts):
                between = [("between", next(numbers)) for _ in parts[1:]]
                for part, (a, b) in zip(parts, pairwise([left, *between, right]), strict=True):
                    lay(part, a, b)
            case Parallel(parts=parts):
                for part in parts:
                    ends = ("in", next(numbers)), ("out", next(numbers))
                    graph.add_edges_from([(left, ends[0]), (ends[1], right)])
                    lay(part, *ends)

    for rung in circuit.rungs:
        end = ("end", rung.number)
        lay(rung.network, "live", end)
        for feed in rung.feeds:
            place = next(numbers)
            graph.add_edge(end, (place, feed.name.text, 0))
            graph.add_edge((place, feed.name.text, 1), "common")
    return graph


@settings(deadline=None, max_examples=15)
@given(circuit=circuits(comments=False, leaves=5))
def test_wire_numbers_are_one_to_one_with_what_is_electrically_one(circuit: Circuit) -> None:
    """opentextbc "Basic Motor Control": one number for each electrically common point, another after each device.
    Points are the connected components of a graph made from the tree alone (networkx)."""
    parts = list(nx.connected_components(electrically(circuit)))
    devices = [[(node[1].casefold(), node[2]) for node in part if len(node) == 3] for part in parts]
    made = wired(circuit)
    sides: dict[int, list[tuple[str, int]]] = {}
    both: tuple[WiredContact | WiredCoil, ...] = (*made.contacts, *made.coils)
    for one in both:
        sides.setdefault(one.left, []).append((one.device.casefold(), 0))
        sides.setdefault(one.right, []).append((one.device.casefold(), 1))
    assert sorted(map(sorted, sides.values())) == sorted(sorted(part) for part in devices if part)
    assert sorted(made.points()) == sorted(sides)
    terminals = [(c.device.casefold(), c.terminals) for c in made.contacts]
    assert len(set(terminals)) == len(terminals)


@settings(deadline=None, max_examples=15)
@given(circuit=circuits(comments=False, leaves=5))
def test_the_machine_meets_the_panel_at_the_strip_only(circuit: Circuit) -> None:
    made = wired(circuit)
    inside = {Kind.RELAY, Kind.LATCHING_RELAY, Kind.TIMER, Kind.COUNTER}
    outside = {d.name.text.casefold() for d in circuit.devices if d.kind not in inside}
    for one in connections(made):
        ends = [one.here, one.there]
        if any(device.casefold() in outside for device, _ in ends):
            assert (strip_name(made), str(one.wire)) in ends
    assert {t.wire for t in strip(made)} >= {w for w in (LIVE, COMMON) if w in made.points()}


@given(cells=st.lists(st.text(max_size=12), min_size=1, max_size=4))
def test_csv_is_rfc_4180_and_no_cell_is_a_formula(cells: list[str]) -> None:
    text = as_csv(Sheet("x", "x", tuple(cells), (tuple(cells),)))
    assert text.endswith("\r\n")
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert len(rows) == 3
    assert rows[2] == [CAUTION, *[""] * (len(cells) - 1)]
    for cell, printed in zip(cells, rows[1], strict=True):
        bare = cell.lstrip("'")  # or an apostrophe of the name itself would be taken for one put before it
        risky = bare.lstrip(" \t\r\n")[:1] in {"=", "+", "-", "@"} or bare[:1] in {"\t", "\r"}
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
