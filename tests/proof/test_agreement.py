"""The proof against the outsiders: the tick explorer, bounded model checking and the simulator's random runs."""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import cache

import pytest

from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.explore import Ending, explore
from compiler.proof.product import Product
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing
from compiler.proof.world import WORKING, WORLDS, World
from compiler.simulation.run import Event, EventKind, Scenario, StrokeTimes
from compiler.simulation.simulate import simulate
from targets.structured_text import TARGET as STRUCTURED_TEXT
from targets.target import Artefact, Options
from tests.proof.bmc import Mode, Unrolled, counterexample_depth
from tests.proof.cases import (
    ARRANGEMENTS,
    TICK,
    UNIT,
    Case,
    arranged,
    arrangement_cases,
    changed_chart,
    chart,
    logic,
    press,
    random_chart,
    random_circuit,
    random_machine,
)
from tests.proof.formulas import ChartFormulas, CircuitFormulas
from tests.proof.rules import rules_of
from tests.proof.sequences import SEQUENCES, Sequence
from tests.proof.spoiling import spoilt
from tests.proof.ticks import TooCoarse, explore_ticks

PRESS = press()
PRESSED = press(pressure=2)
LOADS = [load.name for load in PRESS.loads]
SETTLED = World(no_jam=True, supplied=True)
ALL_WORLDS = (*WORKING, SETTLED, World(careful=True, no_jam=True, supplied=True), World(exact=True, supplied=True))
FAILING = tuple(world for world in WORLDS if world.failing)


def _agree(case: Case, worlds: tuple[World, ...], *, on_grid: bool = True) -> None:
    """The same verdict in each world and, where the two differ, after the same least number of events.

    The proof leaves out switches that nobody reads, which the ticks count. Where times are not whole ticks
    (``on_grid`` is false) the ticks may need an event more for a run that has to be quick; never fewer."""
    product = Product(case.driver, case.shadow, case.machine)
    for world in worlds:
        explored = explore(product, world)
        # Numbers only from here on: a Node prints all that went before it.
        depth, chatters = None if explored.last is None else explored.last.depth, explored.chattering is not None
        ticked = explore_ticks(case.driver, case.shadow, case.machine, rules_of(world), tick_us=TICK)
        told = (case.name, world, depth, ticked.run)
        if chatters or ticked.driver_chatters:
            # What comes first, a difference or that, is not told by the ticks; but neither sees what is not there.
            assert ticked.driver_chatters or ticked.differs, told
            assert chatters or depth is not None, told
            continue
        assert (depth is not None) == ticked.differs, told
        assert (depth or 0) <= ticked.events, told
        if on_grid and _reads_every_switch(product):
            assert (depth or 0) == ticked.events, told


def _reads_every_switch(product: Product) -> bool:
    read = product.driver.reads | product.shadow.reads
    devices = [i.name for i in product.machine.inputs]
    actuators = product.machine.actuators
    switches = [s.name for a in actuators for s in (*a.limit_switches, *a.pressure_switches)]
    return all(read >> devices.index(name) & 1 for name in switches)


@pytest.mark.parametrize("case", arrangement_cases(), ids=lambda case: case.name)
def test_arrangements_in_every_world(case: Case) -> None:
    _agree(case, ALL_WORLDS)


@pytest.mark.campaign
@pytest.mark.parametrize("anti_repeat", [False, True])
@pytest.mark.parametrize("sequence", SEQUENCES, ids=lambda sequence: sequence.name)
def test_six_sequences_in_every_world(sequence: Sequence, anti_repeat: bool) -> None:
    for name in sequence.arrangements:
        drawn = arranged(name, sequence.chart, sequence.machine, anti_repeat=anti_repeat)
        shadow = circuit_logic(drawn, sequence.machine)
        _agree(Case(name, chart_logic(sequence.chart), shadow, sequence.machine), ALL_WORLDS)


def _random_case(seed: int, machine: Machine) -> Case | None:
    """A random circuit beside one that differs in one element; None when it does not settle as power comes on."""
    drawn = random_circuit(seed, machine)
    kind, what, other = random.Random(seed).choice(list(spoilt(drawn, preset_by_us=UNIT)))
    driver, shadow = circuit_logic(drawn, machine), circuit_logic(other, machine)
    case = Case(f"{seed}: {kind} {what}", driver, shadow, machine)
    return case if Product(driver, shadow, machine).first().target.driver >= 0 else None


