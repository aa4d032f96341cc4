"""Free air: what a compressor must draw in for the strokes of a pneumatic cylinder (common textbook formulas)."""

from __future__ import annotations

from compiler.physics.amount import Amount
from compiler.physics.areas import circle, ring

__all__ = ["ATMOSPHERE_PA", "compression", "free_air", "swept"]

ATMOSPHERE_PA = 101_325.0
"""The standard atmosphere, in pascals (ISO 2533, from memory). The trade's 14.7 psi is the same, rounded."""


def compression(gauge: Amount, atmosphere: Amount) -> Amount:
    """How many times denser air is under a gauge pressure: (p + p_atm) / p_atm."""
    return (gauge + atmosphere) / atmosphere


def swept(bore: Amount, rod: Amount, stroke: Amount, *, single_acting: bool = False) -> Amount:
    """What one cycle, a stroke out and one back, sweeps: (A + A2) s; A s where a spring brings it back."""
    return circle(bore) * stroke if single_acting else (circle(bore) + ring(bore, rod)) * stroke


def free_air(swept_volume: Amount, tubes: Amount, gauge: Amount, atmosphere: Amount) -> Amount:
    """The free air of one cycle: what is swept is filled from empty, the tubes only from atmosphere to pressure.

    V = swept (p + p_atm) / p_atm + tubes p / p_atm. ``tubes``: the volume of all tubes between the valve and the
    cylinder that are filled and vented in a cycle.
    """
    return swept_volume * (gauge + atmosphere) / atmosphere + tubes * gauge / atmosphere
