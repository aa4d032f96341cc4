"""Worked examples, each with the source of its inputs; results by the common textbook formulas, to the digits given.

Inputs "published" stand in the named text; "ISO pair" is a bore and rod of the ISO 3320 family; "own" are invented.
The results were worked out apart from this program, in the units of the example.
"""

from __future__ import annotations

import pytest

from compiler.physics.air import compression, free_air, swept
from compiler.physics.areas import area_ratio, circle, ring
from compiler.physics.force import blocked_rod_side, force, pressure_for
from compiler.physics.pump import (
    fluid_power,
    ideal_flow,
    ideal_torque,
    pump_flow,
    relief_heat,
    shaft_power,
    standby_heat,
)
from compiler.physics.quantities import quantity as q
from compiler.physics.stroke import cap_outflow, filling_time, regenerative_cap_flow, regenerative_rod_flow, speed

REVOLUTION = q(1, "turn")


def to(value: object, unit: str) -> float:
    """The number of a quantity in a unit; an amount of the wrong kind raises."""
    return float(value.to(unit).magnitude)  # type: ignore[attr-defined]  # a quantity


def close(digits: float) -> object:
    """Equal in every digit given."""
    decimals = len(str(digits).partition(".")[2])
    return pytest.approx(digits, abs=0.51 * 10**-decimals)


def test_areas_of_an_iso_pair() -> None:
    """D 50, d 28 mm (ISO pair)."""
    bore, rod = q(50, "mm"), q(28, "mm")
    assert to(circle(bore), "mm^2") == close(1963.495)
    assert to(circle(rod), "mm^2") == close(615.752)
    assert to(ring(bore, rod), "mm^2") == close(1347.743)
    assert to(area_ratio(bore, rod), "") == close(1.4569)


def test_a_hydraulic_cylinder_in_si_units() -> None:
    """D 63, d 36, stroke 300 mm, 20 L/min, 160 bar (own inputs)."""
    bore, rod, stroke, flow, p = q(63, "mm"), q(36, "mm"), q(300, "mm"), q(20, "L/min"), q(160, "bar")
    full, annulus = circle(bore), ring(bore, rod)
    assert (to(speed(flow, full), "mm/s"), to(speed(flow, annulus), "mm/s")) == (close(106.932), close(158.778))
    assert to(filling_time(stroke, full, flow), "s") == close(2.8055)
    assert to(filling_time(stroke, annulus, flow), "s") == close(1.8894)
    assert (to(force(p, full), "kN"), to(force(p, annulus), "kN")) == (close(49.876), close(33.590))
    assert to(cap_outflow(flow, bore, rod), "L/min") == close(29.697)


def test_a_thick_rod_plain_and_regenerative() -> None:
    """D 80, d 56, stroke 400 mm, 40 L/min, 100 bar (own inputs)."""
    bore, rod, stroke, flow, p = q(80, "mm"), q(56, "mm"), q(400, "mm"), q(40, "L/min"), q(100, "bar")
    full, annulus, thick = circle(bore), ring(bore, rod), circle(rod)
    assert (to(speed(flow, full), "mm/s"), to(speed(flow, annulus), "mm/s")) == (close(132.629), close(260.057))
    assert to(filling_time(stroke, full, flow), "s") == close(3.0159)
    assert to(filling_time(stroke, annulus, flow), "s") == close(1.5381)
    assert (to(force(p, full), "kN"), to(force(p, annulus), "kN")) == (close(50.265), close(25.635))
    assert to(speed(flow, thick), "mm/s") == close(270.672)
    assert to(filling_time(stroke, thick, flow), "s") == close(1.4778)
    assert to(force(p, thick), "kN") == close(24.630)
    assert to(regenerative_cap_flow(flow, bore, rod), "L/min") == close(81.633)
    assert to(regenerative_rod_flow(flow, bore, rod), "L/min") == close(41.633)


