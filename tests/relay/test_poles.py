"""Contacts shared out among relays: no relay is asked for more than it has, and the circuit does what it did."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from grammar.rungs import read
from grammar.rungs.tree import Device, Feed, Form, Kind, Master, Name, Network, Preset, TimerFunction, wired
from grammar.source import Source
from targets.relay import TARGET
from targets.relay.draft import Draft, uses
from targets.relay.network import Unfit, contact, nc, parallel, series
from targets.relay.poles import dealt
from targets.target import Artefact, Options
from tests.relay.clock import play_both
from tests.relay.strategies import MACHINE, resting_charts
from tests.strategies_chart import Moment, histories

_KINDS = (Kind.RELAY, Kind.LATCHING_RELAY, Kind.TIMER, Kind.COUNTER)


def _draft(net: Network, *names: str) -> Draft:
    return Draft(net, tuple(Feed(Name(name)) for name in names), "", "")


def _coil(name: str) -> Device:
    return Device(Kind.RELAY, Name(name))


def _rungs(count: int, used: str) -> list[Draft]:
    return [_draft(contact(used), f"L{k}") for k in range(count)]


def _names(drafts: list[Draft]) -> Counter[str]:
    return Counter(use.contact.name.text for use in uses(drafts))


def test_a_relay_with_too_few_poles_gets_another_with_its_coil_in_parallel() -> None:
    drafts = [_draft(contact("START"), "CR1"), *_rungs(9, "CR1")]
    devices, dealt_out, told = dealt([_coil("CR1"), _coil("CR2")], drafts, 4, {"cr1", "cr2", "cr1a"})
    assert [device.name.text for device in devices] == ["CR1", "CR1B", "CR1C", "CR2"]  # CR1A is taken
    assert [feed.name.text for feed in dealt_out[0].feeds] == ["CR1", "CR1B", "CR1C"]
    assert _names(dealt_out) == {"START": 1, "CR1": 4, "CR1B": 4, "CR1C": 1}
    assert told == ("CR1 needs 9 contacts: CR1B, CR1C beside it",)


def test_nothing_changes_where_there_are_poles_enough() -> None:
    drafts = [_draft(contact("START"), "CR1"), *_rungs(4, "CR1")]
    assert dealt([_coil("CR1")], drafts, 4, {"cr1"}) == ([_coil("CR1")], drafts, ())


def test_the_seal_in_and_what_breaks_others_stay_on_the_relay_itself() -> None:
    seal = series(parallel(contact("START"), contact("CR1")), nc("CR2"))
    drafts = [
        *_rungs(3, "CR1"),
        Draft(seal, (Feed(Name("CR1")),), "", ""),
        Draft(series(parallel(contact("LS1"), contact("CR2")), nc("CR1")), (Feed(Name("CR2")),), "", ""),
    ]
    _, dealt_out, _ = dealt([_coil("CR1"), _coil("CR2")], drafts, 2, set())
    assert dealt_out[3].network == seal
    assert dealt_out[4].network == drafts[4].network
    assert _names(dealt_out)["CR1A"] == 2


def test_a_master_contact_is_wired_once_for_all_its_rungs() -> None:
    master = Master(contact("CR1"))
    behind = [Draft(contact("LS1"), (Feed(Name(name)),), "", "", (master,)) for name in "ABC"]
    drafts = [_draft(contact("START"), "CR1"), *behind]
    assert _names(drafts) == {"START": 1, "CR1": 1, "LS1": 3}
    assert [(use.first, use.last) for use in uses(drafts) if use.master] == [(2, 4)]


def test_a_timer_is_repeated_by_a_slave_relay_for_each_way_its_contacts_move() -> None:
    timer = Device(Kind.TIMER, Name("TR1"), TimerFunction.ON_DELAY, Preset("5", "s"))
    timed = [_draft(contact("TR1", form), f"L{k}") for k, form in enumerate([Form.NOTC] * 3 + [Form.NCTO] * 2)]
    at_once = [_draft(contact("TR1", Form.NC), "M1")]
    devices, dealt_out, told = dealt([timer], [_draft(contact("START"), "TR1"), *timed, *at_once], 4, set())
    assert [device.name.text for device in devices] == ["TR1", "CR1", "CR2"]
    assert dealt_out[3].network == contact("CR1")  # two of its four contacts feed the slaves
    assert dealt_out[5].network == nc("CR1")
    assert dealt_out[6].network == nc("CR2")
    assert [(d.network, d.feeds[0].name.text) for d in dealt_out[7:]] == [
        (contact("TR1", Form.NOTC), "CR1"),
        (contact("TR1", Form.NO), "CR2"),
    ]
    assert _names(dealt_out)["TR1"] == 4
    assert told == ("TR1 needs 6 contacts: CR1 and CR2 repeat it",)


def test_one_pole_is_too_few() -> None:
    with pytest.raises(Unfit, match="needs two poles"):
        dealt([_coil("CR1")], [], 1, set())


def _keeps_to(chart: Chart, machine_poles: int, history: list[Moment], arrangement: str) -> str | None:
    options = Options(anti_repeat=True, arrangements=(arrangement,), poles=machine_poles)
    emitted = next(iter(TARGET.emit(MACHINE, chart, options=options)))
    if not isinstance(emitted, Artefact):
        return None
    circuit = read(Source(emitted.file, emitted.text)).tree
    coils = {device.name.text for device in circuit.devices if device.kind in _KINDS}
    asked = Counter(used.name.text for used in wired(circuit) if used.name.text in coils)
    assert max(asked.values(), default=0) <= machine_poles, emitted.text
    moments = [(moment.pause_us, moment.inputs) for moment in history]
    printed = TARGET.read(emitted.text, emitted.file, MACHINE)
    return play_both(chart_logic(chart), printed, moments, joint=False)


@settings(phases=(Phase.generate,), max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(resting_charts(), st.integers(2, 5), histories(len(MACHINE.inputs), most=30))
def test_a_chain_that_was_shared_out_is_the_chart_again(chart: Chart, poles: int, history: list[Moment]) -> None:
    for arrangement in ("step-chain", "one-hot"):
        difference = _keeps_to(chart, poles, history, arrangement)
        assert difference is None, difference
