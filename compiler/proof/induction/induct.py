"""Two logics are the same whatever their inputs do, by induction over reactions.

What is kept is not the set of all situations but, for each set of parts that belong together, the combinations of
values it takes; a situation is thought possible when each of its sets takes a combination that is known. If power
coming on leads to such situations only, and every reaction leads from such situations to such situations, whatever
the inputs and whichever timers expire, then no other ever comes about. If in none of them the outputs differ, the two
are the same. More is thought possible than is: so what is not shown here may hold all the same.

Timers of the same preset that begin and end together expire together: that is a part of what is kept. Of all others
nothing is known but that they run, so any may expire at any moment.

Source: C. A. J. van Eijk, "Sequential equivalence checking based on structural similarities", IEEE TCAD 19(7), 2000,
for the principle; P. Cousot and R. Cousot 1977 for keeping more than what is (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.induction.diagrams import TooLarge
from compiler.proof.induction.faithful import faithful
from compiler.proof.induction.pair import Pair
from compiler.proof.induction.passing import OutputsDiffer, Pass
from compiler.proof.induction.possible import Possible
from compiler.proof.induction.reading import NotUnderstood
from compiler.proof.induction.trying import Differ, Trial
from compiler.proof.induction.written import Unsettled

__all__ = ["MOST_NODES", "Shown", "always_same", "possible_of"]

_EFFORTS = ((20, 150_000, False), (50, 600_000, False), (58, 600_000, False), (0, 600_000, True))
"""How many reactions more are tried, how many nodes are then spent at most, and whether every two parts that belong
together are to be in one set. What was met too seldom to be known makes large diagrams, so little is spent at first.
"""

_MOST_TRIED = 250_000
"""So many expressions are read in the trial, and no more is tried unless inputs change one by one."""

MOST_NODES = 1_000_000
"""So many nodes in all, and it is given up."""

_MOST_PASSES = 16
_MOST_COMBINATIONS = 3_000


@dataclass(frozen=True, slots=True)
class Shown:
    """That two are the same: how many sets of parts were looked at, and how many combinations they take in all."""

    sets: int
    combinations: int


def always_same(driver: Logic, shadow: Logic, machine: Machine, *, one_by_one: bool = False) -> Shown | None:
    """That two logics are the same whatever their inputs do, and both always settle. ``one_by_one``: the inputs
    change one after another, but for limit switches that a rod reaches at one place, and none at the moment a timer
    expires, as is so in any run of a machine; as power comes on they may be anything. None where it was not shown,
    which says nothing.

    Raises KeyError when a logic reads an input that the machine does not have.
    """
    try:
        possible = possible_of(Pair.of(driver, shadow, machine), one_by_one=one_by_one)
    except NotUnderstood:
        return None
    return None if possible is None else Shown(len(possible.sets), possible.combinations)


def possible_of(pair: Pair, *, one_by_one: bool) -> Possible | None:
    """All that is possible, and more, where in none of it the outputs differ; None where that was not found."""
    left = [MOST_NODES]
    try:
        trial = Trial(pair, one_by_one=one_by_one)
        for reactions, nodes, every_two in _EFFORTS:
            if not one_by_one and trial.work > _MOST_TRIED:
                break  # a chart, or a program, is shown by now; a circuit more likely input by input
            tried = trial.go_on(reactions)
            possible = Possible.of(pair, tried, every_two=every_two, one_by_one=one_by_one)
            if _closes(possible, left, nodes):
                return possible if all(map(faithful, pair.sides)) else None
    except (Differ, NotUnderstood, TooLarge, Unsettled):
        pass
    return None


def _closes(possible: Possible, left: list[int], nodes: int) -> bool:
    """The same with so many nodes, all that is left at most. Raises TooLarge when nothing is left."""
    now = [min(nodes, left[0])]
    left[0] -= now[0]
    try:
        return _closed(possible, now)
    except TooLarge:
        if left[0] <= 0:
            raise
        return False
    finally:
        left[0] += max(now[0], 0)


def _closed(possible: Possible, left: list[int]) -> bool:
    """Whether every reaction leads from what is thought possible to what is, once that has grown far enough. Takes
    the nodes it needs from those ``left``. Raises TooLarge when none are."""
    for _ in range(_MOST_PASSES):
        once = Pass(possible, left[0])
        try:
            more = once.finds_more()
        except OutputsDiffer:
            return False
        finally:
            left[0] -= len(once.diagrams)
        if not more:
            return True
        if possible.combinations > _MOST_COMBINATIONS:
            return False
    return False
