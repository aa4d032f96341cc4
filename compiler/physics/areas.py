"""The areas that pressure acts on, and their ratio (common textbook formulas)."""

from __future__ import annotations

from math import pi

from compiler.physics.amount import Amount

__all__ = ["area_ratio", "circle", "ring"]


def circle(diameter: Amount) -> Amount:
    """The area of a bore or a rod: A = pi D^2 / 4."""
    return pi * diameter**2 / 4


def ring(bore: Amount, rod: Amount) -> Amount:
    """The area on the rod side of a piston: A2 = pi (D^2 - d^2) / 4."""
    return circle(bore) - circle(rod)


def area_ratio(bore: Amount, rod: Amount) -> Amount:
    """How many times the full area is greater than the ring: phi = A / A2, at least 1. The rod is thinner than the
    bore."""
    return circle(bore) / ring(bore, rod)
