"""How a circuit settles, against rounds worked out contact by contact: long chains, masters, chattering, power-up."""

from __future__ import annotations

import random

import pytest
import z3  # type: ignore[import-untyped]  # z3 ships no types
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.circuit import circuit_logic, machine_devices
from compiler.logic import Bits, Chattering
from grammar.rungs import read, write
from grammar.rungs.tree import (
    Circuit,
    Contact,
    Device,
    Feed,
    Form,
    Kind,
    Name,
    Network,
    Parallel,
    Rung,
    Series,
    Terminal,
    contacts,
)
from grammar.source import Source
from tests.relay.strategies import MACHINE, circuits
from tests.relay.test_networks import boolean, same


def conducts(network: Network, on: dict[str, bool]) -> bool:
    match network:
        case Contact(name=name, form=form):
            return on[name.text] is (form is Form.NO)
        case Series(parts=parts):
            return all(conducts(part, on) for part in parts)
        case Parallel(parts=parts):
            return any(conducts(part, on) for part in parts)


def settled(circuit: Circuit, relays: dict[str, bool], made: dict[str, bool]) -> dict[str, bool] | None:
    """Relays after as many rounds as it takes, all of them looked at in each; None when it takes more than 500."""
    for _ in range(500):
        after = {
            feed.name.text: conducts(rung.network, relays | made) for rung in circuit.rungs for feed in rung.feeds
        }
        after = {name: on for name, on in after.items() if name in relays}
        if after == relays:
            return relays
        relays = after
    return None


def tangle(rng: random.Random, relays: int) -> Circuit:
    """Many relays, each looking at a few others far and near: more than one group of coils."""
    inputs = [Device(Kind(str(i.kind)), Name(i.name)) for i in MACHINE.inputs]
    coils = [Device(Kind.RELAY, Name(f"CR{k}")) for k in range(relays)]

    def contact() -> Contact:
        return Contact(rng.choice([*inputs, *coils]).name, rng.choice([Form.NO, Form.NO, Form.NC]))

    rungs = []
    for k, coil in enumerate(coils, start=1):
        seal: Network = Parallel((Series((contact(), contact())), Contact(coil.name)))
        first = seal if rng.random() < 0.5 else contact()
        rungs.append(Rung(k, Series((first, contact())), (Feed(coil.name),)))
    load = Rung(relays + 1, Parallel(tuple(Contact(coil.name) for coil in coils)), (Feed(Name("SOL1")),))
    return Circuit("", (), (*inputs, *coils, Device(Kind.SOLENOID, Name("SOL1"))), (*rungs, load))


@pytest.mark.parametrize("relays", [3, 12, 13, 40, 90])
def test_many_relays_settle_as_if_all_were_looked_at_in_every_round(relays: int) -> None:
    rng = random.Random(f"tangle {relays}")
    compared = chattered = 0
    for _ in range(12):
        circuit = tangle(rng, relays)
        logic = circuit_logic(circuit, MACHINE)
        state, expected = None, {f"CR{k}": False for k in range(relays)}
        for _ in range(25):
            inputs: Bits = tuple(rng.random() < 0.3 for _ in MACHINE.inputs)
            found = settled(circuit, expected, {i.name: bit for i, bit in zip(MACHINE.inputs, inputs, strict=True)})
            if found is None:
                with pytest.raises(Chattering):
                    logic.power_up(inputs) if state is None else logic.react(state, inputs)
                chattered += 1
                break
            reaction = logic.power_up(inputs) if state is None else logic.react(state, inputs)
            state, expected = reaction.state, found
            assert state == tuple(expected.values())
            assert reaction.outputs[0] is any(expected.values())
            compared += 1
    assert compared > 20
    assert chattered or relays < 12


def test_a_chain_of_256_relays_picks_up_one_after_another_and_drops_out_together() -> None:
    rungs = ["rung 1: START, STOP NC, feeds CR1"]
    rungs += [f"rung {k}: CR{k - 1}, STOP NC, feeds CR{k}" for k in range(2, 257)]
    text = "\n".join([*rungs, "rung 257: CR256, feeds SOL1\n"])
    devices = machine_devices(MACHINE)
    reading = read(Source("list", text), devices)
    assert reading.sound, reading.diagnostics
    logic = circuit_logic(reading.tree, MACHINE)
    assert logic.reads == ("START", "STOP")
    none = (False,) * len(MACHINE.inputs)
    up = logic.react(logic.power_up(none).state, (True, *none[1:]))
    assert (up.state, up.outputs[0]) == ((True,) * 256, True)
    down = logic.react(up.state, (True, True, *none[2:]))
    assert (down.state, down.outputs[0]) == ((False,) * 256, False)


