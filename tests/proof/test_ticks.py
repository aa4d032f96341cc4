"""The tick explorer itself, on cases small enough to be worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from compiler.chart_logic import chart_logic
from compiler.condition import Rise
from compiler.logic import Logic
from compiler.machine import End, LimitSwitch, Machine
from tests.proof.cases import STROKE, TICK, Case, arrangement_cases, chart, logic, press
from tests.proof.rules import Rules
from tests.proof.ticks import explore_ticks

PRESS = press()
FREE = Rules(no_jam=True, supplied=True)
CAREFUL = replace(FREE, careful=True)
EXACT = replace(FREE, exact=True)
OFF = logic(PRESS, {}, "STOP, STOP NC, feeds LAMP")
RUN = "START or CR1, STOP NC, feeds CR1"  # sealed in until STOP


def differs(driver: Logic, shadow: Logic, rules: Rules | None = None, machine: Machine = PRESS) -> int | None:
    """After how many events the two differ; None when they never do."""
    found = explore_ticks(driver, shadow, machine, rules or FREE, tick_us=TICK)
    assert found.differs == bool(found.run)
    return found.events if found.differs else None


def lamp(*rungs: str, timers: dict[str, str] | None = None, machine: Machine = PRESS) -> Logic:
    return logic(machine, timers or {}, *rungs)


@pytest.mark.parametrize(
    ("driver", "shadow", "events"),
    [
        (lamp("START, feeds LAMP"), lamp("START, feeds LAMP"), None),
        (lamp("START, feeds LAMP"), OFF, 1),
        (lamp("START NC, feeds LAMP"), OFF, 0),  # the lamp is on from the first moment
        (lamp("START, feeds LAMP"), lamp(RUN, "CR1, feeds LAMP"), 2),  # press and let go
        (lamp("START, STOP, feeds LAMP"), OFF, 2),  # both down, in either order
        (lamp("LS2 NC, feeds LAMP"), OFF, None),  # nothing drives the cylinder from home
        (lamp("START, feeds SOL1", "LS1, feeds LAMP"), lamp("START, feeds SOL1"), 3),  # press, LS2 lets go, LS1 makes
        (lamp("START, feeds SOL2", "LS1, feeds LAMP"), lamp("START, feeds SOL2"), None),  # it has no such solenoid
    ],
)
def test_what_needs_no_time(driver: Logic, shadow: Logic, events: int | None) -> None:
    assert differs(driver, shadow) == events


@pytest.mark.parametrize(
    ("driver", "shadow", "events"),
    [
        ({"TR1": "on-delay 3"}, {"TR1": "on-delay 3"}, None),
        ({"TR1": "on-delay 3"}, {"TR1": "on-delay 4"}, 2),  # press, the shorter one expires
        ({"TR1": "on-delay 3"}, {"TR1": "on-delay 2", "TR2": "on-delay 1"}, None),  # 2 and then 1 are 3
        ({"TR1": "on-delay 3"}, {"TR1": "on-delay 2", "TR2": "on-delay 2"}, 3),
    ],
)
def test_times_add_up_and_expire_together(driver: dict[str, str], shadow: dict[str, str], events: int | None) -> None:
    def timed(timers: dict[str, str]) -> Logic:
        last = list(timers)[-1]
        chain = [f"{a} NOTC, feeds {b}" for a, b in zip(timers, list(timers)[1:], strict=False)]
        return lamp("START, feeds TR1", *chain, f"{last} NOTC, feeds LAMP", timers=timers)

    assert differs(timed(driver), timed(shadow)) == events


def test_a_stroke_of_2_to_4_units_beside_a_timer() -> None:
    """LS1 makes when the timer set to the greatest time expires, if the stroke takes just that; else it is early."""
    seen = lamp("START or CR1, feeds CR1", "CR1, feeds SOL1", "LS1, feeds LAMP")
    timed = [
        lamp(
            "START or CR1, feeds CR1",
            "CR1, feeds SOL1 and TR1",
            "TR1 NOTC, feeds LAMP",
            timers={"TR1": f"on-delay {k}"},
        )
        for k in (1, 2, 3, 4, 5)
    ]
    # The press, LS2 lets go, and whichever is first of LS1 and the timer. Exact: only the 4 units agree.
    assert [differs(seen, one) for one in timed] == [3, 3, 3, 3, 3]
    assert [differs(seen, one, EXACT) for one in timed] == [3, 3, 3, None, 3]
    assert differs(seen, timed[3], Rules(exact=True, supplied=True)) is not None


def test_a_switch_lets_go_later_than_at_once_and_by_its_reset_travel() -> None:
    """Reset is a fifth of a stroke, at the slowest 8 ms of 40 ms: a timer of 1 unit (10 ms) is always later."""
    gone = lamp("START or CR1, feeds CR1", "CR1, feeds SOL1", "CR1, LS2 NC, feeds LAMP")
    at_once = lamp("START or CR1, feeds CR1", "CR1, feeds SOL1 and LAMP")
    by_then = lamp(
        "START or CR1, feeds CR1",
        "CR1, feeds SOL1 and TR1",
        "CR1, (LS2 NC or TR1 NOTC), feeds LAMP",
        timers={"TR1": "on-delay 1"},
    )
    assert differs(gone, at_once) == 1
    assert differs(gone, by_then) is None


def test_a_reversed_stroke_takes_anything_up_to_its_full_time_back() -> None:
    """Sent out and called back in mid-stroke, the rod is home after more than 0 and at most 4 units."""
    called = ("START, feeds SOL1", "START NC, LS2 NC, feeds TR1", "TR1 NOTC, feeds LAMP")
    dark = lamp("START, feeds SOL1")
    longer_than = [differs(lamp(*called, timers={"TR1": f"on-delay {k}"}), dark) for k in (1, 3, 4, 5)]
    # Press, LS2 lets go, release, and the timer. At 4 units the lamp lights for no time at all.
    assert longer_than == [4, 4, None, None]


def test_pressure_builds_up_and_goes() -> None:
    """PS1 is made 2 units after the end is reached, the end 4 units after the press: 6 in all when exact."""
    on = press(pressure=2)
    seen = lamp("START or CR1, feeds CR1", "CR1, feeds SOL1", "PS1, feeds LAMP", machine=on)

    def timed(units: int) -> Logic:
        rungs = ("START or CR1, feeds CR1", "CR1, feeds SOL1 and TR1", "TR1 NOTC, feeds LAMP")
        return lamp(*rungs, timers={"TR1": f"on-delay {units}"}, machine=on)

    agree = [differs(seen, timed(k), EXACT, on) is None for k in (4, 5, 6, 7)]
    assert agree == [False, False, True, False]
    # Let go: it stays made for just one unit, the switch LS1 for less.
    after = lamp("START, feeds SOL1", "START NC, PS1, feeds LAMP", machine=on)
    early = lamp("START, feeds SOL1", "START NC, LS1, feeds LAMP", machine=on)
    assert differs(after, early, FREE, on) is not None


def test_a_jam_builds_up_pressure_in_mid_stroke() -> None:
    on = press(pressure=2)
    none = lamp("START, feeds SOL1", machine=on)
    held = lamp("START, feeds SOL1", "START, PS1, LS1 NC, feeds LAMP", machine=on)
    # Without a jam: press, LS2 lets go, LS1, PS1, release, LS1 lets go, and a press before PS1 has gone.
    assert differs(held, none, FREE, on) == 7
    assert differs(held, none, Rules(supplied=True), on) == 3  # press, jam at once, PS1


def test_a_switch_in_mid_stroke_makes_before_the_end_and_lets_go_on_the_way_back() -> None:
    middle = LimitSwitch(name="LS3", at_um=STROKE // 2, reset_um=STROKE // 5, toward=End.END)
    on = press(more=(middle,))
    sent = "START or CR1, STOP NC, feeds CR1"
    ends_first = lamp(sent, "CR1, feeds SOL1", "LS1, LS3 NC, feeds LAMP", machine=on)
    assert differs(ends_first, lamp(sent, "CR1, feeds SOL1", machine=on), FREE, on) is None
    half = lamp(sent, "CR1, feeds SOL1", "LS3, feeds LAMP", machine=on)
    timed = lamp(sent, "CR1, feeds SOL1 and TR1", "TR1 NOTC, feeds LAMP", timers={"TR1": "on-delay 2"}, machine=on)
    # Half a stroke in half its time, going out from home; STOP on the way spoils it, so START only once.
    assert differs(half, timed, EXACT, on) is not None
    once = lamp("START or CR1, feeds CR1", "CR1, feeds SOL1", "LS3, feeds LAMP", machine=on)
    rungs = ("START or CR1, feeds CR1", "CR1, feeds SOL1 and TR1", "TR1 NOTC, feeds LAMP")
    assert differs(once, lamp(*rungs, timers={"TR1": "on-delay 2"}, machine=on), EXACT, on) is None


def test_a_lost_supply_forgets_and_a_held_start_begins_again() -> None:
    """A seal-in that START picks up, beside a chart's edge: START held as the supply returns tells them apart."""
    of = chart_logic(chart(PRESS, Rise(device="START"), stop=False))
    sealed = lamp(
        "(START or CR1), TR1 NCTO, feeds CR1", "CR1, LS1, feeds TR1", "CR1, feeds SOL1", timers={"TR1": "on-delay 3"}
    )
    assert differs(of, sealed, CAREFUL) is None
    assert differs(of, sealed, Rules(careful=True, no_jam=True)) is None
    assert differs(of, sealed, Rules(no_jam=True)) == 3  # press, supply off, supply on


