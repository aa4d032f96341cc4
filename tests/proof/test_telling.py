"""A difference in one sentence. The machine and its runs are made up here: nothing of the search is needed."""

from __future__ import annotations

import pytest

from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from compiler.proof.telling import happening, sentence
from compiler.simulation.run import Change, Difference, Outcome, Role, Run, Scenario, Side

MACHINE = Machine(
    inputs=tuple(
        Input(name=name, kind=kind)
        for name, kind in (
            ("START", InputKind.PUSHBUTTON),
            ("STOP", InputKind.PUSHBUTTON),
            ("GUARD", InputKind.SENSOR),
        )
    ),
    loads=(Load(name="LAMP", kind=LoadKind.LAMP),),
    start="START",
    stop="STOP",
)
AT_US = 2_000_000


def world(at_s: float, signal: str, on: bool, role: Role = Role.INPUT) -> Change:
    return Change(at_us=round(1e6 * at_s), side=Side.WORLD, role=role, signal=signal, on=on)


def lamp(side: Side) -> Change:
    return Change(at_us=AT_US, side=side, role=Role.OUTPUT, signal="LAMP", on=True)


def run(*changes: Change) -> Run:
    """The lamp comes on in B, and not in A, after two seconds."""
    supply = world(0, "supply", True, Role.SUPPLY)
    return Run(
        machine="Lamp",
        driver="A",
        shadow="B",
        scenario=Scenario(name="made up", duration_us=4_000_000),
        changes=tuple(sorted((supply, *changes), key=lambda change: change.at_us)),
        ended_us=4_000_000,
        outcome=Outcome.DIFFERENCE,
        difference=Difference(at_us=AT_US, output="LAMP", driver_on=False, shadow_on=True),
    )


STOPPED = (world(0.5, "STOP", True), world(0.7, "STOP", False))
LOST = (world(0.9, "supply", False, Role.SUPPLY), world(1.2, "supply", True, Role.SUPPLY))
GUARD = world(2, "GUARD", True)
START = world(1.5, "START", True)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ((GUARD,), "GUARD is made at 2 s"),
        ((GUARD, START), "START is still held when GUARD is made at 2 s"),
        ((GUARD, *STOPPED), "GUARD is made at 2 s, after STOP was pressed at 0.5 s"),
        ((GUARD, *STOPPED, *LOST), "GUARD is made at 2 s, after the supply was lost at 0.9 s"),
        ((GUARD, STOPPED[0]), "STOP is still held when GUARD is made at 2 s"),
        ((STOPPED[0], world(2, "STOP", False)), "STOP is let go at 2 s"),
        ((LOST[0], world(2, "supply", True, Role.SUPPLY)), "the supply returns at 2 s"),
        ((world(2, "GUARD", True, Role.STUCK),), "GUARD sticks at 2 s"),
        (
            (world(1, "GUARD", True), world(2, "GUARD", True, Role.STUCK), world(2, "GUARD", False)),
            "GUARD lets go and sticks at 2 s",
        ),
        ((lamp(Side.SHADOW),), "a time runs out in B at 2 s"),
        ((START, lamp(Side.DRIVER), lamp(Side.SHADOW)), "START is still held when a time runs out in A and B at 2 s"),
    ],
)
def test_the_moment_is_told_with_what_led_to_it(changes: tuple[Change, ...], told: str) -> None:
    assert sentence(run(*changes), MACHINE).split(": LAMP ")[0] == told


def test_a_run_of_one_logic_names_nobody() -> None:
    assert happening(run(START, lamp(Side.DRIVER)).model_copy(update={"shadow": ""}), MACHINE, AT_US) == (
        "START is still held when a time runs out"
    )


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ((GUARD, lamp(Side.SHADOW)), "LAMP comes on in B and stays off in A"),
        ((lamp(Side.SHADOW),), "LAMP comes on there and stays off in A"),
        ((lamp(Side.DRIVER),), "LAMP comes on there and stays off in B"),
    ],
)
def test_the_side_whose_time_it_is_comes_first(changes: tuple[Change, ...], told: str) -> None:
    """Where the shadow has the lamp on, but for the last: there it is the driver's time, and the driver's lamp."""
    made = run(*changes)
    if changes[0].side is Side.DRIVER:
        difference = Difference(at_us=AT_US, output="LAMP", driver_on=True, shadow_on=False)
        made = made.model_copy(update={"difference": difference})
    assert sentence(made, MACHINE).endswith(f": {told}")


def test_no_press_of_stop_is_told_where_there_is_no_stop() -> None:
    machine = MACHINE.model_copy(update={"stop": None})
    assert sentence(run(GUARD, *STOPPED), machine).startswith("GUARD is made at 2 s: ")
