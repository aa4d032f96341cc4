"""How long a stroke takes: as stated, from bore, stroke and flow, or assumed."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

from compiler.machine import Travel, TravelBasis

__all__ = ["TravelFacts", "stroke_time_us", "travel_times"]

_PI = Decimal("3.14159265358979323846")
_ASSUMED = Travel(least_us=1_000_000, usual_us=2_000_000, greatest_us=4_000_000, basis=TravelBasis.ASSUMED)
_SPREAD = Decimal("0.2")  # allowance on a derived time, either way: leakage, supply, friction (common practice)


@dataclass
class TravelFacts:
    """What the program says about one cylinder's strokes. ``stated`` holds (least, greatest) by direction."""

    stroke_um: int | None = None
    bore_um: int | None = None
    rod_um: int | None = None
    flow_lpm: Decimal | None = None
    single_acting: bool = False
    stated: dict[str, tuple[int, int]] = field(default_factory=dict)


def stroke_time_us(stroke_um: int, bore_um: int, rod_um: int, flow_lpm: Decimal) -> int:
    """The time in microseconds for a flow to fill a stroke: t = s pi (D^2 - d^2) / 4Q, ``rod_um`` 0 when extending.

    1 L/min is 1e6 / 60 mm3 per second. Common textbook formula, v = Q / A.
    """
    area_um2 = _PI * (Decimal(bore_um) ** 2 - Decimal(rod_um) ** 2) / 4
    volume_um3 = area_um2 * stroke_um
    flow_um3_per_us = flow_lpm * Decimal(10**15) / Decimal(60 * 10**6)
    return int((volume_um3 / flow_um3_per_us).to_integral_value(ROUND_HALF_UP))


def travel_times(facts: TravelFacts) -> tuple[Travel, Travel]:
    """The times out and back. A single-acting cylinder comes home by its spring, which no flow tells."""
    return _one_way(facts, "extends", 0), _one_way(facts, "retracts", facts.rod_um or 0)


def _one_way(facts: TravelFacts, direction: str, rod_um: int) -> Travel:
    stated = facts.stated.get(direction)
    if stated is not None:
        least, greatest = stated
        usual = (least + greatest) // 2
        return Travel(least_us=least, usual_us=usual, greatest_us=greatest, basis=TravelBasis.STATED)
    sprung = facts.single_acting and direction == "retracts"
    if facts.bore_um is None or facts.stroke_um is None or facts.flow_lpm is None or sprung:
        return _ASSUMED
    time = max(1, stroke_time_us(facts.stroke_um, facts.bore_um, rod_um, facts.flow_lpm))
    least = max(1, int(time * (1 - _SPREAD)))
    return Travel(least_us=least, usual_us=time, greatest_us=int(time * (1 + _SPREAD)) + 1, basis=TravelBasis.DERIVED)