def test_a_careful_operator_presses_only_at_rest_and_lets_go_in_time() -> None:
    """Nothing lights by a press while the cycle runs, and START is never down as the cylinder arrives."""
    runs = chart_logic(chart(PRESS))
    rungs = ("(START or CR1), TR1 NCTO, STOP NC, feeds CR1", "CR1, LS1, feeds TR1", "CR1, feeds SOL1")
    told = (*rungs, "START, LS1, feeds LAMP")
    late = lamp(*told, timers={"TR1": "on-delay 3"})
    assert differs(runs, late) is not None
    assert differs(runs, late, CAREFUL) is None


def test_a_shadow_that_never_settles_is_a_difference_and_such_a_driver_is_told() -> None:
    buzzer = lamp("START, CR1 NC, feeds CR1")
    still = lamp("START, feeds CR1")
    assert differs(still, buzzer) == 1
    found = explore_ticks(buzzer, still, PRESS, FREE, tick_us=TICK)
    assert (found.differs, found.driver_chatters) == (False, True)


def test_times_that_are_no_whole_ticks_are_refused() -> None:
    timed = lamp("START, feeds TR1", timers={"TR1": "on-delay 1"})
    with pytest.raises(ValueError, match="whole ticks"):
        explore_ticks(timed, timed, PRESS, FREE, tick_us=3000)


WORLDS = {
    "anything": Rules(),
    "free": FREE,
    "apart": replace(FREE, apart=True),
    "careful": replace(FREE, careful=True),
    "careful, exact": replace(FREE, careful=True, exact=True),
    "careful, jams": replace(FREE, careful=True, no_jam=False),
    "careful, supply": replace(FREE, careful=True, supplied=False),
}


@pytest.mark.parametrize("case", arrangement_cases(), ids=lambda case: case.name)
def test_half_the_tick_finds_the_same(case: Case) -> None:
    for rules in WORLDS.values():
        coarse, fine = (
            explore_ticks(case.driver, case.shadow, case.machine, rules, tick_us=tick) for tick in (TICK, TICK // 2)
        )
        assert (coarse.differs, coarse.events) == (fine.differs, fine.events)
