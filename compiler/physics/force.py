"""Forces on a piston and the pressures they need (common textbook formulas)."""

from __future__ import annotations

from compiler.physics.amount import Amount
from compiler.physics.areas import circle, ring

__all__ = ["STANDARD_GRAVITY", "blocked_rod_side", "force", "pressure_for"]

STANDARD_GRAVITY = 9.80665
"""The weight of a mass, in newtons per kilogram (ISO 80000-3 and the third CGPM of 1901, from memory)."""


def force(pressure: Amount, area: Amount) -> Amount:
    """What a pressure does on an area: F = p A. The full area out, the ring back, the rod alone when regenerative."""
    return pressure * area


def pressure_for(load: Amount, area: Amount) -> Amount:
    """The pressure that a load needs on an area: p = F / A."""
    return load / area


def blocked_rod_side(pressure: Amount, bore: Amount, rod: Amount) -> Amount:
    """The pressure on the rod side when its port is blocked or throttled, full pressure acts on the other side and
    no load resists: p phi."""
    return pressure * circle(bore) / ring(bore, rod)
