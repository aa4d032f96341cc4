"""What is the same whatever its inputs do: every way through a logic is found, and no machine contradicts it."""

from __future__ import annotations

import random

import pytest

from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.explore import Ending, explore
from compiler.proof.leaves import Look, TooMany, ways
from compiler.proof.table import CHATTERS, OFF, Table
from compiler.proof.unbound import Unbound
from compiler.proof.world import WORKING, World
from grammar.rungs.tree import Circuit, Contact, Network, Parallel, Rung, Series
from targets.structured_text import TARGET as STRUCTURED_TEXT
from targets.target import Artefact, Options
from tests.proof.cases import TICK, UNIT, logic, press, random_chart, random_circuit
from tests.proof.rules import rules_of
from tests.proof.sequences import SEQUENCES, Sequence
from tests.proof.spoiling import spoilt
from tests.proof.ticks import explore_ticks

PRESS = press()
Turn = tuple[int, frozenset[int]]


def _by_looking(table: Table, state: int, expired: frozenset[int], inputs: int) -> list[Turn]:
    def run(values: dict[int, bool]) -> Turn:
        return table.turn_with(state, [Look(values, k) for k in range(inputs)], expired)

    return list(ways(run, most=10_000))


def _by_trying(table: Table, state: int, expired: frozenset[int], inputs: int) -> list[Turn]:
    return [table.turn(state, bits, expired) for bits in range(1 << inputs)]


def _all_ways_are_found(of: Logic, machine: Machine, seed: int) -> None:
    """From the moment power comes on, and on along a random walk: the answers to all 2^n values of the inputs are
    those of the ways that were found, no more and no fewer."""
    rng = random.Random(seed)
    devices = [i.name for i in machine.inputs]
    table = Table(of, devices, [load.name for load in machine.loads])
    state = OFF
    for _ in range(12):
        running = () if state == OFF else table.runs(state)
        expired = frozenset(rng.sample(running, rng.randint(0, len(running))))
        tried = _by_trying(table, state, expired, len(devices))
        assert set(_by_looking(table, state, expired, len(devices))) == set(tried)
        settled = [turn for turn in tried if turn[0] != CHATTERS]
        if not settled:
            return
        state = rng.choice(settled)[0]


@pytest.mark.parametrize("seed", range(40))
def test_every_way_through_a_circuit_is_found(seed: int) -> None:
    _all_ways_are_found(circuit_logic(random_circuit(seed, PRESS), PRESS), PRESS, seed)


@pytest.mark.parametrize("seed", range(40))
def test_every_way_through_a_chart_is_found(seed: int) -> None:
    _all_ways_are_found(chart_logic(random_chart(seed, PRESS)), PRESS, seed)


@pytest.mark.parametrize("sequence", SEQUENCES, ids=lambda sequence: sequence.name)
def test_every_way_through_structured_text_is_found(sequence: Sequence) -> None:
    printed = next(iter(STRUCTURED_TEXT.emit(sequence.machine, sequence.chart, options=Options())))
    assert isinstance(printed, Artefact)
    program = STRUCTURED_TEXT.read(printed.text, printed.file, sequence.machine)
    for seed in range(4):
        _all_ways_are_found(program, sequence.machine, seed)


def test_ways_of_a_function_counted_by_hand() -> None:
    """``a and b or c``: a and b; a, not b, c or not; not a, c or not: five ways, and all eight values answered."""
    answers = list(ways(lambda values: (*(Look(values, k) for k in range(3)),), most=10))
    assert len(answers) == 1  # nobody looks
    told = list(ways(lambda values: bool((Look(values, 0) and Look(values, 1)) or Look(values, 2)), most=10))
    assert sorted(told) == [False, False, True, True, True]
    with pytest.raises(TooMany):
        list(ways(lambda values: [bool(Look(values, k)) for k in range(4)], most=15))


def _turned_round(circuit: Circuit) -> Circuit:
    """The same circuit with every series and parallel written the other way round."""

    def turned(network: Network) -> Network:
        match network:
            case Contact():
                return network
            case Series(parts=parts):
                return Series(tuple(turned(part) for part in reversed(parts)))
            case Parallel(parts=parts):
                return Parallel(tuple(turned(part) for part in reversed(parts)))

    rungs = tuple(Rung(rung.number, turned(rung.network), rung.feeds) for rung in circuit.rungs)
    return Circuit(circuit.title, circuit.notes, circuit.devices, rungs)


def _same_whatever(driver: Logic, shadow: Logic) -> bool:
    """Whether two are the same whatever their inputs do; False too when there are too many ways to tell."""
    try:
        explored = explore(Unbound(driver, shadow, PRESS), World(), most=3_000)
    except TooMany:
        return False
    return explored.ending is Ending.ALIKE and explored.chattering is None


def _never_differ(driver: Logic, shadow: Logic, worlds: list[World]) -> None:
    for world in worlds:
        ticked = explore_ticks(driver, shadow, PRESS, rules_of(world), tick_us=TICK)
        assert not ticked.differs, (world, ticked.run)


def test_a_circuit_written_the_other_way_round_is_the_same_whatever_its_inputs_do() -> None:
    same = 0
    for seed in range(40):
        drawn = random_circuit(seed, PRESS)
        driver, shadow = circuit_logic(drawn, PRESS), circuit_logic(_turned_round(drawn), PRESS)
        same += _same_whatever(driver, shadow)
    assert same >= 15  # of those that settle


def _one_change(seed: int) -> bool:
    drawn = random_circuit(seed, PRESS)
    _, _, other = random.Random(seed).choice(list(spoilt(drawn, preset_by_us=UNIT)))
    driver, shadow = circuit_logic(drawn, PRESS), circuit_logic(other, PRESS)
    same = _same_whatever(driver, shadow)
    if same:
        _never_differ(driver, shadow, [World(), random.Random(seed).choice(WORKING)])
    return same


def test_what_is_the_same_whatever_its_inputs_do_differs_on_no_machine() -> None:
    assert sum(_one_change(seed) for seed in range(60)) >= 8


@pytest.mark.campaign
@pytest.mark.parametrize("seed", range(60, 800))
def test_more_that_is_the_same_differs_on_no_machine(seed: int) -> None:
    _one_change(seed)


def test_every_input_may_change_at_any_moment() -> None:
    """A lamp that would light only while LS1 and LS2 are both made is dark on the press, but not without it."""
    both, dark = logic(PRESS, {}, "LS1, LS2, feeds LAMP"), logic(PRESS, {}, "LS1, LS1 NC, feeds LAMP")
    _never_differ(both, dark, [World()])
    assert not _same_whatever(both, dark)
