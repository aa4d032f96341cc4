"""The accelerating load against the equation of motion, integrated numerically by scipy, which knows no formula."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from compiler.physics.motion import accelerated_time, acceleration_distance


def integrated(stroke: float, steady: float, net_force: float, mass: float) -> float:
    """The time to the end of the stroke: one integration until the flow is all taken, one at steady speed."""

    def arrives(_: float, state: np.ndarray) -> float:
        return float(state[0]) - stroke

    def is_steady(_: float, state: np.ndarray) -> float:
        return float(state[1]) - steady

    arrives.terminal = is_steady.terminal = True  # type: ignore[attr-defined]  # scipy's way of saying so

    def motion(force: float) -> object:
        return lambda _, state: [state[1], force / mass]

    endless, fine = 10 * (stroke / steady + steady * mass / net_force), {"rtol": 1e-10, "atol": 1e-12}
    first = solve_ivp(
        motion(net_force), (0, endless), [0.0, 0.0], events=[arrives, is_steady], rtol=1e-10, atol=1e-12
    )
    if len(first.t_events[0]):
        return float(first.t_events[0][0])
    begun = float(first.t_events[1][0])
    state = first.y_events[1][0]
    then = solve_ivp(motion(0.0), (begun, begun + endless), state, events=arrives, **fine)
    return float(then.t_events[0][0])


@settings(max_examples=60, deadline=None)
@given(
    stroke=st.floats(0.02, 3.0),
    steady=st.floats(0.01, 2.0),
    net_force=st.floats(20.0, 200_000.0),
    mass=st.floats(0.5, 20_000.0),
)
def test_the_time_is_that_of_the_equation_of_motion(
    stroke: float, steady: float, net_force: float, mass: float
) -> None:
    assert accelerated_time(stroke, steady, net_force, mass) == pytest.approx(
        integrated(stroke, steady, net_force, mass), rel=1e-5
    )


def test_a_load_worked_out_by_hand() -> None:
    """2 kg under 4 N gain 2 m/s each second: 1 m/s after 0.5 s and 0.25 m, then 0.75 m in 0.75 s."""
    assert acceleration_distance(1.0, 4.0, 2.0) == 0.25
    assert accelerated_time(1.0, 1.0, 4.0, 2.0) == 1.25
    assert accelerated_time(0.25, 1.0, 4.0, 2.0) == 0.5
    assert accelerated_time(0.0625, 1.0, 4.0, 2.0) == 0.25  # s = a t^2 / 2


@settings(deadline=None)
@given(st.floats(0.05, 2), st.floats(0.05, 1), st.floats(100, 1e5), st.floats(1, 1e4), st.floats(1.01, 3))
def test_heavier_is_never_quicker_and_stronger_never_slower(
    stroke: float, steady: float, net_force: float, mass: float, more: float
) -> None:
    usual = accelerated_time(stroke, steady, net_force, mass)
    assert accelerated_time(stroke, steady, net_force, mass * more) >= usual
    assert accelerated_time(stroke, steady, net_force * more, mass) <= usual
    assert usual >= stroke / steady
