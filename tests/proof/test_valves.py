"""Valves with a centre and strokes that are made quick, in the proof: against reckoning by hand, and tick by tick."""

from __future__ import annotations

import pytest

from compiler.circuit import circuit_logic
from compiler.logic import Logic
from compiler.machine import Centre, Load, LoadKind, Machine, Rapid, RapidKind, Valve, ValveKind
from compiler.proof.explore import Ending, explore
from compiler.proof.product import Product
from compiler.proof.prove import prove
from compiler.proof.rods import Passing, Place, Rod
from compiler.proof.verdict import Standing
from compiler.proof.world import World
from tests.proof.bmc import Mode, Unrolled, counterexample_depth
from tests.proof.cases import RESET, STROKE, TICK, UNIT, logic, press, random_circuit, travel
from tests.proof.formulas import CircuitFormulas
from tests.proof.rules import rules_of
from tests.proof.spoiling import spoilt
from tests.proof.ticks import explore_ticks

FREE, EXACT = World(no_jam=True, supplied=True), World(no_jam=True, supplied=True, exact=True)
OUT, BACK, FAST = 1, 2, 4


def on_valve(valve: Valve, *, pressure: int = 0) -> Machine:
    """The press, 2 to 4 units a stroke, with another valve; the solenoid FAST makes it quick, if that has one."""
    plain = press(pressure=pressure)
    (ram,) = plain.actuators
    fast = [Load(name="FAST", kind=LoadKind.SOLENOID)] if valve.rapid is not None else []
    loads = (*plain.loads[:2], *fast, *plain.loads[2:])
    return plain.model_copy(update={"actuators": (ram.model_copy(update={"valve": valve}),), "loads": loads})


QUICK = Rapid(kind=RapidKind.RAPID, solenoid="FAST", time=travel(2, 2))
CENTRED = Valve(kind=ValveKind.THREE_POSITION, extend="SOL1", retract="SOL2", centre=Centre.CLOSED)
MEMORY = Valve(kind=ValveKind.MEMORY, extend="SOL1", retract="SOL2")
SINGLE = Valve(kind=ValveKind.SPRING_RETURN, extend="SOL1")
JOGGED, KEPT = on_valve(CENTRED), on_valve(MEMORY)


def events(driver: Logic, shadow: Logic, machine: Machine, world: World = FREE) -> int | None:
    """The least number of events after which the two differ, as the proof and the unit ticks both say; None where
    they never do."""
    explored = explore(Product(driver, shadow, machine), world)
    ticked = explore_ticks(driver, shadow, machine, rules_of(world), tick_us=TICK)
    found = explored.last.depth if explored.last is not None else None
    assert (explored.ending is Ending.DIFFERS, found) == (ticked.differs, ticked.events if ticked.differs else None)
    return found


def lamp(*rungs: str, machine: Machine, **timers: str) -> Logic:
    """A circuit that reads both switches, so that each place a rod passes is an event."""
    return logic(machine, timers, *rungs, "LS1, LS2, feeds CR9")


def rod_of(valve: Valve) -> Rod:
    machine = on_valve(valve)
    bits = {switch.name: 1 << k for k, switch in enumerate(machine.actuators[0].limit_switches)}
    return Rod(machine.actuators[0], bits, [load.name for load in machine.loads])


def passing(place: Place) -> Passing:
    assert place.passing is not None
    return place.passing


# --- the places of a rod ------------------------------------------------------------------------------------------