def test_a_small_cylinder_in_us_units() -> None:
    """2.5 x 1 in, 24 in, 2.3 gpm, 400 psi (published inputs: the open hydraulics text of Open Oregon, 3.5)."""
    bore, rod, stroke, flow, p = q(2.5, "inch"), q(1, "inch"), q(24, "inch"), q(2.3, "gallon/min"), q(400, "psi")
    full, annulus, thick = circle(bore), ring(bore, rod), circle(rod)
    assert (to(full, "inch^2"), to(annulus, "inch^2")) == (close(4.90874), close(4.12334))
    assert to(filling_time(stroke, full, flow), "s") == close(13.3043)
    assert to(filling_time(stroke, annulus, flow), "s") == close(11.1756)
    assert (to(force(p, full), "lbf"), to(force(p, annulus), "lbf")) == (close(1963.50), close(1649.34))
    assert to(filling_time(stroke, thick, flow), "s") == close(2.12869)
    assert to(force(p, thick), "lbf") == close(314.16)


def test_a_three_inch_cylinder() -> None:
    """3 x 1.25 in, 16 in, 1.8 gpm, 500 psi (published inputs: the same text)."""
    bore, rod, stroke, flow, p = q(3, "inch"), q(1.25, "inch"), q(16, "inch"), q(1.8, "gallon/min"), q(500, "psi")
    assert to(filling_time(stroke, circle(bore), flow), "s") == close(16.3200)
    assert to(force(p, circle(bore)), "lbf") == close(3534.29)
    assert to(filling_time(stroke, circle(rod), flow), "s") == close(2.83333)
    assert to(force(p, circle(rod)), "lbf") == close(613.59)
    assert to(filling_time(stroke, ring(bore, rod), flow), "s") == close(13.4866)


def test_a_four_inch_cylinder() -> None:
    """4 x 2 in, 12 in, 10 gpm, 1500 psi (own inputs)."""
    bore, rod, stroke, flow, p = q(4, "inch"), q(2, "inch"), q(12, "inch"), q(10, "gallon/min"), q(1500, "psi")
    full, annulus = circle(bore), ring(bore, rod)
    assert (to(speed(flow, full), "inch/s"), to(speed(flow, annulus), "inch/s")) == (close(3.06373), close(4.08498))
    assert to(filling_time(stroke, full, flow), "s") == close(3.91679)
    assert to(filling_time(stroke, annulus, flow), "s") == close(2.93759)
    assert (to(force(p, full), "lbf"), to(force(p, annulus), "lbf")) == (close(18849.6), close(14137.2))
    assert to(filling_time(stroke, circle(rod), flow), "s") == close(0.97920)


def test_a_pump_in_si_units() -> None:
    """16 cm3 a turn, 1450 rpm, volumetric efficiency 0.95, 160 bar, overall efficiency 0.85 (own inputs)."""
    displacement, turning, p = q(16, "cm^3") / REVOLUTION, q(1450, "rpm"), q(160, "bar")
    flow = pump_flow(displacement, turning, 0.95)
    assert to(ideal_flow(displacement, turning), "L/min") == close(23.2)
    assert to(flow, "L/min") == close(22.04)
    assert to(fluid_power(p, flow), "kW") == close(5.8773)
    assert to(shaft_power(p, flow, 0.85), "kW") == close(6.9145)
    # The volume of a whole turn, and the angle of one in the formula.
    assert to(ideal_torque(p, q(16, "cm^3")), "N m") == close(40.744)


def test_a_pump_in_us_units() -> None:
    """1.5 cubic inches a turn, 1750 rpm, 1500 psi, overall efficiency 0.85 (own inputs)."""
    flow, p = ideal_flow(q(1.5, "inch^3") / REVOLUTION, q(1750, "rpm")), q(1500, "psi")
    assert to(flow, "gallon/min") == close(11.3636)
    assert to(fluid_power(p, flow), "hp") == close(9.9432)
    assert to(shaft_power(p, flow, 0.85), "hp") == close(11.698)
    # The trade's constant 1714, rounded from 396000 / 231, gives 9.9448.
    assert 1500 * to(flow, "gallon/min") / 1714 == close(9.9448)


