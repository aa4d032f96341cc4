"""The wiring list says the whole circuit: made again from it alone, every coil has the same contacts before it."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.circuit import circuit_logic
from compiler.machine import Machine
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing as Proved
from compiler.understand import understand
from grammar.rungs.tree import (
    Circuit,
    Contact,
    Form,
    Network,
    Parallel,
    Series,
    contacts,
)
from grammar.source import Source
from targets.build import Built, Rewired, build_all
from targets.choices import Letters
from targets.circuit_papers import circuit_papers
from targets.relay.emit import emit
from targets.target import Artefact, Options
from targets.wiring.alike import lists_unlike, unlike
from targets.wiring.connections import connections, strip_name
from targets.wiring.lists import as_csv, sheets
from targets.wiring.nets import wired
from targets.wiring.read import NoCircuit, circuit_of_lists
from targets.wiring.terminals import _FUNCTIONS
from tests.relay.strategies import circuits
from tests.wiring.from_the_list import rungs_from
from tests.wiring.seal_in import SEAL_IN, circuit_of

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = [
    *sorted((ROOT / "examples").glob("*.seq")),
    *(pytest.param(path, marks=pytest.mark.campaign) for path in sorted((ROOT / "examples" / "large").glob("*.seq"))),
]


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
    return again_from(wires_and_devices(circuit)[0], circuit)


def again_from(wires: str, circuit: Circuit) -> Circuit:
    kinds = {d.name.text: str(d.kind) for d in circuit.devices}
    return circuit_of(rungs_from(wires, kinds, presets(circuit)))


def wires_and_devices(circuit: Circuit, letters: Letters = Letters.AS_NAMED) -> tuple[str, str]:
    listed = {s.key: as_csv(s) for s in sheets(wired(circuit), Machine(), letters=letters)}
    return listed["wires"], listed["devices"]


def printed_of(path: Path) -> tuple[Machine, dict[str, Circuit]]:
    """The machine of an example and the circuit of every arrangement, read back from its printed text."""
    understood = understand(Source(path.name, path.read_text(encoding="utf-8")))
    assert understood.chart is not None
    made = emit(understood.machine, understood.chart, options=Options())
    circuits = {a.name: circuit_of(a.text) for a in made if isinstance(a, Artefact) and a.implementation}
    assert circuits
    return understood.machine, circuits


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_every_circuit_of_an_example_comes_back_from_its_wiring_list(path: Path) -> None:
    """By a reader of this test's own, and by the one every build asks, under other letters as well."""
    for name, circuit in printed_of(path)[1].items():
        assert shapes(rebuilt(circuit)) == shapes(circuit), name
        for letters in (Letters.AS_NAMED, Letters.IEC):
            assert lists_unlike(circuit, sheets(wired(circuit), Machine(), letters=letters)) == (), name


@pytest.mark.parametrize("example", ["bung-press", "crate-stamp", "veneer-press", "weir-gate"])
def test_what_is_wired_from_the_lists_is_proved_the_same_as_the_rungs(example: str) -> None:
    machine, circuits = printed_of(ROOT / "examples" / f"{example}.seq")
    for name, circuit in circuits.items():
        again = circuit_of_lists(*wires_and_devices(circuit, Letters.IEC))
        proof = prove(circuit_logic(circuit, machine), circuit_logic(again, machine), machine)
        assert proof.standing is Proved.SAME, name
        assert not proof.needs, name


def records(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline="")))


def text_of(rows: list[list[str]]) -> str:
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue()


def found(wires: str, devices: str, circuit: Circuit) -> list[str]:
    """What the build's own check says of spoilt lists."""
    try:
        return list(unlike(circuit, circuit_of_lists(wires, devices)))
    except NoCircuit as none:
        return list(none.faults)


def places(text: str) -> list[tuple[int, int]]:
    """The rows of conductors, and the columns in which their ends begin."""
    return [(k, at) for k, row in enumerate(records(text)) if row[0].isdigit() for at in (1, 3)]


@settings(deadline=None, max_examples=40)
@given(data=st.data())
def test_a_wire_led_elsewhere_or_two_numbers_exchanged_are_found(data: st.DataObject) -> None:
    circuit = circuit_of(SEAL_IN)
    wires, devices = wires_and_devices(circuit)
    rows = records(wires)
    (k, at), (other, there) = (data.draw(st.sampled_from(places(wires))) for _ in range(2))
    if rows[k][0] == rows[other][0]:
        return  # the same point
    if data.draw(st.booleans()):
        rows[k][at : at + 2] = rows[other][there : there + 2]
    else:
        rows[k][0], rows[other][0] = rows[other][0], rows[k][0]
    assert found(text_of(rows), devices, circuit)


