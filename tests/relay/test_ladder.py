"""The ladder drawing: every contact and coil once, nothing over the edge, wires that meet, and samples to look at."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grammar.rungs import read
from grammar.rungs.tree import (
    Circuit,
    Contact,
    Device,
    Feed,
    Form,
    Kind,
    Master,
    Name,
    Network,
    Parallel,
    Rung,
    Series,
    contacts,
    shared,
)
from grammar.source import Source
from targets.relay.block import wide
from targets.relay.ladder import COLUMNS, ladder
from tests.relay.press import emitted
from tests.relay.strategies import circuits

HERE = Path(__file__).parent
_NC = (Form.NC, Form.NCTO, Form.NCTC)
_UP, _DOWN, _LEFT, _RIGHT = "│├┤└┘", "│├┤┬┌┐", "─┬┐┘┤", "─┬┌└├"


def drawing(circuit: Circuit) -> list[str]:
    """The rungs alone: from the first rung's wire on, without the words above each."""
    rungs = (Rung(r.number, r.network, r.feeds, masters=r.masters) for r in circuit.rungs)
    bare = Circuit("", (), circuit.devices, tuple(rungs))
    legend = len(ladder(Circuit("", (), circuit.devices)))
    return ladder(bare)[legend:]


def drawn(circuit: Circuit) -> Iterator[Network]:
    """What is drawn, each thing once: the contacts of a master where its group begins, of a rung only its own."""
    inside: tuple[Master, ...] = ()
    for rung in circuit.rungs:
        yield from (master.network for master in rung.masters[shared(inside, rung.masters) :])
        inside = rung.masters
        yield rung.own


def check(circuit: Circuit) -> None:
    """Everything a drawing must satisfy, whatever the circuit."""
    lines = drawing(circuit)
    text = "\n".join(lines)
    assert all(wide(line) <= COLUMNS for line in ladder(circuit))
    used = [contact for network in drawn(circuit) for contact in contacts(network)]
    assert text.count("┤ ├") == sum(contact.form not in _NC for contact in used)
    assert text.count("┤/├") == sum(contact.form in _NC for contact in used)
    for form in (Form.NOTC, Form.NCTO, Form.NOTO, Form.NCTC):
        assert len(re.findall(rf"\b{form}\b", text)) == sum(contact.form is form for contact in used)
    labels = [contact.name.text for contact in used] + [f.name.text for rung in circuit.rungs for f in rung.feeds]
    for name in {label for label in labels if len(label) < 20}:
        assert len(re.findall(rf"(?<![\w-]){re.escape(name)}(?![\w-])", text)) >= labels.count(name)
    numbers = [int(found.group(1)) for line in lines if (found := re.match(r" *(\d+) │*├", line))]
    assert numbers == [rung.number for rung in circuit.rungs]


def check_wires(lines: list[str]) -> None:
    """Every end of a wire meets another wire, a contact or a coil: no loose ends, no joint beside its wire."""
    grid = [list(line.ljust(COLUMNS)) for line in lines]
    for above, below in pairwise(grid):
        for k, (over, under) in enumerate(zip(above, below, strict=True)):
            if 6 + _RAILS < k < COLUMNS - 1:
                assert (over in _DOWN_ENDS) <= (under in _UP), (k, "".join(above), "".join(below))
                assert (under in _UP_ENDS) <= (over in _DOWN), (k, "".join(above), "".join(below))


_RAILS = 3  # the masters' rails begin inside the drawing and end at the last rung they feed
_DOWN_ENDS, _UP_ENDS = "┬┌┐", "└┘"


@settings(max_examples=100, deadline=None)
@given(circuits(comments=False, leaves=30, masters=True))
def test_random_circuits_are_drawn_whole(circuit: Circuit) -> None:
    check(circuit)


_ONE = [
    Device(Kind.RELAY, Name("CR1")),
    Device(Kind.SENSOR, Name("A-RATHER-LONG-NAME")),
    Device(Kind.SENSOR, Name("B")),
]


def _nested(depth: int, wide_first: bool) -> Network:
    net: Network = Contact(Name("B"), Form.NC)
    for k in range(depth):
        contact = Contact(Name("A-RATHER-LONG-NAME" if wide_first and k % 3 == 0 else "CR1"))
        net = Parallel((contact, net)) if k % 2 else Series((contact, net))
    return net


@pytest.mark.parametrize("wide_first", [False, True])
@pytest.mark.parametrize("depth", [1, 5, 12, 20, 40, 79])
def test_networks_of_any_depth_are_drawn(depth: int, wide_first: bool) -> None:
    rung = Rung(1, _nested(depth, wide_first), (Feed(Name("CR1")),))
    circuit = Circuit("", (), tuple(_ONE), (rung,))
    check(circuit)
    check_wires(drawing(circuit))


@settings(max_examples=30, deadline=None)
@given(st.lists(st.sampled_from(["CR1", "B", "A-RATHER-LONG-NAME"]), min_size=1, max_size=60))
def test_a_rung_of_any_length_is_folded(names: list[str]) -> None:
    parts = tuple(Contact(Name(name)) for name in names)
    network: Network = Series(parts) if len(parts) > 1 else parts[0]
    circuit = Circuit("", (), tuple(_ONE), (Rung(1, network, (Feed(Name("CR1")),)),))
    check(circuit)
    check_wires(drawing(circuit))


@settings(max_examples=60, deadline=None)
@given(circuits(comments=False, leaves=12, masters=True))
def test_wires_meet(circuit: Circuit) -> None:
    plain = {d.name.text: d for d in circuit.devices}
    narrow = all(wide(name) == len(name) for name in plain)
    if narrow:
        check_wires(drawing(circuit))


def test_rails_stand_in_one_column() -> None:
    for arrangement in ("on-delay", "off-delay", "one-shot", "step-chain"):
        _, drawn = emitted(arrangement, anti_repeat=True)
        rows = [line for line in drawn.text.split("\n") if re.match(r" *\d* [│├]", line)]
        assert rows
        assert {(line[6] in "│├", line[COLUMNS - 1] in "│┤", len(line)) for line in rows} == {(True, True, COLUMNS)}


def test_samples_are_drawn_as_they_were_looked_at() -> None:
    """Looked at by eye and kept: folding, nesting, several coils, long names, every kind of coil."""
    source = Source("samples", (HERE / "samples.rungs").read_text("utf-8"))
    reading = read(source)
    assert reading.sound, reading.diagnostics
    assert "\n".join(ladder(reading.tree)) + "\n" == (HERE / "samples.ladder.txt").read_text("utf-8")
