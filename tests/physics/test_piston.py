"""How long a stroke takes: within tolerances, with a load, and how the two limits are bounds."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.machine import End
from compiler.physics.piston import Piston, reckoned
from compiler.ratings import Ratings

spreads = st.floats(0.0, 0.3)
BOTH = st.sampled_from([End.END, End.HOME])


def piston(ratings: Ratings, *, bore_um: int = 80_000, rod_um: int = 56_000, stroke_um: int = 400_000) -> Piston:
    made = Piston.of(stroke_um, bore_um, rod_um, False, ratings)
    assert made is not None
    return made


@settings(deadline=None)
@given(
    flow=st.floats(1.0, 200.0), pressure=st.floats(5.0, 300.0), mass=st.floats(0.0, 3000.0),
    flow_spread=spreads, pressure_spread=spreads, bore_spread=st.floats(0.0, 0.05), shift_spread=spreads,
    toward=BOTH, where=st.tuples(*[st.floats(-1, 1)] * 4),
)  # fmt: skip
def test_the_limits_hold_everywhere_within_the_tolerances(
    flow: float, pressure: float, mass: float, flow_spread: float, pressure_spread: float, bore_spread: float,
    shift_spread: float, toward: End, where: tuple[float, float, float, float],
) -> None:  # fmt: skip
    stated = Ratings(flow_lpm=flow, pressure_bar=pressure, mass_kg=mass, friction_share=0.1, shift_us=30_000)
    spread = stated.model_copy(update={
        "flow_spread": flow_spread, "pressure_spread": pressure_spread, "bore_spread": bore_spread,
        "shift_spread": shift_spread or 0.01})  # fmt: skip
    limits = reckoned(piston(spread), toward)
    assert not flow_spread or limits != reckoned(piston(stated), toward)
    inside = piston(
        stated.model_copy(update={
            "flow_lpm": flow * (1 + where[0] * flow_spread),
            "pressure_bar": pressure * (1 + where[1] * pressure_spread),
            "shift_us": round(30_000 * (1 + where[3] * shift_spread))}),
        bore_um=round(80_000 * (1 + where[2] * bore_spread)),
    )  # fmt: skip
    time = inside.time(toward)
    assert limits is not None
    assert time is not None
    rounding = 30 + 3e-5 * limits.greatest_us  # the bore above is in whole micrometres
    assert limits.least_us - rounding <= time * 1e6 <= limits.greatest_us + rounding


def test_a_tolerance_of_the_flow_is_one_of_the_time() -> None:
    """t = s A / Q: 10 % more flow takes 1/1.1 of the time, 10 % less 1/0.9 of it."""
    told = reckoned(piston(Ratings(flow_lpm=40.0, flow_spread=0.1)), End.END)
    assert told is not None
    # 3.01592895 s; 2.74175359 s rounded down and 3.35103217 s rounded up, so that the limits hold.
    assert (told.least_us, told.usual_us, told.greatest_us) == (2_741_753, 3_015_929, 3_351_033)


def test_with_no_tolerance_stated_a_time_is_right_to_a_fifth() -> None:
    told = reckoned(piston(Ratings(flow_lpm=40.0)), End.END)
    assert told is not None
    assert told.least_us == pytest.approx(0.8 * told.usual_us, abs=2)
    assert told.greatest_us == pytest.approx(1.2 * told.usual_us, abs=2)


def test_the_valve_and_the_cushions_are_added_to_every_stroke() -> None:
    plain = piston(Ratings(flow_lpm=40.0))
    slow = piston(Ratings(flow_lpm=40.0, shift_us=40_000, cushion_us=200_000))
    for end in End:
        assert (slow.time(end) or 0) - (plain.time(end) or 0) == pytest.approx(0.24)


def test_a_regenerative_stroke_fills_the_rods_area_only() -> None:
    """The worked example of the thick rod: 1.4778 s in place of 3.0159 s."""
    made = Piston.of(400_000, 80_000, 56_000, False, Ratings(flow_lpm=40.0), regenerative=True)
    assert made is not None
    assert made.time(End.END) == pytest.approx(1.4778, abs=5e-5)
    assert made.time(End.HOME) == pytest.approx(1.5381, abs=5e-5)


@pytest.mark.parametrize(
    ("toward", "resists"),
    [(End.END, 1000 + 980.665), (End.HOME, 250 - 980.665)],
)
def test_a_weight_that_one_stroke_lifts_helps_the_other(toward: End, resists: float) -> None:
    """100 kg under standard gravity weigh 980.665 N."""
    made = piston(Ratings(mass_kg=100.0, lifted_out=True, resists_out_n=1000.0, resists_back_n=250.0))
    assert made.resistance(toward) == pytest.approx(resists)


def test_what_friction_and_efficiency_leave() -> None:
    """100 bar on 80 mm push 50265 N; 5 % friction, 90 % efficiency and 65 N more leave 85 % less 65 N."""
    made = piston(Ratings(pressure_bar=100.0, friction_share=0.05, efficiency=0.9, friction_n=65.0))
    assert made.net(End.END) == pytest.approx(0.85 * 50_265.48 - 65, abs=0.1)


def test_the_ends_of_the_tolerances() -> None:
    stated = Ratings(flow_lpm=40.0, flow_spread=0.1, pressure_bar=100.0, pressure_spread=0.05, bore_spread=0.01,
                     shift_us=40_000, shift_spread=0.5)  # fmt: skip
    most, least = (piston(stated).at(flow=side, pressure=side, bore=side, shift=side) for side in (1, -1))
    assert [most.bore_m, least.bore_m] == pytest.approx([0.0808, 0.0792])
    assert [most.ratings.flow_lpm, least.ratings.flow_lpm] == pytest.approx([44.0, 36.0])
    assert [most.ratings.pressure_bar, least.ratings.pressure_bar] == pytest.approx([105.0, 95.0])
    assert (most.ratings.shift_us, least.ratings.shift_us) == (60_000, 20_000)


def test_what_no_force_is_left_for_is_timed_by_its_filling() -> None:
    """Friction takes all of the push, exactly; that this does not move is a finding, not a time."""
    stuck = piston(Ratings(flow_lpm=40.0, pressure_bar=100.0, mass_kg=50.0, friction_share=1.0))
    assert stuck.net(End.END) == 0
    assert stuck.time(End.END) == pytest.approx(3.0159, abs=5e-5)


def test_a_spring_is_not_reckoned() -> None:
    made = Piston.of(100_000, 32_000, 12_000, True, Ratings(flow_lpm=40.0, pressure_bar=6.0))
    assert made is not None
    assert made.time(End.END) is not None
    assert made.time(End.HOME) is None
    assert made.push(End.HOME) is None
