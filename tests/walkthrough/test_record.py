"""What a record says brought a change about is true of the circuit, and nothing of the run is left out."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from compiler.circuit import circuit_logic, machine_devices
from compiler.simulation.run import Event, EventKind, Role, Run, Scenario, Side
from compiler.simulation.simulate import simulate
from compiler.walk import record
from compiler.walk.continuity import brought_about, missing
from grammar.rungs.tree import Circuit, Contact, Device, Form, Kind, Name, Parallel, Series, contacts
from targets.walkthrough.moments import Teller
from tests.relay.strategies import MACHINE, circuits, networks
from tests.walkthrough.replay import NO_CHART, Replay, all_told, key, live, told_once, ways

_DEVICES = [
    *(d for d in machine_devices(MACHINE) if d.name.text in ("START", "STOP", "LS1")),
    Device(Kind.RELAY, Name("CR0")),
]


@st.composite
def happenings(draw: st.DrawFn) -> Scenario:
    """Inputs that come and go, and now and then the supply, at instants that may coincide with timers."""
    names = [i.name for i in MACHINE.inputs]
    times = st.integers(0, 12).map(lambda k: k * 1_000_000) | st.integers(0, 12_000).map(lambda k: k * 1000)
    event = st.builds(
        lambda at, name, on: Event(at_us=at, kind=EventKind.INPUT, device=name, on=on),
        times,
        st.sampled_from(names),
        st.booleans(),
    ) | st.builds(lambda at, on: Event(at_us=at, kind=EventKind.SUPPLY, on=on), times, st.booleans())
    events = sorted(draw(st.lists(event, min_size=1, max_size=12)), key=lambda e: e.at_us)
    return Scenario(name="anything", duration_us=25_000_000, events=tuple(events))


def _changes(run: Run, side: Side, role: Role) -> list[tuple[int, str, bool]]:
    return sorted((c.at_us, c.signal, c.on) for c in run.changes if c.side is side and c.role is role)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(circuits(comments=False, masters=True, leaves=5), happenings())
def test_every_cause_of_a_random_circuit_is_true(circuit: Circuit, scenario: Scenario) -> None:
    logic = circuit_logic(circuit, MACHINE)
    found = record(MACHINE, logic, scenario)
    run = simulate(MACHINE, logic, scenario)
    replay = Replay(circuit)
    for instant in found.instants:
        replay.follow(instant)
        values = {d.name.text: replay.values[d.name.text.casefold()] for d in circuit.devices}
        for name in instant.lit:  # as the circuit itself tells it
            device, _, count = name.partition(" = ")
            assert not count or values[device] // 2 == int(count)
            assert values[device]
    outputs = sorted((i.at_us, o.signal, o.on) for i in found.instants for o in i.outputs)
    inputs = sorted((i.at_us, c.signal, c.on) for i in found.instants for c in i.inputs)
    end = found.instants[-1].at_us if found.instants else -1
    assert outputs == [c for c in _changes(run, Side.DRIVER, Role.OUTPUT) if c[0] <= end]
    assert inputs == [c for c in _changes(run, Side.WORLD, Role.INPUT) if c[0] <= end]
    assert found.loop == run.loop


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(circuits(comments=False, masters=True, leaves=5), happenings())
def test_every_change_of_a_random_circuit_is_told_once(circuit: Circuit, scenario: Scenario) -> None:
    found = record(MACHINE, circuit_logic(circuit, MACHINE), scenario)
    sentences = all_told(Teller(MACHINE, NO_CHART, by_rungs=True), found.instants)
    told_once(sentences, found.instants)


@settings(max_examples=50, deadline=None)
@given(st.data())
def test_contacts_to_blame_are_to_blame(data: st.DataObject) -> None:
    network = data.draw(networks(_DEVICES))
    every = sorted({key(c) for c in contacts(network)})
    bits = st.lists(st.booleans(), min_size=len(every), max_size=len(every))
    before, now = (dict(zip(every, data.draw(bits), strict=True)) for _ in range(2))
    was, is_now = ({k for k, bit in one.items() if bit} for one in (before, now))
    if live(network, was) is live(network, is_now):
        return
    cause = brought_about(network, before, now)
    blamed = {key(c) for c in cause.contacts}
    assert blamed
    assert blamed <= was ^ is_now
    undone = [is_now ^ {one} for one in blamed] if cause.needed else [is_now ^ blamed]
    assert all(live(network, one) is live(network, was) for one in undone)


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_contacts_that_are_missing_are_enough_and_none_too_many(data: st.DataObject) -> None:
    """Against every way through the network: one that leads through the contact lacks just these, and no other such
    way lacks only some of them."""
    network = data.draw(networks(_DEVICES))
    every = sorted({key(c) for c in contacts(network)})
    bits = st.lists(st.booleans(), min_size=len(every), max_size=len(every))
    closed = dict(zip(every, data.draw(bits), strict=True))
    wanted = data.draw(st.sampled_from(every))
    closed[wanted] = True
    lacking = {frozenset(k for k in way if not closed[k]) for way in ways(network) if wanted in way}
    found = frozenset(key(c) for c in missing(network, closed, wanted))
    assert found in lacking
    assert not any(other < found for other in lacking)


def test_a_seal_in_and_what_opens_it() -> None:
    start, stop, own = Contact(Name("START")), Contact(Name("STOP"), Form.NC), Contact(Name("CR1"))
    network = Series((Parallel((start, own)), stop))
    rest = {key(start): False, key(own): False, key(stop): True}
    pressed, sealed = rest | {key(start): True}, rest | {key(own): True}
    assert brought_about(network, rest, pressed).contacts == (start,)
    assert brought_about(network, sealed, sealed | {key(stop): False}).contacts == (stop,)
    both = brought_about(network, rest, pressed | {key(own): True})
    assert both.contacts == (start, own)
    assert not both.needed


@pytest.mark.campaign
@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(circuits(comments=False, masters=True, leaves=5), happenings())
def test_many_random_circuits_are_told_truly_and_once(circuit: Circuit, scenario: Scenario) -> None:
    found = record(MACHINE, circuit_logic(circuit, MACHINE), scenario)
    told_once(all_told(Teller(MACHINE, NO_CHART, by_rungs=True), found.instants), found.instants)
    replay = Replay(circuit)
    for instant in found.instants:
        replay.follow(instant)
