"""Which steps a machine comes to: each is met in a run, which is proof enough that it is reached."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Collection

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.hunt.manner import WORKING
from compiler.proof.hunt.walk import Jams, Walk
from compiler.simulation.bench import Bench, wire

__all__ = ["steps_met"]

_SEED = 3
_RUNS = 60
_LONGEST = 3_000
"""So many instants the long runs go on for; the others for a part of that."""
_PARTS = 8


def steps_met(logic: Logic, machine: Machine, wanted: Collection[str], *, runs: int = _RUNS) -> frozenset[str]:
    """Those of the ``wanted`` that are on inside in one of so many ``runs``, all switches working and
    at most one rod jamming.

    Raises KeyError when the logic reads an input that the machine does not have.
    """
    left, found = set(wanted), set[str]()
    wired, rng, visits = wire(machine, logic), random.Random(_SEED), Counter[tuple[str, ...]]()
    jams: Jams = set()

    def note(bench: Bench) -> bool:
        if 0 not in bench.chattering:
            there = left.intersection(bench.lit())
            found.update(there)
            left.difference_update(there)
        return not left

    for number in range(runs):
        walk = Walk(machine, [wired], WORKING[number % len(WORKING)], rng, visits)
        if walk.go(_LONGEST if number % len(WORKING) == 0 else _LONGEST // _PARTS, note, jams) is not None:
            break
    return frozenset(found)