@pytest.mark.parametrize("case", arrangement_cases(), ids=lambda case: case.name)
def test_arrangements_where_a_switch_may_stick(case: Case) -> None:
    _agree(case, FAILING[:1] + tuple(random.Random(case.name).sample(FAILING, 2)))


@pytest.mark.parametrize("seed", range(20))
def test_random_circuits_where_a_switch_may_stick(seed: int) -> None:
    case = _random_case(seed, PRESSED)
    if case is not None:
        _agree(case, tuple(random.Random(seed).sample(FAILING, 2)))


@pytest.mark.campaign
@pytest.mark.parametrize("seed", range(20, 400))
def test_more_random_circuits_where_a_switch_may_stick(seed: int) -> None:
    for case in (_random_case(seed, PRESSED), _random_charts(seed, PRESSED)):
        if case is not None:
            _agree(case, tuple(random.Random(seed).sample(FAILING, 3)))


def _random_worlds(seed: int) -> tuple[World, ...]:
    return tuple(random.Random(seed).sample(ALL_WORLDS, 3))


@pytest.mark.parametrize("seed", range(30))
def test_random_circuits(seed: int) -> None:
    case = _random_case(seed, PRESS)
    if case is not None:
        _agree(case, _random_worlds(seed))


@pytest.mark.parametrize("seed", range(30))
def test_random_circuits_on_random_machines(seed: int) -> None:
    """Rods that rest at either end, memory valves, switches anywhere, single-acting cylinders."""
    _on_random_machine(seed)


@pytest.mark.campaign
@pytest.mark.parametrize("seed", range(30, 1000))
def test_many_random_circuits_on_random_machines(seed: int) -> None:
    _on_random_machine(seed)


def _on_random_machine(seed: int) -> None:
    case = _random_case(seed, random_machine(seed))
    if case is not None:
        try:
            _agree(case, _random_worlds(seed), on_grid=False)
        except (TooCoarse, OverflowError) as out_of_reach:
            pytest.skip(str(out_of_reach))


@pytest.mark.parametrize("seed", range(20))
def test_random_circuits_with_a_pressure_switch(seed: int) -> None:
    case = _random_case(seed, PRESSED)
    if case is not None:
        _agree(case, _random_worlds(seed))


def _random_charts(seed: int, machine: Machine) -> Case | None:
    """A random chart beside one with another condition somewhere; None when it does not settle at power up."""
    of = random_chart(seed, machine)
    driver, shadow = chart_logic(of), chart_logic(changed_chart(seed, of, machine))
    case = Case(f"charts {seed}", driver, shadow, machine)
    return case if Product(driver, shadow, machine).first().target.driver >= 0 else None


@pytest.mark.parametrize("seed", range(30))
def test_random_charts(seed: int) -> None:
    case = _random_charts(seed, PRESS)
    if case is not None:
        _agree(case, _random_worlds(seed))


@pytest.mark.campaign
@pytest.mark.parametrize("machine", [PRESS, PRESSED], ids=["limit switches", "pressure switch"])
@pytest.mark.parametrize("seed", range(30, 1000))
def test_many_random_charts(seed: int, machine: Machine) -> None:
    case = _random_charts(seed, machine)
    if case is not None:
        _agree(case, _random_worlds(seed))


@pytest.mark.parametrize("sequence", SEQUENCES, ids=lambda sequence: sequence.name)
def test_structured_text_beside_the_sequence(sequence: Sequence) -> None:
    """Read back from its own text; the same in every world, by both."""
    machine = sequence.machine
    printed = next(iter(STRUCTURED_TEXT.emit(machine, sequence.chart, options=Options())))
    assert isinstance(printed, Artefact)
    program = STRUCTURED_TEXT.read(printed.text, printed.file, machine)
    case = Case(sequence.name, chart_logic(sequence.chart), program, machine)
    assert explore(Product(case.driver, case.shadow, machine), World()).ending is Ending.ALIKE
    _agree(case, (World(), SETTLED, World(careful=True, exact=True, no_jam=True)))


