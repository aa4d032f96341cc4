"""What is done to a machine in runs that are tried at random: little at first, then more and more."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["MANNERS", "WORKING", "Manner", "quicker_us"]


def quicker_us(time_us: int) -> int:
    """By how much at most a stroke that is nearly exact is quicker than its greatest time, so that no two end at one
    instant: a two-thousandth, a millisecond at most, and some microseconds in any case."""
    return min(1_000, 5 + time_us // 2_000)


@dataclass(frozen=True, slots=True)
class Manner:
    """What may happen in a run, and how often something is done though the machine is busy (``haste``).

    ``careful``: START is pressed only when every rod stands, STOP is not down and the press begins something, and is
    let go before anything further happens. ``exact``: strokes take nearly their greatest times;
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
