"""What is done to a machine in runs that are tried at random: little at first, then more and more."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["MANNERS", "QUICKER_US", "WORKING", "Manner"]

QUICKER_US = 1_000
"""An exact stroke is quicker than its greatest time by less than this, so that no two end at one instant."""


@dataclass(frozen=True, slots=True)
class Manner:
    """What may happen in a run, and how often something is done though the machine is busy (``haste``).

    ``careful``: START is pressed only when every rod stands, STOP is not down and the press begins something, and is
    let go before anything further happens. ``exact``: strokes take their greatest times, but for some microseconds;
    otherwise they are even, of any time within their limits. ``jams``, ``sticks``: one rod, or one switch, may fail.
    """

    careful: bool = True
    exact: bool = True
    haste: float = 0.1
    stops: bool = False
    jams: bool = False
    sticks: bool = False
    supply: bool = False


WORKING = (Manner(), Manner(exact=False), Manner(exact=False, stops=True, haste=0.2), Manner(jams=True, exact=False))
"""The manners of a careful operator, with every switch working and the supply on."""

MANNERS = (
    *WORKING,
    Manner(exact=False, stops=True, careful=False, haste=0.3),
    Manner(exact=False, stops=True, careful=False, haste=0.3, jams=True, sticks=True, supply=True),
)
"""All manners, the mildest first."""