@pytest.mark.campaign
@pytest.mark.parametrize("machine", [PRESS, PRESSED], ids=["limit switches", "pressure switch"])
@pytest.mark.parametrize("seed", range(30, 1000))
def test_many_random_circuits(seed: int, machine: Machine) -> None:
    case = _random_case(seed, machine)
    if case is not None:
        _agree(case, _random_worlds(seed))


@pytest.mark.parametrize("build_up", [1, 2])
def test_a_pressure_switch_that_sends_its_own_rod_back_takes_its_time_to_let_go(build_up: int) -> None:
    """The rod goes out by itself; PS1 makes at the end, drops the solenoid at that very event, and stays made for
    one unit more: the lamp is lit meanwhile. By hand: LS2 lets go, LS1 makes at the end, PS1 makes."""
    on = press(pressure=build_up)
    driver = logic(on, {}, "PS1 NC, feeds SOL1", "PS1, LS1, LS2 NC, feeds LAMP")
    dark = logic(on, {}, "PS1 NC, feeds SOL1")
    for world in ALL_WORLDS:
        explored = explore(Product(driver, dark, on), world)
        assert (explored.ending, explored.last and explored.last.depth) == (Ending.DIFFERS, 3)
    _agree(Case("sends itself back", driver, dark, on), ALL_WORLDS)


def test_a_driver_that_never_settles_is_told_and_is_no_difference() -> None:
    buzzer, still = logic(PRESS, {}, "START, CR1 NC, feeds CR1"), logic(PRESS, {}, "START, feeds CR1")
    explored = explore(Product(buzzer, still, PRESS), SETTLED)
    assert explored.ending is Ending.ALIKE
    assert explored.chattering is not None
    assert explore(Product(still, buzzer, PRESS), SETTLED).ending is Ending.DIFFERS


# --- by z3 ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("arrangement", [name for name in ARRANGEMENTS if name != "one-shot"])
def test_what_is_the_same_has_no_counterexample_of_ten_events(arrangement: str) -> None:
    of = chart(PRESS)
    drawn = arranged(arrangement, of, PRESS, anti_repeat=True)
    assert explore(Product(chart_logic(of), circuit_logic(drawn, PRESS), PRESS), SETTLED).ending is Ending.ALIKE
    unrolled = Unrolled(ChartFormulas(of, LOADS), CircuitFormulas(drawn, LOADS), PRESS)
    assert counterexample_depth(unrolled, 10, Mode.ONE_SHOT) is None


def _no_counterexample(seed: int) -> bool:
    """Whether a random pair was found the same and was put to z3, which must find nothing."""
    case = _random_case(seed, PRESS)
    if case is None:
        return False
    explored = explore(Product(case.driver, case.shadow, PRESS), SETTLED)
    if explored.ending is not Ending.ALIKE or explored.chattering is not None:
        return False
    drawn = random_circuit(seed, PRESS)
    _, _, other = random.Random(seed).choice(list(spoilt(drawn, preset_by_us=UNIT)))
    unrolled = Unrolled(CircuitFormulas(drawn, LOADS), CircuitFormulas(other, LOADS), PRESS, rounds=10)
    assert counterexample_depth(unrolled, 10, Mode.ONE_SHOT) is None, case.name
    return True


def test_random_circuits_that_are_the_same_have_none_either() -> None:
    assert sum(_no_counterexample(seed) for seed in range(12)) >= 5


@pytest.mark.campaign
@pytest.mark.parametrize("seed", range(12, 300))
def test_many_that_are_the_same_have_none_either(seed: int) -> None:
    _no_counterexample(seed)


# --- by the simulator -------------------------------------------------------------------------------------------


def _scenario(seed: int, machine: Machine, world: World) -> Scenario:
    """Anything a world lets happen, at moments of no round number: nothing from outside falls on what is due."""
    rng = random.Random(seed)
    lasts = 60 * UNIT
    moments = sorted(rng.sample(range(1, lasts), rng.randint(2, 14)))
    return Scenario(
        name=f"random run {seed}",
        duration_us=lasts,
        events=tuple(_events(rng, moments, machine, world)),
        strokes=tuple(_strokes(rng, machine, world)),
    )


