"""The Plant against worked numbers: what moves when, which switch makes and lets go, what a lost supply does."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compiler.machine import (
    Actuator,
    Centre,
    End,
    LimitSwitch,
    PressureSwitch,
    Rapid,
    RapidKind,
    Valve,
    ValveKind,
)
from compiler.simulation.plant import PRESSURE_GOES_US, Plant
from compiler.simulation.run import StrokeTimes
from tests.simulation.machines import MEMORY, SECOND, SINGLE, centred, cylinder, end_switches, machine, travel

OUT, BACK, NEITHER = frozenset({"SOL1A"}), frozenset({"SOL1B"}), frozenset[str]()
QUICK = Rapid(kind=RapidKind.RAPID, solenoid="SOL1C", time=travel(SECOND // 4, SECOND // 4, SECOND // 4))


def plant_of(
    actuator: Actuator, extend_us: int = SECOND, retract_us: int = SECOND, rapid_us: int | None = None
) -> Plant:
    times = StrokeTimes(actuator=actuator.name, extend_us=extend_us, retract_us=retract_us, rapid_us=rapid_us)
    return Plant(machine((actuator,), ()), (times,))


def until(plant: Plant, end_us: int, see: Callable[[int], None] | None = None) -> None:
    """Let everything happen that happens by itself before ``end_us``, and come to rest at it."""
    while (due := plant.due_us()) is not None and due <= end_us:
        plant.advance(due)
        if see is not None:
            see(due)
    plant.advance(end_us)


def switch_changes(plant: Plant, end_us: int) -> list[tuple[int, str, bool]]:
    """Every change of a switch up to ``end_us``."""
    seen, was = [], plant.made()

    def see(now_us: int) -> None:
        for name, made in plant.made().items():
            if made != was[name]:
                seen.append((now_us, name, made))
                was[name] = made

    until(plant, end_us, see)
    return seen


def test_a_cam_at_100_mm_makes_at_1_s_and_lets_go_below_99_mm() -> None:
    """A cam at 100 mm with 1 mm differential, passed at 100 mm/s: on at 1.000 s; off when x < 99 (derived: at
    99 mm exactly it is still on, one microsecond later it is not)."""
    cam = LimitSwitch(name="LS", at_um=100_000, reset_um=1_000, toward=End.END)
    plant = plant_of(cylinder("RAM", MEMORY, (cam,), stroke_um=200_000), 2 * SECOND, 2 * SECOND)
    plant.command(0, OUT)
    assert switch_changes(plant, 2 * SECOND) == [(SECOND, "LS", True)]
    plant.command(2 * SECOND, BACK)
    assert switch_changes(plant, 4 * SECOND) == [(3 * SECOND + 10_001, "LS", False)]


def test_a_switch_toward_home_is_made_from_home_to_its_place() -> None:
    near = LimitSwitch(name="LS", at_um=20_000, reset_um=500, toward=End.HOME)
    plant = plant_of(cylinder("RAM", MEMORY, (near,)))
    assert plant.made() == {"LS": True}
    plant.command(0, OUT)
    assert switch_changes(plant, SECOND) == [(205_001, "LS", False)]  # past 20.5 mm at 0.1 mm/ms (derived)
    plant.command(SECOND, BACK)
    assert switch_changes(plant, 2 * SECOND) == [(1_800_000, "LS", True)]


def test_no_switch_changes_in_zero_time_when_the_valve_is_switched() -> None:
    plant = plant_of(cylinder("RAM", SINGLE, end_switches("LS1", "LS2")))
    before = plant.made()
    plant.command(0, {"SOL1"})
    assert plant.made() == before == {"LS1": False, "LS2": True}


def test_a_reversal_in_mid_stroke_takes_its_share_of_the_way_back() -> None:
    plant = plant_of(cylinder("RAM", SINGLE, end_switches("LS1", "LS2")), SECOND, 3 * SECOND)
    plant.command(0, {"SOL1"})
    until(plant, 400_000)
    plant.command(400_000, ())  # 40 mm out; 40 % of 3 s back (derived)
    assert switch_changes(plant, 5 * SECOND) == [(1_600_000, "LS2", True)]


def test_a_normally_extended_cylinder_is_retracted_by_its_one_solenoid() -> None:
    valve = Valve(kind=ValveKind.SPRING_RETURN, retract="SOL1")
    plant = plant_of(cylinder("RAM", valve, end_switches("LS1", "LS2"), rest=End.END))
    assert plant.made() == {"LS1": True, "LS2": False}
    plant.command(0, {"SOL1"})
    assert switch_changes(plant, SECOND)[-1] == (SECOND, "LS2", True)
    plant.command(SECOND, ())
    assert switch_changes(plant, 2 * SECOND)[-1] == (2 * SECOND, "LS1", True)


def test_without_its_solenoids_a_spring_returns_and_a_memory_valve_completes_the_stroke() -> None:
    """Common practice: power loss drops a spring return home; a memory valve stays put and its stroke goes on."""
    spring = plant_of(cylinder("RAM", SINGLE, end_switches("LS1", "LS2")))
    memory = plant_of(cylinder("RAM", MEMORY, end_switches("LS1", "LS2")))
    for plant, on in ((spring, {"SOL1"}), (memory, {"SOL1A"})):
        plant.command(0, on)
        until(plant, SECOND // 2)
        plant.command(SECOND // 2, ())
        until(plant, 2 * SECOND)
    assert spring.made() == {"LS1": False, "LS2": True}
    assert memory.made() == {"LS1": True, "LS2": False}


@pytest.mark.parametrize("centre", list(Centre))
def test_in_its_centre_a_three_position_valve_lets_the_rod_stand_in_mid_stroke(centre: Centre) -> None:
    """Common practice: with both solenoids off springs bring it to the centre, which drives the rod neither way."""
    plant = plant_of(cylinder("RAM", centred(centre), end_switches("LS1", "LS2")))
    until(plant, SECOND)
    assert plant.motion(SECOND) == {"RAM": (0, 0)}
    plant.command(SECOND, OUT)
    until(plant, 1_300_000)
    plant.command(1_300_000, NEITHER)  # 30 mm out, whether STOP or the supply did it
    assert plant.due_us() is None
    assert plant.motion(100 * SECOND) == {"RAM": (30_000, 0)}
    plant.command(100 * SECOND, OUT)
    assert switch_changes(plant, 101 * SECOND) == [(100 * SECOND + 700_000, "LS1", True)]
    plant.command(101 * SECOND, NEITHER)
    assert plant.made() == {"LS1": True, "LS2": False}
    plant.command(102 * SECOND, BACK)
    assert switch_changes(plant, 103 * SECOND)[-1] == (103 * SECOND, "LS2", True)


def test_both_solenoids_of_a_three_position_valve_are_its_centre() -> None:
    plant = plant_of(cylinder("RAM", centred(Centre.CLOSED), end_switches("LS1", "LS2")))
    plant.command(0, OUT)
    until(plant, 400_000)
    plant.command(400_000, OUT | BACK)
    until(plant, SECOND)
    assert plant.motion(SECOND) == {"RAM": (40_000, 0)}


def test_pressure_builds_up_only_while_the_valve_drives_the_rod() -> None:
    """It stands at its end from 1 s on: pressed until the centre is reached, and again from when it is driven."""
    ps = PressureSwitch(name="PS", pressure_bar=90, build_up_us=80_000)
    plant = plant_of(cylinder("RAM", centred(Centre.CLOSED), (), pressure=(ps,)))
    assert plant.made() == {"PS": False}
    plant.command(0, OUT)
    assert switch_changes(plant, 2 * SECOND) == [(SECOND + 80_000, "PS", True)]
    plant.command(2 * SECOND, NEITHER)
    assert switch_changes(plant, 3 * SECOND) == [(2 * SECOND + PRESSURE_GOES_US, "PS", False)]
    plant.command(3 * SECOND, OUT)
    assert switch_changes(plant, 4 * SECOND) == [(3 * SECOND + 80_000, "PS", True)]


def test_resting_in_its_centre_no_pressure_switch_toward_home_is_made() -> None:
    ps = PressureSwitch(name="PS", pressure_bar=5, toward=End.HOME)
    assert plant_of(cylinder("RAM", MEMORY, (), pressure=(ps,))).made() == {"PS": True}
    assert plant_of(cylinder("RAM", centred(Centre.TANDEM), (), pressure=(ps,))).made() == {"PS": False}


def test_a_quick_stroke_switched_in_and_out_on_the_way_changes_the_speed_from_there() -> None:
    """100 mm in 1 s or, quickly, in 0.25 s. 20 mm slowly in 0.2 s, 60 mm quickly in 0.15 s, the last 20 mm slowly in
    0.2 s: 0.55 s in all (derived)."""
    plant = plant_of(cylinder("RAM", centred(Centre.CLOSED, QUICK), end_switches("LS1", "LS2")), rapid_us=SECOND // 4)
    plant.command(0, OUT)
    until(plant, 200_000)
    plant.command(200_000, OUT | {"SOL1C"})
    until(plant, 350_000)
    assert plant.motion(350_000) == {"RAM": (80_000, 1)}
    assert plant.rapid(350_000) == {"RAM"}
    plant.command(350_000, OUT)
    assert plant.rapid(350_000) == frozenset()
    assert switch_changes(plant, SECOND) == [(550_000, "LS1", True)]


def test_the_solenoid_for_a_quick_stroke_does_nothing_on_the_way_back_or_alone() -> None:
    for valve in (centred(Centre.CLOSED, QUICK), MEMORY.model_copy(update={"rapid": QUICK})):
        plant = plant_of(cylinder("RAM", valve, end_switches("LS1", "LS2")), rapid_us=SECOND // 4)
        plant.command(0, {"SOL1C"})
        until(plant, SECOND)
        assert plant.motion(SECOND) == {"RAM": (0, 0)}
        plant.command(SECOND, OUT | {"SOL1C"})
        assert switch_changes(plant, 2 * SECOND)[-1] == (1_250_000, "LS1", True)
        plant.command(2 * SECOND, BACK | {"SOL1C"})
        assert switch_changes(plant, 4 * SECOND)[-1] == (3 * SECOND, "LS2", True)


def test_a_normally_extended_cylinder_goes_out_quickly_when_both_its_solenoids_say_so() -> None:
    """Its one solenoid off, a spring return sends it out; the further one makes that quick."""
    valve = Valve(kind=ValveKind.SPRING_RETURN, retract="SOL1", rapid=QUICK)
    plant = plant_of(cylinder("RAM", valve, end_switches("LS1", "LS2"), rest=End.END), rapid_us=SECOND // 4)
    plant.command(0, {"SOL1", "SOL1C"})
    assert switch_changes(plant, SECOND)[-1] == (SECOND, "LS2", True)
    plant.command(SECOND, {"SOL1C"})
    assert switch_changes(plant, 2 * SECOND)[-1] == (1_250_000, "LS1", True)


def test_a_quick_stroke_must_be_given_its_time() -> None:
    with pytest.raises(KeyError, match="RAM extends rapidly"):
        plant_of(cylinder("RAM", centred(Centre.CLOSED, QUICK), ()))


def test_both_solenoids_of_a_memory_valve_leave_it_as_it_was() -> None:
    plant = plant_of(cylinder("RAM", MEMORY, end_switches("LS1", "LS2")))
    plant.command(0, OUT | BACK)
    until(plant, SECOND)
    assert plant.motion(SECOND) == {"RAM": (0, 0)}
    plant.command(SECOND, OUT)
    plant.command(SECOND + 1, OUT | BACK)
    until(plant, 2 * SECOND)
    assert plant.motion(2 * SECOND) == {"RAM": (100_000, 0)}


def test_a_jam_stops_a_rod_where_it_stands_until_it_is_freed() -> None:
    plant = plant_of(cylinder("RAM", SINGLE, end_switches("LS1", "LS2")))
    plant.command(0, {"SOL1"})
    until(plant, 300_000)
    plant.jam(300_000, "RAM", True)
    assert plant.due_us() is None
    plant.command(SECOND, ())  # jammed, it does not go back either
    assert plant.motion(10 * SECOND) == {"RAM": (30_000, 0)}
    plant.jam(10 * SECOND, "RAM", False)
    until(plant, 10_300_000)
    assert plant.motion(10_300_000) == {"RAM": (0, 0)}


def test_a_pressure_switch_makes_once_the_load_stalls_and_lets_go_after_the_pressure() -> None:
    ps = PressureSwitch(name="PS", pressure_bar=90, build_up_us=80_000)
    plant = plant_of(cylinder("RAM", SINGLE, (), pressure=(ps,)))
    plant.command(0, {"SOL1"})
    assert switch_changes(plant, 2 * SECOND) == [(SECOND + 80_000, "PS", True)]
    plant.command(2 * SECOND, ())
    assert switch_changes(plant, 3 * SECOND) == [(2 * SECOND + PRESSURE_GOES_US, "PS", False)]
    plant.command(3 * SECOND, {"SOL1"})
    until(plant, 3_500_000)
    plant.jam(3_500_000, "RAM", True)
    assert switch_changes(plant, 5 * SECOND) == [(3_580_000, "PS", True)]


def test_a_pressure_that_goes_before_it_has_built_up_makes_no_switch() -> None:
    ps = PressureSwitch(name="PS", pressure_bar=90, build_up_us=80_000)
    plant = plant_of(cylinder("RAM", SINGLE, (), pressure=(ps,)))
    plant.command(0, {"SOL1"})
    until(plant, SECOND + 50_000)
    plant.command(SECOND + 50_000, ())
    assert switch_changes(plant, 3 * SECOND) == []


def test_a_spring_brings_a_single_acting_cylinder_home_without_pressure() -> None:
    ps = PressureSwitch(name="PS", pressure_bar=5, toward=End.HOME)
    driven = cylinder("RAM", SINGLE, (), pressure=(ps,))
    assert plant_of(driven).made() == {"PS": True}  # resting, pressed home since long ago
    sprung = plant_of(driven.model_copy(update={"single_acting": True}))
    assert sprung.made() == {}


@given(
    extend_us=st.integers(1, 10**7),
    retract_us=st.integers(1, 10**7),
    at_um=st.integers(0, 100_000),
    reset_um=st.integers(1, 5_000),
    rapid_us=st.integers(1, 10**7),
    centre=st.none() | st.sampled_from(Centre),
    turns=st.lists(
        st.tuples(
            st.integers(1, 10**7),
            st.sampled_from([OUT, BACK, NEITHER, OUT | {"SOL1C"}, BACK | {"SOL1C"}, OUT | BACK]),
        ),
        min_size=1,
        max_size=8,
    ),
)
def test_splitting_time_changes_nothing(
    extend_us: int,
    retract_us: int,
    at_um: int,
    reset_um: int,
    rapid_us: int,
    centre: Centre | None,
    turns: list[tuple[int, frozenset[str]]],
) -> None:
    """A plant looked at in between is as one that is not: exact positions, no rounding that adds up."""
    switch = LimitSwitch(name="LS", at_um=at_um, reset_um=reset_um, toward=End.END)
    valve = MEMORY.model_copy(update={"rapid": QUICK}) if centre is None else centred(centre, QUICK)
    whole = plant_of(cylinder("RAM", valve, (switch,)), extend_us, retract_us, rapid_us)
    split = plant_of(cylinder("RAM", valve, (switch,)), extend_us, retract_us, rapid_us)
    now = 0
    for turn, on in turns:
        for plant in (whole, split):
            plant.command(now, on)
        until(split, now + turn // 3)
        until(split, now + turn // 2)
        now += turn
        changes = [switch_changes(plant, now) for plant in (whole, split)]
        assert changes[0][-1:] == changes[1][-1:] or not changes[1]
        assert whole.motion(now) == split.motion(now)
        assert whole.made() == split.made()


@given(extend_us=st.integers(1, 10**9), back_us=st.integers(1, 10**9))
def test_a_full_stroke_takes_exactly_its_time(extend_us: int, back_us: int) -> None:
    plant = plant_of(cylinder("RAM", MEMORY, end_switches("LS1", "LS2")), extend_us, back_us)
    plant.command(0, OUT)
    until(plant, extend_us - 1)
    assert not plant.made()["LS1"]
    until(plant, extend_us)
    assert plant.made()["LS1"]
    plant.command(extend_us, BACK)
    until(plant, extend_us + back_us)
    assert plant.made()["LS2"]