def test_power_in_a_flow() -> None:
    """10 gpm at 1500 psi; the rule of one horsepower at the shaft for each gpm at 1500 psi (US formula sheets)."""
    p, flow = q(1500, "psi"), q(10, "gallon/min")
    assert to(fluid_power(p, flow), "hp") == close(8.7500)
    assert close(8.7515) == 1500 * 10 / 1714
    assert to(shaft_power(p, flow, 0.875), "hp") == pytest.approx(10.0, rel=1e-3)


def test_standby_of_a_compensated_pump_against_a_fixed_one() -> None:
    """140 bar, 1.2 L/min case drain; the fixed pump of the SI example over its relief valve (own inputs)."""
    assert to(standby_heat(q(140, "bar"), q(1.2, "L/min")), "kW") == close(0.280)
    assert to(relief_heat(q(160, "bar"), q(22.04, "L/min")), "kW") == close(5.877)


def test_standby_in_us_units() -> None:
    """2000 psi, 0.5 gpm case drain (own inputs)."""
    assert to(standby_heat(q(2000, "psi"), q(0.5, "gallon/min")), "hp") == close(0.58333)
    assert close(0.58343) == 2000 * 0.5 / 1714


def test_a_blocked_rod_port_raises_the_pressure() -> None:
    """80/56 mm, 160 bar on the full side, rod port blocked, no load (own inputs)."""
    assert to(area_ratio(q(80, "mm"), q(56, "mm")), "") == close(1.9608)
    assert to(blocked_rod_side(q(160, "bar"), q(80, "mm"), q(56, "mm")), "bar") == close(313.73)


def test_pressure_for_a_press() -> None:
    """250 kN on a bore of 125 mm (own inputs)."""
    assert to(pressure_for(q(250, "kN"), circle(q(125, "mm"))), "bar") == close(203.72)


@pytest.mark.parametrize(
    ("bore", "rod", "stroke", "out_n", "back_n", "litres", "cycles", "litres_a_minute"),
    [(50, 20, 200, 1178.10, 989.60, 5.00127, 30, 150.038), (32, 12, 100, 482.55, 414.69, 1.03505, 20, 20.701)],
)
def test_an_air_cylinder_in_si_units(
    bore: int, rod: int, stroke: int, out_n: float, back_n: float, litres: float, cycles: int, litres_a_minute: float
) -> None:
    """D 50, d 20, stroke 200 mm, and D 32, d 12, stroke 100 mm, both 6 bar gauge (ISO 15552 pairs)."""
    d, r, s, p, atmosphere = q(bore, "mm"), q(rod, "mm"), q(stroke, "mm"), q(6, "bar"), q(1.01325, "bar")
    one = free_air(swept(d, r, s), q(0, "L"), p, atmosphere)
    assert (to(force(p, circle(d)), "N"), to(force(p, ring(d, r)), "N")) == (close(out_n), close(back_n))
    assert to(compression(p, atmosphere), "") == close(6.92154)
    assert to(one, "L") == close(litres)
    assert to(one * cycles, "L") == close(litres_a_minute)


def test_the_rule_that_leaves_the_rod_out_takes_more_air() -> None:
    """The first of the air cylinders above with both sides taken as the full area."""
    both = q(2, "") * circle(q(50, "mm")) * q(200, "mm")
    assert to(free_air(both, q(0, "L"), q(6, "bar"), q(1.01325, "bar")) * 30, "L") == close(163.085)


def test_an_air_cylinder_in_us_units() -> None:
    """2 in, 4 in, 80 psi, 30 cycles a minute, no rod: 2.81 scfm (published inputs and answer: a supplier's worked
    example); with a rod of 5/8 in it is less."""
    bore, stroke, p, atmosphere = q(2, "inch"), q(4, "inch"), q(80, "psi"), q(14.7, "psi")
    bare = q(2, "") * circle(bore) * stroke
    assert to(compression(p, atmosphere), "") == close(6.44218)
    assert to(bare * 30, "foot^3") == close(0.43633)
    assert to(free_air(bare, q(0, "L"), p, atmosphere) * 30, "foot^3") == close(2.8109)
    rod = swept(bore, q(0.625, "inch"), stroke)
    assert to(free_air(rod, q(0, "L"), p, atmosphere) * 30, "foot^3") == close(2.6737)
