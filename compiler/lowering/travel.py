"""How long a stroke takes: as stated, from bore, stroke and flow, or assumed."""

from __future__ import annotations

from compiler.machine import End, Travel, TravelBasis
from compiler.physics.piston import Piston, reckoned

__all__ = ["travel_time"]

_ASSUMED = Travel(least_us=1_000_000, usual_us=2_000_000, greatest_us=4_000_000, basis=TravelBasis.ASSUMED)


def travel_time(stated: tuple[int, int] | None, piston: Piston | None, toward: End) -> Travel:
    """The time of a stroke: ``stated`` (least, greatest) in microseconds goes before what the piston tells.

    A single-acting cylinder comes home by its spring, which no flow tells.
    """
    if stated is not None:
        least, greatest = stated
        usual = (least + greatest) // 2
        return Travel(least_us=least, usual_us=usual, greatest_us=greatest, basis=TravelBasis.STATED)
    told = None if piston is None else reckoned(piston, toward)
    if told is None:
        return _ASSUMED
    return Travel(
        least_us=told.least_us, usual_us=told.usual_us, greatest_us=told.greatest_us, basis=TravelBasis.DERIVED
    )