def _events(rng: random.Random, moments: list[int], machine: Machine, world: World) -> Iterator[Event]:
    down = {"START": False, "STOP": False}
    supply, jammed = True, False
    for at_us in moments:
        what = rng.choice(["START", "START", "STOP", "supply", "jam"])
        if what in down:
            other = "STOP" if what == "START" else "START"
            if not (world.apart and down[other] and not down[what]):
                down[what] ^= True
                yield Event(at_us=at_us, kind=EventKind.INPUT, device=what, on=down[what])
        elif what == "supply" and not world.supplied:
            supply ^= True
            yield Event(at_us=at_us, kind=EventKind.SUPPLY, on=supply)
        elif what == "jam" and not (world.no_jam or jammed):
            jammed = True
            yield Event(at_us=at_us, kind=EventKind.JAM, device=machine.actuators[0].name, on=True)


def _strokes(rng: random.Random, machine: Machine, world: World) -> Iterator[StrokeTimes]:
    for actuator in machine.actuators:
        out, back = actuator.extend_time, actuator.retract_time
        yield StrokeTimes(
            actuator=actuator.name,
            extend_us=out.greatest_us if world.exact else rng.randint(out.least_us, out.greatest_us),
            retract_us=back.greatest_us if world.exact else rng.randint(back.least_us, back.greatest_us),
        )


def _never_contradicted(driver: Logic, shadow: Logic, machine: Machine, world: World, seeds: range) -> None:
    for seed in seeds:
        scenario = _scenario(seed, machine, world)
        run = simulate(machine, driver, scenario, shadow=shadow)
        assert run.difference is None, scenario


FREE_WORLDS = tuple(world for world in ALL_WORLDS if not world.careful)


@cache
def _same_pairs() -> list[tuple[Case, World]]:
    """Pairs that are the same in some world of a free operator, and the freest of those."""
    found = []
    random_cases = [case for seed in range(25) if (case := _random_case(seed, PRESS)) is not None]
    for case in (*arrangement_cases(), *random_cases):
        product = Product(case.driver, case.shadow, case.machine)
        for world in FREE_WORLDS:
            explored = explore(product, world)
            if explored.ending is Ending.ALIKE and explored.chattering is None:
                found.append((case, world))
                break
    return found


def test_no_random_run_contradicts_what_is_the_same() -> None:
    pairs = _same_pairs()
    assert len(pairs) >= 15
    for case, world in pairs:
        _never_contradicted(case.driver, case.shadow, case.machine, world, range(15))


@pytest.mark.campaign
def test_ten_thousand_random_runs_contradict_nothing() -> None:
    pairs = _same_pairs()
    for k, (case, world) in enumerate(pairs):
        each = 10_000 // len(pairs) + 1
        _never_contradicted(case.driver, case.shadow, case.machine, world, range(1000 * k, 1000 * k + each))


def test_random_runs_do_find_differences_where_there_are_some() -> None:
    """Else the test above would prove little: a dozen arrangements without an anti-repeat relay are all caught."""
    for case in arrangement_cases():
        if explore(Product(case.driver, case.shadow, PRESS), SETTLED).ending is Ending.DIFFERS:
            runs = (
                simulate(PRESS, case.driver, _scenario(seed, PRESS, SETTLED), shadow=case.shadow)
                for seed in range(400)
            )
            assert any(run.difference is not None for run in runs), case.name


def _replayed(case: Case) -> int:
    """How many differences a proof tells of, each with a run that the simulator confirms."""
    proof = prove(case.driver, case.shadow, case.machine)
    assert proof.standing is not Standing.NOT_SETTLED
    for outside in proof.outside:
        assert outside.run is not None, (case.name, outside.beyond)
        again = simulate(case.machine, case.driver, outside.run.scenario, shadow=case.shadow)
        assert again.difference is not None
    return len(proof.outside)


def test_every_difference_of_the_arrangements_is_replayed() -> None:
    assert sum(_replayed(case) for case in arrangement_cases()) >= 13


def test_every_difference_of_random_circuits_is_replayed() -> None:
    cases = [case for seed in range(150) if (case := _random_case(seed, PRESS)) is not None]
    assert sum(_replayed(case) for case in cases) >= 30