def test_the_loop_of_a_long_ring_is_named_whole() -> None:
    """Fifty relays in a ring with one NC contact never rest: every one of them is in the loop."""
    text = "rung 1: CR50 NC, START, feeds CR1\n" + "".join(
        f"rung {k}: CR{k - 1}, feeds CR{k}\n" for k in range(2, 51)
    )
    devices = [Device(Kind.PUSHBUTTON, Name("START"))]
    logic = circuit_logic(read(Source("list", text), devices).tree, MACHINE)
    none = (False,) * len(MACHINE.inputs)
    quiet = logic.power_up(none)
    with pytest.raises(Chattering) as chattering:
        logic.react(quiet.state, (True, *none[1:]))
    assert set(chattering.value.loop) == {f"CR{k}" for k in range(1, 51)}


# --- master contacts ------------------------------------------------------------------------------------------


def flat(circuit: Circuit) -> str:
    """The same circuit typed without masters: the words of their contacts put in front of every rung by hand."""
    lines, ahead = [], list[str]()
    for line in write(circuit).splitlines():
        words = line.strip()
        if words.startswith("master "):
            ahead.append(words.removeprefix("master ").removesuffix(":"))
        elif words == "end master":
            ahead.pop()
        else:
            head, colon, rest = words.partition(": ")
            is_rung = words.startswith("rung ") and colon
            lines.append(f"{head}: {', '.join([*ahead, rest])}" if is_rung else words)
    return "\n".join(lines) + "\n"


@settings(max_examples=60, deadline=None)
@given(circuits(comments=False, masters=True))
def test_a_master_is_its_contacts_in_front_of_every_rung(circuit: Circuit) -> None:
    """By z3, rung for rung: what the reader makes of the group, and of the rungs with the words put in by hand."""
    grouped, plain = read(Source("list", write(circuit))).tree, read(Source("list", flat(circuit))).tree
    assert not any(rung.masters for rung in plain.rungs)
    for one, other in zip(grouped.rungs, plain.rungs, strict=True):
        assert one.feeds == other.feeds
        ahead = [boolean(master.network) for master in one.masters]
        assert same(boolean(one.network), boolean(other.network))
        assert same(boolean(one.network), z3.And([*ahead, boolean(one.own)]))


@settings(max_examples=30, deadline=None)
@given(circuits(comments=False, masters=True, timers=False), st.lists(st.tuples(*[st.booleans()] * 5), max_size=8))
def test_a_master_circuit_behaves_as_the_plain_one(circuit: Circuit, history: list[Bits]) -> None:
    one = circuit_logic(read(Source("list", write(circuit))).tree, MACHINE)
    other = circuit_logic(read(Source("list", flat(circuit))).tree, MACHINE)

    def run(logic) -> list[Bits]:  # type: ignore[no-untyped-def]  # either of the two above
        told = []
        try:
            at = logic.power_up((False,) * 5)
            for inputs in history:
                at = logic.react(at.state, inputs)
                told.append(at.outputs)
        except Chattering:
            pass
        return told

    assert run(one) == run(other)


def test_what_a_master_takes_the_supply_from() -> None:
    """A relay and a timer behind it drop out and forget; a latching relay and a counter stay as they are."""
    text = (
        "latching relay KR1\ncounter CT1, preset 1\ntimer TR1, on-delay 1 s\n"
        "master LAMP:\n"
        "    rung 1: START or CR1, feeds CR1\n"
        "    rung 2: START, feeds KR1 latch and CT1 count\n"
        "    rung 3: CR1, feeds TR1\n"
        "    rung 4: STOP, feeds KR1 unlatch and CT1 reset\n"
        "end master\n"
        "rung 5: KR1 and CT1, feeds SOL1\n"
        "rung 6: CR1 or TR1, feeds 2-M\n"
    )
    devices = machine_devices(MACHINE)
    reading = read(Source("list", text), devices)
    assert reading.sound, reading.diagnostics
    assert {feed.terminal for rung in reading.tree.rungs for feed in rung.feeds} >= {Terminal.LATCH, Terminal.RESET}
    assert len(contacts(reading.tree.rungs[3].network)) == 2
    logic = circuit_logic(reading.tree, MACHINE)
    names = [i.name for i in MACHINE.inputs]

    def at(*made: str) -> Bits:
        return tuple(name in made for name in names)

    on = logic.react(logic.power_up(at()).state, at("LAMP", "START"))
    assert on.outputs == (True, False, True, False)
    assert on.running == {0}
    off = logic.react(on.state, at("STOP"))
    assert off.outputs == (True, False, False, False)
    assert off.running == frozenset()
    assert logic.react(off.state, at("LAMP", "STOP")).outputs == (False, False, False, False)
