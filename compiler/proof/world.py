"""What a proof lets happen: its assumptions about the operator and the machine, and their published order."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

__all__ = [
    "APART",
    "CAREFUL",
    "EXACT",
    "FAULTY",
    "JAM",
    "SUPPLY",
    "WORKING",
    "WORLDS",
    "Assumed",
    "World",
]

# What an event goes beyond: bits, since a search asks for them at every turn.
CAREFUL, APART, EXACT, JAM, SUPPLY, FAULTY = 1, 2, 4, 8, 16, 32


class Assumed(StrEnum):
    """An assumption, in the words that follow "same only if"."""

    CAREFUL = "the operator is careful"
    APART = "START and STOP are never down together"
    EXACT = "every stroke takes exactly its greatest time"
    NO_JAM = "no stroke jams"
    SUPPLIED = "the control supply stays on"
    SWITCHES = "every switch works"


@dataclass(frozen=True, slots=True)
class World:
    """The assumptions of one search; each that is False leaves things free. Of all rods and switches at most one ever
    fails.

    ``careful``: START is pressed only when every rod stands, STOP is not down and the press begins something; it is
    let go before anything further begins or ends in the driver (the next step of a sequence, a time), and is not down
    as the supply returns; STOP is not pressed with it.
    ``apart``: START and STOP are never down together.
    ``exact``: every whole stroke takes exactly its greatest time.
    ``no_jam``: no rod jams.
    ``supplied``: the control supply is always there.
    ``failing`` assumes less: a limit or pressure switch may stick at any moment, made or open, and then stays so.
    """

    careful: bool = False
    apart: bool = False
    exact: bool = False
    no_jam: bool = False
    supplied: bool = False
    failing: bool = False

    @property
    def excluded(self) -> int:
        """The bits of the events that this world leaves out."""
        return (
            CAREFUL * self.careful
            | APART * (self.careful or self.apart)
            | EXACT * self.exact
            | JAM * self.no_jam
            | SUPPLY * self.supplied
            | FAULTY * (not self.failing)
        )

    @property
    def assumed(self) -> tuple[Assumed, ...]:
        """The assumptions in their published order."""
        made = {
            Assumed.CAREFUL: self.careful,
            Assumed.APART: self.apart,
            Assumed.EXACT: self.exact,
            Assumed.NO_JAM: self.no_jam,
            Assumed.SUPPLIED: self.supplied,
            Assumed.SWITCHES: not self.failing,
        }
        return tuple(assumption for assumption, is_made in made.items() if is_made)

    def without(self, assumption: Assumed) -> World:
        """The world that leaves that free."""
        return _world(set(self.assumed) - {assumption})


def _world(assumed: set[Assumed]) -> World:
    return World(
        careful=Assumed.CAREFUL in assumed,
        apart=Assumed.APART in assumed,
        exact=Assumed.EXACT in assumed,
        no_jam=Assumed.NO_JAM in assumed,
        supplied=Assumed.SUPPLIED in assumed,
        failing=Assumed.SWITCHES not in assumed,
    )


def _published() -> tuple[World, ...]:
    weak_to_strong = (Assumed.APART, *(a for a in Assumed if a is not Assumed.APART))
    both = {Assumed.APART, Assumed.CAREFUL}
    sets = (set(chosen) for size in range(len(weak_to_strong)) for chosen in combinations(weak_to_strong, size))
    return tuple(_world(assumed) for assumed in sets if not both <= assumed)


WORLDS = _published()
"""The order in which assumptions are tried: fewest first, the weaker of two before the stronger. A careful operator
never has START and STOP down together, so the two never come as a pair."""

WORKING = tuple(world for world in WORLDS if not world.failing)
"""Those in which every switch works, in the same order."""
