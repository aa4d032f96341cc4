"""How fast a flow moves a piston, and what flows out on its other side (common textbook formulas)."""

from __future__ import annotations

from compiler.physics.amount import Amount
from compiler.physics.areas import circle, ring

__all__ = ["cap_outflow", "filling_time", "regenerative_cap_flow", "regenerative_rod_flow", "speed"]


def speed(flow: Amount, area: Amount) -> Amount:
    """The speed at which a flow moves a piston of this area: v = Q / A.

    Out it is the full area, back the ring. In a regenerative circuit the oil of the rod side joins the pump's, and
    what moves the piston out is the area of the rod alone.
    """
    return flow / area


def filling_time(stroke: Amount, area: Amount, flow: Amount) -> Amount:
    """The time a flow takes to fill a stroke: t = s A / Q."""
    return stroke * area / flow


def cap_outflow(flow: Amount, bore: Amount, rod: Amount) -> Amount:
    """What leaves the full side while ``flow`` enters the rod side: Q phi, more than the pump gives. The valve and
    the return line must take it."""
    return flow * circle(bore) / ring(bore, rod)


def regenerative_cap_flow(flow: Amount, bore: Amount, rod: Amount) -> Amount:
    """What enters the full side when the rod side's oil joins the pump's flow: Q A / A_rod."""
    return flow * circle(bore) / circle(rod)


def regenerative_rod_flow(flow: Amount, bore: Amount, rod: Amount) -> Amount:
    """What leaves the rod side and joins the pump's flow: Q A2 / A_rod."""
    return flow * ring(bore, rod) / circle(rod)
