"""Bounded model checking beside the tick explorer: two outsiders that share the rods and nothing else."""

from __future__ import annotations

import pytest

from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.condition import Rise
from tests.proof.bmc import Mode, Unrolled, counterexample_depth
from tests.proof.cases import ARRANGEMENTS, AT_HOME, TICK, UNIT, arranged, chart, press, random_circuit
from tests.proof.formulas import ChartFormulas, CircuitFormulas
from tests.proof.rules import Rules
from tests.proof.sequences import SEQUENCES
from tests.proof.spoiling import spoilt
from tests.proof.ticks import explore_ticks

PRESS = press()
LOADS = [load.name for load in PRESS.loads]


@pytest.mark.parametrize("apart", [False, True])
@pytest.mark.parametrize("home", [True, False], ids=["home contact", "no home contact"])
@pytest.mark.parametrize("anti_repeat", [False, True])
@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_arrangements_take_as_many_events_to_differ(
    arrangement: str, anti_repeat: bool, home: bool, apart: bool
) -> None:
    of = chart(PRESS, AT_HOME if home else Rise(device="START"))
    drawn = arranged(arrangement, of, PRESS, anti_repeat=anti_repeat)
    unrolled = Unrolled(ChartFormulas(of, LOADS), CircuitFormulas(drawn, LOADS), PRESS, apart=apart)
    found = counterexample_depth(unrolled, 8, Mode.INCREMENTAL)
    rules = Rules(apart=apart, no_jam=True, supplied=True)
    ticked = explore_ticks(chart_logic(of), circuit_logic(drawn, PRESS), PRESS, rules, tick_us=TICK)
    assert found == (ticked.events if ticked.differs and ticked.events <= 8 else None)


def _same(seed: int) -> None:
    """A random circuit beside itself with one element changed: the same least number of events, up to 6."""
    drawn = random_circuit(seed, PRESS)
    changes = list(spoilt(drawn, preset_by_us=UNIT))
    kind, what, other = changes[seed % len(changes)]
    logics = circuit_logic(drawn, PRESS), circuit_logic(other, PRESS)
    try:
        ticked = explore_ticks(*logics, PRESS, Rules(no_jam=True, supplied=True), tick_us=TICK)
    except ValueError:  # the driver does not settle as the supply comes on
        return
    if ticked.driver_chatters:
        return
    unrolled = Unrolled(CircuitFormulas(drawn, LOADS), CircuitFormulas(other, LOADS), PRESS, rounds=10)
    found = counterexample_depth(unrolled, 6, Mode.INCREMENTAL)
    assert found == (ticked.events if ticked.differs and ticked.events <= 6 else None), (seed, kind, what)


@pytest.mark.parametrize("seed", range(25))
def test_random_circuits_take_as_many_events_to_differ(seed: int) -> None:
    _same(seed)


@pytest.mark.campaign
@pytest.mark.parametrize("seed", range(25, 500))
def test_many_random_circuits_take_as_many_events_to_differ(seed: int) -> None:
    _same(seed)


def test_two_cylinders_take_as_many_events_to_differ() -> None:
    """The step chain of A out, B out, B back, A back, sound and with every twelfth change made to it."""
    sequence = SEQUENCES[-1]
    machine, loads = sequence.machine, [load.name for load in sequence.machine.loads]
    sound = arranged("step-chain", sequence.chart, machine, anti_repeat=True)
    changed = [other for _, _, other in spoilt(sound, preset_by_us=UNIT)][::12]
    told = []
    for drawn in (sound, *changed):
        logics = chart_logic(sequence.chart), circuit_logic(drawn, machine)
        ticked = explore_ticks(*logics, machine, Rules(no_jam=True, supplied=True), tick_us=TICK)
        formulas = ChartFormulas(sequence.chart, loads), CircuitFormulas(drawn, loads)
        found = counterexample_depth(Unrolled(*formulas, machine, rounds=10), 6, Mode.INCREMENTAL)
        assert found == (ticked.events if ticked.differs and ticked.events <= 6 else None)
        told.append(found)
    assert told[0] is None
    assert len(set(told)) >= 3  # some soon, some later, some not within six


def test_both_modes_agree() -> None:
    of = chart(PRESS)
    for anti_repeat in (False, True):
        drawn = arranged("on-delay", of, PRESS, anti_repeat=anti_repeat)
        found = [
            counterexample_depth(Unrolled(ChartFormulas(of, LOADS), CircuitFormulas(drawn, LOADS), PRESS), 6, mode)
            for mode in Mode
        ]
        assert [depth is None for depth in found] == [anti_repeat] * 2


def test_what_it_does_not_cover_is_refused() -> None:
    on = press(pressure=2)
    formulas = CircuitFormulas(arranged("step-chain", chart(on), on), LOADS)
    with pytest.raises(NotImplementedError, match="pressure"):
        Unrolled(formulas, formulas, on)
