"""Latching relays, counters and master contacts: tables of the trade, and what the docs promise beyond them."""

from __future__ import annotations

import pytest

from compiler.circuit import CircuitLogic, circuit_logic
from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from grammar.rungs import read
from grammar.source import Source

_MACHINE = Machine(
    inputs=tuple(Input(name=name, kind=InputKind.SENSOR) for name in ("A", "B")),
    loads=(Load(name="Q", kind=LoadKind.LAMP), Load(name="P", kind=LoadKind.LAMP)),
)
_HEAD = "sensor A, B\nlamp Q, P\n"


def logic(text: str) -> CircuitLogic:
    reading = read(Source("list", _HEAD + text))
    assert reading.sound, reading.diagnostics
    return circuit_logic(reading.tree, _MACHINE)


def played(circuit: CircuitLogic, steps: str) -> str:
    """The first load after each step; a step is the bits of A and B, the first one as the supply comes on."""
    first, *rest = [tuple(bit == "1" for bit in step) for step in steps.split()]
    at = circuit.power_up(first)
    told = [at.outputs[0]]
    for inputs in rest:
        at = circuit.react(at.state, inputs)
        told.append(at.outputs[0])
    return " ".join(str(int(bit)) for bit in told)


_LATCH = "latching relay KR1\nrung 1: A, feeds KR1 latch\nrung 2: B, feeds KR1 unlatch\nrung 3: KR1, feeds Q\n"


def test_a_latching_relay_is_a_bistable_whose_unlatching_wins() -> None:
    """IEC 61131-3:2013 Table 43 (from memory): RS, reset dominant, call by call from its equation."""
    assert played(logic(_LATCH), "00 10 00 01 11 00 01") == "0 1 1 0 0 0 0"


def test_a_latching_relay_stays_when_both_coils_go_at_once() -> None:
    assert played(logic(_LATCH), "10 11 00") == "1 0 0"
    assert played(logic(_LATCH), "10 00 00 11 10 00") == "1 1 1 0 1 1"


def test_the_supply_coming_on_finds_latching_relays_unlatched_and_counters_at_nought() -> None:
    """A statement of the model, not of the trade: real ones remember."""
    circuit = logic(_LATCH)
    latched = circuit.power_up((True, False))
    assert circuit.lit(latched.state) == ("KR1",)
    assert circuit.lit(circuit.power_up((False, False)).state) == ()


def counter(preset: int) -> CircuitLogic:
    return logic(
        f"counter CT1, preset {preset}\nrung 1: A, feeds CT1 count\nrung 2: B, feeds CT1 reset\n"
        "rung 3: CT1, feeds Q\nrung 4: CT1 NC, feeds P\n"
    )


@pytest.mark.parametrize(
    ("preset", "steps", "operated"),
    [
        # IEC 61131-3:2013 Table 44 (from memory), CTU with PV = 3, inputs CU and R: Q call by call.
        (3, "00 10 10 00 10 00 10 00 10 11 10 00 10", "0 0 0 0 0 0 1 1 1 0 0 0 0"),
        # An edge that comes together with R is lost, and CU held over a reset is no new edge.
        (1, "00 11 10 00 10", "0 0 0 0 1"),
        (1, "00 10 11 10 00 10", "0 1 0 0 0 1"),
        # From a cold start with CU made the first call is an edge (R_TRIG of Table 43, from memory).
        (1, "10", "1"),
        (2, "10 00 10 00", "0 0 1 1"),
    ],
)
def test_a_counter_counts_as_the_standard_says(preset: int, steps: str, operated: str) -> None:
    circuit = counter(preset)
    assert played(circuit, steps) == operated


def test_the_break_contact_of_a_counter_opens_as_the_make_contact_closes() -> None:
    circuit = counter(2)
    at = circuit.power_up((False, False))
    told = [at.outputs]
    for made in (True, False, True, False):
        at = circuit.react(at.state, (made, False))
        told.append(at.outputs)
    assert told == [(False, True)] * 3 + [(True, False)] * 2
    assert circuit.lit(at.state) == ("CT1",)


def test_a_counter_at_its_preset_has_no_further_states() -> None:
    """It counts no further, so a search of all states comes to an end."""
    circuit, states = counter(2), set()
    at = circuit.power_up((False, False))
    for k in range(20):
        at = circuit.react(at.state, (k % 2 == 0, False))
        states.add(at.state)
    assert len(states) == 4
