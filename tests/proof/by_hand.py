"""Pairs whose verdict is worked out by hand, each of which hangs on one thing that a search must get right."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.world import World
from tests.proof.cases import logic, press

__all__ = ["PAIRS", "Pair"]

FREE = World(no_jam=True, supplied=True)
EXACT = World(exact=True, no_jam=True, supplied=True)
JAMS = World(supplied=True)
SUPPLY = World(no_jam=True)
CAREFUL = World(careful=True, no_jam=True, supplied=True)


@dataclass(frozen=True, slots=True)
class Pair:
    """What it hangs on, the two, and in each world after how many events they differ (None: never)."""

    name: str
    driver: Logic
    shadow: Logic
    machine: Machine
    events: tuple[tuple[World, int | None], ...]


PRESS, PRESSED = press(), press(pressure=2)
SEALED = "START or CR1, feeds CR1"
DARK = logic(PRESS, {}, "LS1, LS1 NC, feeds LAMP")
DARK_OUT = logic(PRESS, {}, SEALED, "CR1, feeds SOL1")


def _lamp(timers: dict[str, str], *rungs: str) -> Logic:
    return logic(PRESS, timers, *rungs)


def _sequence(first: str, second: str) -> Pair:
    """CR1 notes that both buttons are down before either time is over; the lamp is lit while the second one's time
    still runs and the first one's is over: only when they were pressed in that order. Press, press, timer.

    Either order leads to the one situation, with readings that the other does not have."""
    timers = {"TR1": "on-delay 2", "TR2": "on-delay 2"}
    rungs = (
        f"{first}, feeds TR1",
        f"{second}, feeds TR2",
        "START, STOP, (TR1 NCTO and TR2 NCTO) or CR1, feeds CR1",
        "CR1, TR1 NOTC, TR2 NCTO, feeds LAMP",
    )
    return Pair(f"{first} before {second}", _lamp(timers, *rungs), DARK, PRESS, ((FREE, 3),))


def _timers() -> tuple[Pair, ...]:
    """Times that add up, and what is left after several have expired at one instant."""
    three = _lamp({"TR1": "on-delay 3"}, "START, feeds TR1", "TR1 NOTC, feeds LAMP")
    latched = _lamp({"TR1": "on-delay 3"}, "START, feeds TR1", "TR1 NOTC or CR1, feeds CR1", "CR1, feeds LAMP")
    two_and_one = _lamp(
        {"TR1": "on-delay 2", "TR2": "on-delay 1"}, "START, feeds TR1", "TR1 NOTC, feeds TR2", "TR2 NOTC, feeds LAMP"
    )
    twice_two = _lamp(
        {"TR1": "on-delay 2"},
        "START, TR1 NCTO, feeds TR1",
        "START, TR1 NOTC or CR1, feeds CR1",
        "START, (TR1 NOTC and CR1) or CR2, feeds CR2",
        "CR2, feeds LAMP",
    )
    four = _lamp({"TR1": "on-delay 4"}, "START, feeds TR1", "TR1 NOTC, feeds LAMP")
    return (
        Pair("2 and 1 are 3", three, two_and_one, PRESS, ((FREE, None), (SUPPLY, None))),
        # Press, the timer of 2, all the others at one instant, release.
        Pair("after expiring together", latched, two_and_one, PRESS, ((FREE, 4),)),
        # A timer that cuts its own input begins again within one reaction.
        Pair("twice 2 is 4", twice_two, four, PRESS, ((FREE, None),)),
        Pair("twice 2 is not 3", twice_two, three, PRESS, ((FREE, 3),)),  # press, the timer of 2, that of 3
    )


def _strokes() -> tuple[Pair, ...]:
    seen = _lamp({}, SEALED, "CR1, feeds SOL1", "CR1, LS1, feeds LAMP")
    timed = _lamp({"TR1": "on-delay 4"}, SEALED, "CR1, feeds SOL1 and TR1", "TR1 NOTC, feeds LAMP")
    late = _lamp({"TR1": "on-delay 5"}, SEALED, "CR1, feeds SOL1 and TR1", "TR1 NOTC, LS1 NC, feeds LAMP")
    # LS2 is looked at by a contact that changes nothing, so that its letting go counts as an event.
    look = "LS2, LS2 NC, feeds SOL2"
    seen_too = _lamp({}, SEALED, "CR1, feeds SOL1", "CR1, LS1, feeds LAMP", look)
    return (
        # At the greatest time LS1 makes and the timer expires at one instant, in either order.
        Pair("exactly its greatest time", seen, timed, PRESS, ((EXACT, None),)),
        Pair("or sooner", seen_too, timed, PRESS, ((FREE, 3),)),  # press, LS2 lets go, LS1
        # No stroke takes 5 units. Press, jam, timer.
        Pair("only a jam is late", late, DARK_OUT, PRESS, ((FREE, None), (JAMS, 3))),
    )


def _people() -> tuple[Pair, ...]:
    """What a careful operator and a lost supply leave out or add."""
    both = _lamp({}, SEALED, "CR1, feeds SOL1", "LS1, feeds CR2", "START, LS1, feeds LAMP")
    unseen = _lamp({}, SEALED, "CR1, feeds SOL1", "START, LS1, feeds LAMP")
    seen = _lamp({}, SEALED, "CR1, feeds SOL1", "LS2, LS2 NC, feeds SOL2", "LS1, LS1 NC, feeds LAMP")
    edge = _lamp({}, "(START and CR2 NC) or CR1, feeds CR1", "START or CR2, feeds CR2", "CR1, feeds LAMP")
    forgets = _lamp({}, "START or CR1, feeds CR1", "CR1, feeds LAMP")
    return (
        # Press, LS2 lets go, LS1: CR2 picks up with START still down, which a careful operator never lets happen.
        # Without CR2 nothing tells the operator that something new begins.
        Pair("held to the end", both, seen, PRESS, ((FREE, 3), (CAREFUL, None))),
        Pair("held past what nothing shows", unseen, seen, PRESS, ((FREE, 3), (CAREFUL, 3))),
        Pair("a supply forgets in both", edge, forgets, PRESS, ((FREE, None), (SUPPLY, None))),
    )


def _pressure() -> tuple[Pair, ...]:
    """PS1 sends its own rod back at the event that makes it, and stays made for a unit from then."""
    returns = logic(PRESSED, {}, "PS1 NC, feeds SOL1", "PS1, LS1, LS2 NC, feeds LAMP")
    dark = logic(PRESSED, {}, "PS1 NC, feeds SOL1", "LS1, LS1 NC, LS2, feeds LAMP")
    return (Pair("sends itself back", returns, dark, PRESSED, ((FREE, 3), (JAMS, 3))),)  # LS2, LS1, PS1


PAIRS = (
    _sequence("START", "STOP"),
    _sequence("STOP", "START"),
    *_timers(),
    *_strokes(),
    *_people(),
    *_pressure(),
)
