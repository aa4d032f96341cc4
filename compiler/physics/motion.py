"""A load that must first be brought up to speed: constant pressure until the pump's flow is all taken, then steady.

Newton's second law with a constant net force; the flow sets the greatest speed. What damps or bounces (compressed
oil, hoses) is left out.
"""

from __future__ import annotations

from compiler.physics.amount import Amount

__all__ = ["accelerated_time", "acceleration_distance"]


def acceleration_distance(steady: Amount, net_force: Amount, mass: Amount) -> Amount:
    """How far the load travels until it has the steady speed: x = m v^2 / 2 F."""
    return mass * steady**2 / (2 * net_force)


def accelerated_time(stroke: Amount, steady: Amount, net_force: Amount, mass: Amount) -> Amount:
    """The time from standstill to the end of the stroke; ``net_force`` is what is left above load and friction, and
    greater than zero.

    Up to speed before the end: t = s / v + m v / 2 F. Otherwise it accelerates all the way: t = sqrt(2 s m / F).
    """
    if acceleration_distance(steady, net_force, mass) >= stroke:
        return (2 * stroke * mass / net_force) ** 0.5
    return stroke / steady + mass * steady / (2 * net_force)