@settings(deadline=None, max_examples=20)
@given(circuit=circuits(timers=False, comments=False, leaves=4), data=st.data())
def test_ends_exchanged_throughout_are_found_exactly_where_they_matter(circuit: Circuit, data: st.DataObject) -> None:
    """The wires at two terminals change places, every number is still on one point. Whether that is another circuit
    the independent reader tells."""
    if not _plain(circuit):
        return
    wires, devices = wires_and_devices(circuit)
    rows = records(wires)
    ends = [(rows[k][at], rows[k][at + 1]) for k, at in places(wires)]
    contacts_only = sorted({end for end in ends if end[1].isdigit() and len(end[1]) > 1})
    if not contacts_only:
        return
    one, other = (data.draw(st.sampled_from(contacts_only)) for _ in range(2))
    turned = {one: other, other: one}
    for k, at in places(wires):
        rows[k][at : at + 2] = turned.get((rows[k][at], rows[k][at + 1]), rows[k][at : at + 2])
    try:
        expected = shapes(again_from(text_of(rows), circuit)) != shapes(circuit)
    except (AssertionError, ValueError, KeyError):
        expected = True  # a circuit that no rung list can say
    assert bool(found(text_of(rows), devices, circuit)) is expected


def test_a_build_whose_wiring_list_is_wrong_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """The emitter of the list broken on purpose: it leaves a conductor out, or tells a wrong terminal."""
    understood = understand(Source("x.seq", "extend until at-end, hold 2 s, retract"))
    built = build_all(understood, Options(arrangements=("on-delay",)))
    assert built is not None

    def rewired() -> Built:
        papers = circuit_papers(built, understood.machine, Options())
        return replace(built, rewired=tuple(Rewired(one.name, one.unlike) for one in papers))

    assert len(rewired().rewired) == 1
    assert not rewired().found(strict=False)
    monkeypatch.setattr("targets.wiring.lists.connections", lambda circuit: connections(circuit)[:-1])
    assert rewired().found(strict=False)
    monkeypatch.setattr("targets.wiring.lists.connections", connections)
    monkeypatch.setitem(_FUNCTIONS, Form.NCTO, "12")
    assert rewired().found(strict=False)


def test_contacts_that_bridge_one_another_are_named() -> None:
    """Five contacts as in a measuring bridge: neither in series nor side by side."""
    wires = "wire,from,from terminal,to,to terminal,colour\n" + "".join(
        f"{n},{a},{b},{c},{d},\n"
        for n, a, b, c, d in [
            (1, "XD1", 1, "A", 13), (1, "A", 13, "B", 13), (3, "A", 14, "C", 13), (3, "C", 13, "E", 13),
            (4, "B", 14, "D", 13), (4, "D", 13, "E", 14), (5, "C", 14, "D", 14), (5, "D", 14, "K", "A1"),
            (2, "XD1", 2, "K", "A2"),
        ]
    )  # fmt: skip
    kinds = "".join(f"{name},{name},sensor,\n" for name in "ABCDE")
    with pytest.raises(NoCircuit, match="before K bridge one another: A, B, C, D, E"):
        circuit_of_lists(wires, f"designation,name,kind,what\n{kinds}K,K,relay,\n")


def test_a_device_may_be_called_as_the_strip_is() -> None:
    circuit = circuit_of(SEAL_IN.replace("LS1", "XD1"))
    assert strip_name(wired(circuit)) == "XD2"
    assert lists_unlike(circuit, sheets(wired(circuit), Machine())) == ()


def _plain(circuit: Circuit) -> bool:
    """Each coil in one rung, a rung of its own, and no name that is odd in a
    list typed again by hand."""
    feeds = Counter((f.name.text.casefold(), f.terminal) for r in circuit.rungs for f in r.feeds)
    names = [d.name.text for d in circuit.devices]
    return max(feeds.values(), default=0) == 1 and all(name.isascii() and name.isalnum() for name in names)


def come_back(circuit: Circuit) -> None:
    used = {c.name.text for r in circuit.rungs for c in contacts(r.network)} | {
        f.name.text for r in circuit.rungs for f in r.feeds
    }
    if not _plain(circuit) or not used:
        return
    assert shapes(rebuilt(circuit)) == shapes(circuit)
    assert lists_unlike(circuit, sheets(wired(circuit), Machine())) == ()


@settings(deadline=None, max_examples=15)
@given(circuit=circuits(comments=False, leaves=5))
def test_a_random_circuit_comes_back_from_its_wiring_list(circuit: Circuit) -> None:
    come_back(circuit)


@pytest.mark.campaign
@settings(deadline=None, max_examples=2000)
@given(circuit=circuits(comments=False))
def test_many_random_circuits_come_back_from_their_wiring_lists(circuit: Circuit) -> None:
    come_back(circuit)


@settings(deadline=None, max_examples=10)
@given(circuit=circuits(masters=True, comments=False, leaves=5))
def test_names_and_masters_of_any_kind_come_back_as_well(circuit: Circuit) -> None:
    assert lists_unlike(circuit, sheets(wired(circuit), Machine())) == ()
