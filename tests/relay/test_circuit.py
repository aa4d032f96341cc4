"""What a circuit does: timed contacts and time relays against the trade's tables, chattering, power-up."""

from __future__ import annotations

import pytest

from compiler.circuit import circuit_faults, circuit_logic
from compiler.logic import Chattering
from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from grammar.rungs import read
from grammar.source import Source
from tests.relay.clock import trace

_S = 1_000_000
_MACHINE = Machine(
    inputs=(
        Input(name="IN", kind=InputKind.SENSOR),
        Input(name="OFF", kind=InputKind.PUSHBUTTON),
        Input(name="SUPPLY", kind=InputKind.SELECTOR),
    ),
    loads=(Load(name="Q", kind=LoadKind.LAMP), Load(name="P", kind=LoadKind.LAMP)),
)
_HEAD = "sensor IN\npushbutton OFF\nselector SUPPLY\nlamp Q\nlamp P\n"

# Input patterns: the spans of time, in seconds, in which IN is made.
_PATTERNS = {
    "A": [(1, 3)],
    "B": [(1, 9)],
    "C": [(1, 3), (5, 12)],
    "D": [(1, 2), (4, 5), (8, 9)],
}


def logic(text: str):  # type: ignore[no-untyped-def]  # the tests below read better without
    reading = read(Source("list", _HEAD + text))
    assert reading.sound, reading.diagnostics
    return circuit_logic(reading.tree, _MACHINE)


def spans(text: str, made: list[tuple[int, int]], *, load: int = 0, until: int = 40) -> list[tuple[float, float]]:
    """The spans of time in which a load is on, in seconds."""
    events = {0: (False, False, False)}
    for start, end in made:
        events |= {start * _S: (True, False, False), end * _S: (False, False, False)}
    changes = trace(logic(text), sorted(events.items()), until * _S)
    times = [*(at / _S for at, _ in changes), float(until)]
    found: list[tuple[float, float]] = []
    for (_, outputs), since, until_then in zip(changes, times, times[1:], strict=False):
        if outputs[load] is True:
            merged = found and found[-1][1] == since
            found = [*found[:-1], (found[-1][0], until_then)] if merged else [*found, (since, until_then)]
    return found


@pytest.mark.parametrize(
    ("kind", "form", "pattern", "closed"),
    [
        ("on-delay", "NOTC", "B", [(6, 9)]),
        ("on-delay", "NCTO", "B", [(0, 6), (9, 40)]),
        ("off-delay", "NOTO", "B", [(1, 14)]),
        ("off-delay", "NCTC", "B", [(0, 1), (14, 40)]),
        ("on-delay", "NOTC", "A", []),
        ("on-delay", "NCTO", "A", [(0, 40)]),
        ("off-delay", "NOTO", "A", [(1, 8)]),
        ("off-delay", "NCTC", "A", [(0, 1), (8, 40)]),
        ("on-delay", "NO", "B", [(1, 9)]),
        ("on-delay", "NC", "B", [(0, 1), (9, 40)]),
        ("off-delay", "NO", "B", [(1, 9)]),
        ("off-delay", "NC", "B", [(0, 1), (9, 40)]),
    ],
)
def test_timed_contacts_close_and_open_as_their_names_say(
    kind: str, form: str, pattern: str, closed: list[tuple[int, int]]
) -> None:
    """North American names of timed contacts: names from a published teaching text on time-delay relays (timed
    contacts NOTC, NCTO, NOTO, NCTC), times derived by hand from them."""
    text = f"timer TR1, {kind} 5 s\nrung 1: IN, feeds TR1\nrung 2: TR1 {form}, feeds Q\n"
    assert spans(text, _PATTERNS[pattern]) == closed


