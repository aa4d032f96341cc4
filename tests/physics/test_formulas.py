"""What must be so of the formulas whatever the numbers: units agree, more of one thing makes more of another."""

from __future__ import annotations

from math import pi

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from compiler.physics.air import ATMOSPHERE_PA, free_air, swept
from compiler.physics.areas import area_ratio, circle, ring
from compiler.physics.force import STANDARD_GRAVITY, blocked_rod_side, force
from compiler.physics.pump import fluid_power, ideal_torque, pump_flow
from compiler.physics.quantities import quantity as q
from compiler.physics.stroke import (
    cap_outflow,
    filling_time,
    regenerative_cap_flow,
    regenerative_rod_flow,
    speed,
)

bores = st.floats(0.008, 0.5)
shares = st.floats(0.05, 0.95)
flows = st.floats(1e-6, 1e-2)
strokes = st.floats(0.005, 5.0)
pressures = st.floats(1e4, 4e7)


@settings(deadline=None)
@given(bores, shares, flows, strokes, pressures)
def test_plain_si_numbers_and_us_quantities_give_the_same(
    bore: float, share: float, flow: float, stroke: float, pressure: float
) -> None:
    rod = bore * share
    d, r, s = q(bore / 0.0254, "inch"), q(rod / 0.0254, "inch"), q(stroke / 0.0254, "inch")
    us_flow, p = q(flow, "m^3/s").to("gallon/minute"), q(pressure, "Pa").to("psi")
    assert filling_time(s, ring(d, r), us_flow).to("s").magnitude == pytest.approx(
        filling_time(stroke, ring(bore, rod), flow)
    )
    assert force(p, circle(d)).to("N").magnitude == pytest.approx(force(pressure, circle(bore)))
    assert fluid_power(p, us_flow).to("W").magnitude == pytest.approx(fluid_power(pressure, flow))
    atmosphere, no_tubes = q(ATMOSPHERE_PA, "Pa").to("psi"), q(0, "inch^3")
    assert free_air(swept(d, r, s), no_tubes, p, atmosphere).to("m^3").magnitude == pytest.approx(
        free_air(swept(bore, rod, stroke), 0.0, pressure, ATMOSPHERE_PA)
    )


@settings(deadline=None)
@given(bores, shares, flows)
def test_a_regenerative_stroke_takes_and_gives_what_it_moves(bore: float, share: float, flow: float) -> None:
    """The cap side takes the pump's flow and the rod side's; volume is kept at the speed of the rod's area."""
    rod = bore * share
    v = speed(flow, circle(rod))
    assert regenerative_cap_flow(flow, bore, rod) == pytest.approx(flow + regenerative_rod_flow(flow, bore, rod))
    assert regenerative_cap_flow(flow, bore, rod) == pytest.approx(v * circle(bore))
    assert regenerative_rod_flow(flow, bore, rod) == pytest.approx(v * ring(bore, rod))


@settings(deadline=None)
@given(bores, shares, flows, pressures)
def test_the_ratio_of_areas_is_that_of_speeds_flows_and_pressures(
    bore: float, share: float, flow: float, pressure: float
) -> None:
    rod = bore * share
    phi = area_ratio(bore, rod)
    assert speed(flow, ring(bore, rod)) == pytest.approx(phi * speed(flow, circle(bore)))
    assert cap_outflow(flow, bore, rod) == pytest.approx(phi * flow)
    assert blocked_rod_side(pressure, bore, rod) == pytest.approx(phi * pressure)
    # The piston is in balance: full pressure on one side, the raised one on the ring.
    assert blocked_rod_side(pressure, bore, rod) * ring(bore, rod) == pytest.approx(pressure * circle(bore))


@settings(deadline=None)
@given(bores, shares, flows, strokes, st.floats(1.01, 2.0))
def test_more_flow_is_quicker_and_more_bore_slower(
    bore: float, share: float, flow: float, stroke: float, more: float
) -> None:
    assume(share * more < 1)
    time = filling_time(stroke, circle(bore), flow)
    assert filling_time(stroke, circle(bore), flow * more) < time
    assert filling_time(stroke, circle(bore * more), flow) > time
    assert filling_time(stroke, ring(bore, bore * share * more), flow) < filling_time(
        stroke, ring(bore, bore * share), flow
    )
    assert filling_time(stroke, ring(bore, bore * share), flow) < time


@settings(deadline=None)
@given(st.floats(1e-6, 1e-3), st.floats(1, 60), pressures)
def test_what_goes_in_at_the_shaft_comes_out_in_the_flow(displacement: float, turns: float, pressure: float) -> None:
    """Without losses torque times angular speed is pressure times flow."""
    power = ideal_torque(pressure, displacement) * 2 * pi * turns
    assert power == pytest.approx(fluid_power(pressure, pump_flow(displacement, turns, 1.0)))


def test_tubes_are_filled_from_the_atmosphere_and_not_from_empty() -> None:
    """A litre of tube at one atmosphere above the atmosphere takes one more litre of free air; a litre swept, two."""
    assert free_air(0.0, 1.0, ATMOSPHERE_PA, ATMOSPHERE_PA) == pytest.approx(1.0)
    assert free_air(1.0, 0.0, ATMOSPHERE_PA, ATMOSPHERE_PA) == pytest.approx(2.0)
    assert swept(2.0, 1.0, 3.0, single_acting=True) == pytest.approx(3 * pi)


def test_the_weight_of_a_mass() -> None:
    assert q(1, "kg").m * STANDARD_GRAVITY == pytest.approx(q(1, "kilogram_force").to("N").magnitude)
