"""The hunt: a run in which two logics differ, looked for at random where all runs are too many to search.

What is found is a difference; that nothing is found says nothing. The mildest runs are tried first, those of a
careful operator with strokes that take their time, so that what is found goes beyond as little as can be.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.hunt.manner import MANNERS
from compiler.proof.hunt.shorten import MOST_INSTANTS, Shortened, shortened
from compiler.proof.hunt.walk import Jams, Walk
from compiler.proof.world import Assumed
from compiler.simulation.bench import Bench, wire

__all__ = ["Hunted", "hunt"]

_SEED = 5
_RUNS = 12
_LONGEST = 2_000
_SHORT = 300
"""So many instants a run goes on for: the first of each manner, which fills counters, and the others."""


@dataclass(frozen=True, slots=True)
class Hunted:
    """How many runs were ``tried``, and what was ``found``, if anything."""

    tried: int
    found: Shortened | None = None


def hunt(
    driver: Logic,
    shadow: Logic,
    machine: Machine,
    *,
    base: Collection[Assumed] = (),
    announced: Collection[Assumed] = (),
    runs: int = _RUNS,
    instants: int = MOST_INSTANTS,
) -> Hunted:
    """Look for a run in which the two differ and that keeps to all of ``base``. One that goes beyond nothing but what
    is ``announced`` does not count. So many ``runs`` in each manner are tried, and so
    many ``instants`` more are run to make what was found plainer.

    Raises KeyError when a logic reads an input that the machine does not have.
    """
    wired = [wire(machine, logic) for logic in (driver, shadow)]
    rng, visits, tried = random.Random(_SEED), Counter[tuple[str, ...]](), 0
    for manner in MANNERS:
        jams: Jams | None = set() if manner.jams else None
        for number in range(runs):
            tried += 1
            walk = Walk(machine, wired, manner, rng, visits)
            found = walk.go(_SHORT if number else _LONGEST, _differs, jams)
            if found is None:
                continue
            short = shortened(machine, wired, found.scenario("a run that differs"), most=instants)
            beyond = set(short.beyond) if short is not None else set()
            if short is not None and not beyond & set(base) and not (beyond and beyond <= set(announced)):
                return Hunted(tried, short)
            if short is not None:
                break  # this manner goes beyond what is assumed
    return Hunted(tried)


def _differs(bench: Bench) -> bool:
    return 0 not in bench.chattering and (1 in bench.chattering or bench.outputs[0] != bench.outputs[1])