@pytest.mark.parametrize(
    ("kind", "form", "pattern", "on"),
    [
        ("on-delay", "NOTC", "A", []),
        ("on-delay", "NOTC", "B", [(6, 9)]),
        ("on-delay", "NOTC", "C", [(10, 12)]),
        ("off-delay", "NOTO", "A", [(1, 8)]),
        ("off-delay", "NOTO", "B", [(1, 14)]),
        ("off-delay", "NOTO", "C", [(1, 17)]),
        ("one-shot", "NO", "A", [(1, 6)]),
        ("one-shot", "NO", "B", [(1, 6)]),
        ("one-shot", "NO", "C", [(1, 6)]),
        ("one-shot", "NO", "D", [(1, 6), (8, 13)]),
        ("retriggerable one-shot", "NO", "A", [(1, 6)]),
        ("retriggerable one-shot", "NO", "B", [(1, 6)]),
        ("retriggerable one-shot", "NO", "C", [(1, 10)]),
        ("retriggerable one-shot", "NO", "D", [(1, 13)]),
    ],
)
def test_time_relays_follow_the_tables(kind: str, form: str, pattern: str, on: list[tuple[int, int]]) -> None:
    """IEC 61131-3:2013 Table 46 timing of TON, TOF, TP (from memory), preset 5 s; the retriggerable one-shot is a
    time relay of common practice."""
    wired = "rung 1: feeds TR1 supply\nrung 2: IN, feeds TR1 control\n"
    text = f"timer TR1, {kind} 5 s\n{wired}rung 3: TR1 {form}, feeds Q\n"
    assert spans(text, _PATTERNS[pattern]) == on