def test_a_rod_let_stop_sets_out_again_from_anywhere_between_what_it_passed_and_what_it_would_pass() -> None:
    rod = rod_of(CENTRED)
    assert (rod.at_rest.way, rod.at_rest.standing, rod.rests(rod.at_rest)) == (0, True, True)
    out, sets_out = rod.obey(rod.at_rest, OUT)
    assert sets_out
    away = passing(out).place
    held, sets_out = rod.obey(away, 0)
    assert not sets_out
    assert (held.standing, held.passing, held.made, rod.rests(held)) == (True, None, 0, False)
    assert rod.obey(held, 0) == rod.obey(held, OUT | BACK) == (held, False)
    onward, sets_out = rod.obey(held, OUT)
    assert sets_out
    # Short of the end by next to nothing, or by all but the reset travel of the switch at home.
    assert (passing(onward).soonest_us, passing(onward).latest_us) == (0, 4 * UNIT * (STROKE - RESET) // STROKE)
    back, _ = rod.obey(held, BACK)
    assert (passing(back).soonest_us, passing(back).latest_us) == (2 * UNIT * RESET // STROKE, 4 * UNIT)
    home = passing(back).place
    assert rod.obey(home, 0)[0] is rod.at_rest


def test_sent_on_where_it_stands_at_its_end_a_rod_stands_there() -> None:
    rod = rod_of(CENTRED)
    place, _ = rod.obey(rod.at_rest, OUT)
    while place.passing is not None:
        place = place.passing.place
    let_go, _ = rod.obey(place, 0)
    assert (let_go.standing, let_go.way) == (True, 0)
    assert rod.obey(let_go, OUT) == (place, False)


def test_a_stroke_made_quick_keeps_to_the_times_of_that_speed_from_there() -> None:
    rod = rod_of(CENTRED.model_copy(update={"rapid": QUICK}))
    slow, _ = rod.obey(rod.at_rest, OUT)
    away = passing(slow).place
    assert (passing(away).soonest_us, passing(away).latest_us) == (2 * UNIT, 4 * UNIT)
    quick, sets_out = rod.obey(away, OUT | FAST)
    assert sets_out
    assert (passing(quick).soonest_us, passing(quick).latest_us) == (0, 2 * UNIT * (STROKE - RESET) // STROKE)
    at_once, _ = rod.obey(rod.at_rest, OUT | FAST)
    whole = passing(at_once).place
    assert (passing(whole).soonest_us, passing(whole).latest_us) == (2 * UNIT, 2 * UNIT)
    assert rod.obey(away, BACK | FAST)[0] is rod.obey(away, BACK)[0]


# --- by hand, by the proof and tick by tick -----------------------------------------------------------------------


def test_only_a_valve_with_a_centre_lets_a_rod_stand_between_its_ends_for_longer_than_a_stroke() -> None:
    """The lamp lights once neither switch has been made, and START let go, for 5 units; a stroke takes 4 at most.
    Events: START, LS2 lets go, START let go, the timer."""
    stands = ("START, feeds SOL1", "START NC, LS1 NC, LS2 NC, feeds TR1", "TR1 NOTC, feeds LAMP")
    for machine, differ in ((JOGGED, 4), (KEPT, None)):
        dark = lamp(stands[0], machine=machine)
        assert events(lamp(*stands, machine=machine, TR1="on-delay 5"), dark, machine) == differ


def test_both_solenoids_stop_a_rod_behind_a_centre_and_nothing_behind_a_memory() -> None:
    """STOP drives SOL2 beside SOL1. Events: START, LS2 lets go, STOP, the timer."""
    stands = (
        "START, feeds SOL1",
        "STOP, feeds SOL2",
        "START, STOP, LS1 NC, LS2 NC, feeds TR1",
        "TR1 NOTC, feeds LAMP",
    )
    for machine, differ in ((JOGGED, 4), (KEPT, None)):
        dark = lamp(*stands[:2], machine=machine)
        assert events(lamp(*stands, machine=machine, TR1="on-delay 5"), dark, machine) == differ


def test_with_a_lost_supply_a_rod_completes_its_stroke_behind_a_memory_and_stands_behind_a_centre() -> None:
    """Sealed in, SOL1 goes off only with the supply; the lamp lights when the rod has then stood between its ends for
    5 units. Events: START, LS2 lets go, START let go, supply lost, supply back, the timer."""
    lights = ("START or CR1, feeds CR1", "CR1, feeds SOL1", "CR1 NC, START NC, LS1 NC, LS2 NC, feeds TR1")
    for machine, differ in ((JOGGED, 6), (KEPT, None)):
        dark = lamp(*lights[:2], machine=machine)
        stands = lamp(*lights, "TR1 NOTC, feeds LAMP", machine=machine, TR1="on-delay 5")
        assert events(stands, dark, machine, World(no_jam=True)) == differ


@pytest.mark.parametrize(("sent", "units"), [("SOL1", 4), ("SOL1 and FAST", 2)])
def test_a_quick_stroke_takes_the_time_of_a_quick_stroke(sent: str, units: int) -> None:
    """Where strokes take their greatest time, 4 units or quickly 2, LS1 makes with a timer of just that time."""
    for valve in (CENTRED, SINGLE):
        machine = on_valve(valve.model_copy(update={"rapid": QUICK}))
        starts = "START or CR1, feeds CR1"
        seen = lamp(starts, f"CR1, feeds {sent}", "LS1, feeds LAMP", machine=machine)
        agree = []
        for preset in (1, 2, 3, 4):
            rungs = (starts, f"CR1, feeds {sent} and TR1", "TR1 NOTC, feeds LAMP")
            timed = lamp(*rungs, machine=machine, TR1=f"on-delay {preset}")
            agree.append(events(seen, timed, machine, EXACT) is None)
        assert agree == [preset == units for preset in (1, 2, 3, 4)]


def test_pressure_lasts_only_while_the_valve_drives_the_rod() -> None:
    """At its end with START let go: PS1 stays made behind a memory valve, and goes within 1 unit behind a centre."""
    lasts = ("START, feeds SOL1", "START NC, LS1, PS1, feeds TR1", "TR1 NOTC, feeds LAMP")
    for valve, differ in ((MEMORY, True), (CENTRED, False)):
        machine = on_valve(valve, pressure=2)
        dark = lamp(lasts[0], machine=machine)
        assert (events(lamp(*lasts, machine=machine, TR1="on-delay 2"), dark, machine) is not None) is differ


def test_what_is_found_with_a_quick_stroke_is_shown_by_a_run_of_the_simulator() -> None:
    """Replayed before it is told: START and STOP held together send the rod out quickly."""
    inching = ("START, feeds SOL1", "STOP, feeds FAST", "LS1, STOP, START, feeds LAMP")
    machine = on_valve(CENTRED.model_copy(update={"rapid": QUICK}))
    proof = prove(lamp(*inching, machine=machine), lamp(*inching[:2], machine=machine), machine)
    assert proof.standing is not Standing.SAME
    runs = [outside.run for outside in proof.outside if outside.run is not None]
    assert runs
    assert all(run.difference is not None and run.difference.output == "LAMP" for run in runs)


def _as_many_events(seed: int) -> bool:
    """Whether a random circuit settles; beside itself with one element changed it then differs after as many events
    by bounded model checking as tick by tick, up to 5."""
    machine = on_valve(CENTRED.model_copy(update={"rapid": QUICK}))
    drawn = random_circuit(seed, machine)
    changes = list(spoilt(drawn, preset_by_us=UNIT))
    _, what, other = changes[seed % len(changes)]
    logics = circuit_logic(drawn, machine), circuit_logic(other, machine)
    try:
        ticked = explore_ticks(*logics, machine, rules_of(FREE), tick_us=TICK)
    except ValueError:  # the driver does not settle as the supply comes on
        return False
    if ticked.driver_chatters:
        return False
    loads = [load.name for load in machine.loads]
    unrolled = Unrolled(CircuitFormulas(drawn, loads), CircuitFormulas(other, loads), machine, rounds=10)
    found = counterexample_depth(unrolled, 5, Mode.INCREMENTAL)
    assert found == (ticked.events if ticked.differs and ticked.events <= 5 else None), what
    return True


def test_bounded_model_checking_finds_the_same_with_a_centre_and_a_quick_stroke() -> None:
    assert sum(_as_many_events(seed) for seed in range(12)) >= 6
