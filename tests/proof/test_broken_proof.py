"""A proof broken on purpose is caught by the tick explorer: else its agreement would prove little.

Each fault is one that a search of this kind could have, put in its place while the same pairs are judged again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import pytest

from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof import explore as search
from compiler.proof import rods, zone
from compiler.proof.explore import Ending
from compiler.proof.product import Product
from compiler.proof.world import World
from tests.proof.by_hand import PAIRS
from tests.proof.cases import TICK, UNIT, arranged
from tests.proof.rules import rules_of
from tests.proof.sequences import SEQUENCES
from tests.proof.spoiling import spoilt
from tests.proof.ticks import explore_ticks

WORLDS = (
    World(no_jam=True, supplied=True),
    World(careful=True, exact=True, no_jam=True),
    World(),
)
Judged = tuple[Logic, Logic, Machine, World, bool]


@cache
def _judged() -> list[Judged]:
    """Pairs, worlds, and whether the two differ, as known by hand or by the ticks."""
    found = [
        (pair.driver, pair.shadow, pair.machine, world, events is not None)
        for pair in PAIRS
        for world, events in pair.events
    ]
    for driver, shadow, machine in _spoilt():
        for world in WORLDS:
            ticked = explore_ticks(driver, shadow, machine, rules_of(world), tick_us=TICK)
            found.append((driver, shadow, machine, world, ticked.differs))
    return found


def _spoilt() -> Iterator[tuple[Logic, Logic, Machine]]:
    """The sound arrangement and every third change of it."""
    for sequence in SEQUENCES[:2]:
        driver, machine = chart_logic(sequence.chart), sequence.machine
        for name in ("on-delay", "one-shot"):
            sound = arranged(name, sequence.chart, machine, anti_repeat=True)
            changed = [other for _, _, other in spoilt(sound, preset_by_us=UNIT)][::3]
            for circuit in (sound, *changed):
                yield driver, circuit_logic(circuit, machine), machine


def _disagrees() -> bool:
    for driver, shadow, machine, world, differs in _judged():
        explored = search.explore(Product(driver, shadow, machine), world, most=20_000)
        if (explored.ending is Ending.DIFFERS) != differs:
            return True
    return False


def test_the_sound_proof_agrees_on_all_of_these() -> None:
    assert len(_judged()) > 100
    assert not _disagrees()


def _only_one_at_a_time(within: Any, size: int, deadlines: Any) -> Iterator[Any]:
    for due, then in _EXPIRING(within, size, deadlines):
        if len(due) == 1:
            yield due, then


def _never_fresh(self: Any, at: Any, inputs: Any, supply: Any, expired: Any) -> Any:
    driver, shadow, _ = _REACT(self, at, inputs, supply, expired)
    return driver, shadow, frozenset()


_EXPIRING, _REACT = search._expiring, Product._react
_DELAY, _WINDOW = zone.delay, rods.Rod._window

FAULTS: list[tuple[str, Any, str, Callable[..., Any]]] = [
    ("counts what lasts no time", search, "lasts", lambda entry, limits: True),
    ("sees no difference that a limit is near to", search, "lasts", lambda entry, limits: not limits),
    ("lets timers expire one at a time only", search, "_expiring", _only_one_at_a_time),
    ("never lets a timer expire", search, "_expiring", lambda within, size, deadlines: iter(())),
    ("waits without limits", search, "delay", lambda entry, size, limits: _DELAY(entry, size, ())),
    ("does not wait", search, "delay", lambda entry, size, limits: entry),
    ("drops whatever comes a second time", search, "covers", lambda larger, smaller: True),
    ("passes places too soon", search, "at_least", lambda time_us: 1),
    ("lets timers run on as they start anew", Product, "_react", _never_fresh),
    ("takes every stroke for its least time", rods.Rod, "_window", lambda s, p, m: (*_WINDOW(s, p, m)[:2], 10_000)),
    ("lets START be pressed at any time", Product, "_begins", lambda self, at, after: True),
    ("never jams", Product, "_jams", lambda self, at: iter(())),
    ("forgets that a pressure switch takes its time", rods.Pressure, "pressed", lambda self, place: False),
]  # fmt: skip


@pytest.mark.parametrize(("wrong", "where", "name", "instead"), FAULTS, ids=[fault[0] for fault in FAULTS])
def test_a_broken_search_is_caught(
    wrong: str, where: Any, name: str, instead: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert _judged()
    monkeypatch.setattr(where, name, instead)
    try:
        caught = _disagrees()
    except (AssertionError, KeyError, IndexError, ValueError):
        caught = True  # it falls over: nobody would take that for a verdict
    assert caught, wrong