@pytest.mark.parametrize(
    ("kind", "form"), [("off-delay", "NOTO"), ("one-shot", "NO"), ("retriggerable one-shot", "NO")]
)
def test_losing_the_supply_resets_a_timer_at_once(kind: str, form: str) -> None:
    text = (
        f"timer TR1, {kind} 5 s\nrung 1: SUPPLY, feeds TR1 supply\nrung 2: IN, feeds TR1 control\n"
        f"rung 3: TR1 {form}, feeds Q\n"
    )
    events = [
        (0, (False, False, True)),
        (1 * _S, (True, False, True)),
        (2 * _S, (True, False, False)),  # supply lost in mid-timing
        (3 * _S, (True, False, True)),  # and back, the control still made: that counts as a rise
        (20 * _S, (True, False, False)),
        (21 * _S, (False, False, True)),  # back without control: nothing
    ]
    changes = [(at // _S, outputs[0]) for at, outputs in trace(logic(text), events, 60 * _S)]
    ends = 20 if kind == "off-delay" else 8
    assert changes == [(0, False), (1, True), (2, False), (3, True), (ends, False)]


def test_an_on_delay_that_loses_its_supply_times_anew() -> None:
    """IEC 61812-1:2011 clause 3 (from memory): timing starts with supply and control; without supply it is reset."""
    text = (
        "timer TR1, on-delay 5 s\nrung 1: SUPPLY, feeds TR1 supply\nrung 2: IN, feeds TR1 control\n"
        "rung 3: TR1 NOTC, feeds Q\n"
    )
    events = [
        (0, (False, False, True)),
        (1 * _S, (True, False, True)),
        (2 * _S, (True, False, False)),
        (3 * _S, (True, False, True)),
        (20 * _S, (True, False, False)),
        (21 * _S, (False, False, True)),
    ]
    changes = [(at // _S, outputs[0]) for at, outputs in trace(logic(text), events, 60 * _S)]
    assert changes == [(0, False), (8, True), (20, False)]


def test_an_on_delay_fed_only_at_its_supply_times_from_there() -> None:
    text = "timer TR1, on-delay 5 s\nrung 1: IN, feeds TR1 supply\nrung 2: TR1 NOTC, feeds Q\n"
    assert spans(text, _PATTERNS["C"]) == [(10, 12)]


@pytest.mark.parametrize(
    ("rungs", "on"),
    [
        # on-first: IN makes Q at once
        ("rung 1: IN, TR2 NCTO, feeds TR1\nrung 2: TR1 NOTC, feeds TR2\nrung 3: IN, TR1 NCTO, feeds Q\n",
         [(1, 3), (6, 8), (11, 13)]),
        # off-first: TR2 times the pause
        ("rung 1: IN, TR1 NCTO, feeds TR2\nrung 2: TR2 NOTC, feeds TR1\nrung 3: TR2 NOTC, feeds Q\n",
         [(4, 6), (9, 11)]),
    ],
)  # fmt: skip
def test_two_on_delays_make_a_repeat_cycle_relay(rungs: str, on: list[tuple[int, int]]) -> None:
    """On for 2 s, off for 3 s while IN is made: the trade's repeat-cycle functions (common practice), by hand."""
    assert spans("timer TR1, on-delay 2 s\ntimer TR2, on-delay 3 s\n" + rungs, [(1, 13)]) == on


def test_an_on_delay_let_go_as_it_expires_does_not_operate() -> None:
    text = "timer TR1, on-delay 2 s\nrung 1: IN, feeds TR1\nrung 2: TR1 NOTC, feeds Q\n"
    assert spans(text, [(1, 3)]) == []
    assert spans(text, [(1, 4)]) == [(3, 4)]


def test_stop_wins_over_start_in_a_seal_in_circuit() -> None:
    """Common practice: START or CR1, STOP NC, feeds CR1 stays in after START and drops out on STOP."""
    seal = logic("relay CR1\nrung 1: IN or CR1, OFF NC, feeds CR1\nrung 2: CR1, feeds Q and P\n")
    state = seal.power_up((False, False, False))
    told = []
    for inputs in [(1, 0, 0), (0, 0, 0), (0, 1, 0), (1, 1, 0), (1, 0, 0), (0, 0, 0)]:
        state = seal.react(state.state, tuple(map(bool, inputs)))
        told.append(state.outputs)
    assert told == [(on, on) for on in (True, True, False, False, True, True)]
    assert seal.lit(state.state) == ("CR1",)


def test_a_buzzer_circuit_chatters_and_the_loop_is_named() -> None:
    buzzer = logic(
        "relay CR1\nrelay CR2\nrelay CR3\n"
        "rung 1: CR2 NC, IN, feeds CR1\nrung 2: CR1, feeds CR2\nrung 3: IN, feeds CR3\n"
    )
    quiet = buzzer.power_up((False, False, False))
    with pytest.raises(Chattering) as chattering:
        buzzer.react(quiet.state, (True, False, False))
    assert chattering.value.loop == ("CR1", "CR2")


def test_a_timer_that_stops_and_starts_again_at_one_instant_is_told() -> None:
    """CR1 takes a round to follow IN; in that round TR1 is reset and then fed again."""
    text = (
        "relay CR1\ntimer TR1, on-delay 5 s\n"
        "rung 1: IN, feeds CR1\nrung 2: (IN and CR1) or (IN NC and CR1 NC), feeds TR1\n"
    )
    circuit = logic(text)
    first = circuit.power_up((False, False, False))
    assert first.started == {0}
    again = circuit.react(first.state, (True, False, False))
    assert (again.running, again.started) == ({0}, {0})
    same = circuit.react(again.state, (True, True, False))
    assert (same.running, same.started) == ({0}, frozenset())


def test_a_device_the_machine_does_not_have_is_told() -> None:
    text = "sensor IN\nlimit switch LS9\nhorn HOOT\nlamp q\nrelay CR1\nrung 1: LS9, feeds HOOT and q and CR1\n"
    reading = read(Source("list", text))
    told = [(d.code, d.message) for d in circuit_faults(reading.tree, _MACHINE)]
    assert told == [
        ("RW425", "the machine has no limit switch LS9"),
        ("RW425", "the machine has no horn HOOT"),
    ]


def test_inputs_and_loads_are_the_machines_in_its_order() -> None:
    circuit = logic("rung 1: OFF, feeds P\n")
    assert circuit.inputs == ("IN", "OFF", "SUPPLY")
    assert circuit.outputs == ("Q", "P")
    assert circuit.power_up((False, True, False)).outputs == (False, True)
