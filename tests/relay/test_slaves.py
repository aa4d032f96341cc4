"""Slave relays of a step chain: in and out after their relay, and before what comes next."""

from __future__ import annotations

from collections import Counter

import pytest

from compiler.circuit import circuit_logic
from compiler.machine import Machine
from compiler.races import RaceKind, RelayTimes, open_world, races
from compiler.understand import understand
from grammar.rungs import read
from grammar.rungs.tree import Circuit, Device, Feed, Kind, Name, Network, wired
from grammar.rungs.write import write_network
from grammar.source import Source
from targets.relay import TARGET, step_chain
from targets.relay.draft import Draft
from targets.relay.network import contact, nc, parallel, series
from targets.relay.poles import dealt
from targets.relay.slaves import Chained
from targets.target import Artefact, Options
from tests.whole.programs import EXAMPLES, example

_TIMES = RelayTimes(pick_up=(5_000, 20_000), drop_out=(3_000, 15_000), middle=2_000)
"""Invented, of the size that data sheets of small relays give (common practice)."""

_BACK_AND_FORTH = """\
pneumatic cylinder A
    stroke 80 mm, extends in 0.6 s to 1 s, retracts in 0.5 s to 0.9 s
    single solenoid valve Y1, spring return
    limit switch LS1 at end, LS2 at home
pneumatic cylinder B
    stroke 60 mm, extends in 2 s to 3 s, retracts in 1 s to 1.4 s
    double solenoid valve Y2 extends, Y3 retracts
    limit switch LS3 at end, LS4 at home
selector AUTO
pushbutton STOP, normally closed
cycle
    when AUTO is on
    extend A, extend B, retract B, retract A
when STOP is pressed, drop out everything
"""


def _rung(net: Network, fed: str) -> Draft:
    return Draft(net, (Feed(Name(fed)),), "", "")


def _shared_out(drafts: list[Draft], poles: int) -> list[str]:
    """A chain of CR1, CR2 and CR3, the last, with CR9 beside it."""
    devices = [Device(Kind.RELAY, Name(name)) for name in ("CR1", "CR2", "CR3", "CR9")]
    chained = Chained(frozenset({"CR1", "CR2", "CR3"}), frozenset({"CR3"}))
    _, rungs, _ = dealt(devices, drafts, poles, set(), chained)
    return [f"{write_network(rung.network)} > {' '.join(feed.name.text for feed in rung.feeds)}" for rung in rungs]


def test_what_comes_next_hangs_on_the_last_slave_and_the_rest_is_dealt_out_between() -> None:
    """By hand, for relays of three poles: CR1 has six contacts and so needs two slaves, CR3 has four and needs one.
    The NC contact of CR1 at LB is dealt out before the NO ones; that of CR3 at CR1 hands on to the next cycle."""
    drafts = [
        _rung(series(parallel(contact("START"), contact("CR1")), nc("CR3")), "CR1"),
        _rung(series(contact("CR1"), parallel(contact("LS1"), contact("CR2"))), "CR2"),
        _rung(series(contact("CR2"), parallel(contact("LS2"), contact("CR3"))), "CR3"),
        _rung(contact("CR1"), "LA"),
        _rung(nc("CR1"), "LB"),
        _rung(contact("CR1"), "LC"),
        _rung(contact("CR1"), "LD"),
        _rung(contact("CR3"), "LE"),
        _rung(contact("CR3"), "LF"),
    ]
    assert _shared_out(drafts, 3) == [
        "START or CR1, CR3A NC > CR1",
        "CR1 > CR1A",
        "CR1A > CR1B",
        "CR1B, LS1 or CR2 > CR2",
        "CR2, LS2 or CR3 > CR3",
        "CR3 > CR3A",
        "CR1A > LA",
        "CR1 NC > LB",
        "CR1A > LC",
        "CR1B > LD",
        "CR3 > LE",
        "CR3A > LF",
    ]


def test_a_relay_beside_the_chain_feeds_its_slaves_side_by_side() -> None:
    drafts = [_rung(contact("STOP"), "CR9"), *(_rung(contact("CR9"), f"L{k}") for k in range(7))]
    assert _shared_out(drafts, 3)[:2] == ["STOP > CR9", "CR9 > CR9A CR9B"]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_no_relay_of_a_step_chain_is_asked_for_more_than_four_contacts(path) -> None:  # type: ignore[no-untyped-def]
    understood = example(path.stem)
    assert understood.chart is not None
    made = next(iter(TARGET.emit(understood.machine, understood.chart, options=_options(0))))
    assert isinstance(made, Artefact)
    tree = read(Source(made.file, made.text)).tree
    relays = {device.name.text for device in tree.devices if device.kind is Kind.RELAY}
    assert max(Counter(used.name.text for used in wired(tree) if used.name.text in relays).values()) <= 4


def _options(poles: int) -> Options:
    return Options(anti_repeat=True, arrangements=("step-chain",), poles=poles)


def _chain(poles: int) -> tuple[Machine, Circuit]:
    understood = understand(Source("test", _BACK_AND_FORTH))
    assert understood.chart is not None
    made = next(iter(TARGET.emit(understood.machine, understood.chart, options=_options(poles))))
    assert isinstance(made, Artefact)
    return understood.machine, read(Source(made.file, made.text)).tree


def _critical(machine: Machine, tree: Circuit) -> list[tuple[str, ...]]:
    times = dict.fromkeys((device.name.text for device in tree.devices), _TIMES)
    found = races(tree, machine, open_world(circuit_logic(tree, machine), limit=4_000).stimuli, times=times)
    assert found.settled, found.why
    return [race.lines for race in found.found if race.kind is RaceKind.CRITICAL]


@pytest.mark.parametrize("poles", [2, 3])
def test_a_chain_with_slaves_has_no_critical_race(poles: int) -> None:
    """AUTO stays on, so the cycle begins anew the very moment the last relay lets it."""
    machine, tree = _chain(poles)
    assert any(device.name.text == "CR1A" for device in tree.devices)
    assert not _critical(machine, tree)


def test_coils_in_parallel_would_have_some(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(step_chain, "_chained", lambda _: None)
    assert _critical(*_chain(3))
