"""What a pump gives, what it takes, and what becomes heat while nothing moves (common textbook formulas).

A pressure-compensated pump gives its full flow up to its setting; above it the flow falls to what the circuit takes
and the leakage in its case, at the set pressure. A fixed pump before a blocked valve sends all its flow over the
relief valve.
"""

from __future__ import annotations

from math import pi

from compiler.physics.amount import Amount

__all__ = ["fluid_power", "ideal_flow", "ideal_torque", "pump_flow", "relief_heat", "shaft_power", "standby_heat"]


def ideal_flow(displacement: Amount, speed: Amount) -> Amount:
    """The flow without leakage: Q = V n, the displacement of a turn and the turns in a time."""
    return displacement * speed


def pump_flow(displacement: Amount, speed: Amount, volumetric: float) -> Amount:
    """The flow that reaches the circuit: V n times the volumetric efficiency (above 0, at most 1)."""
    return ideal_flow(displacement, speed) * volumetric


def fluid_power(pressure: Amount, flow: Amount) -> Amount:
    """The power in a flow under pressure: P = p Q."""
    return pressure * flow


def shaft_power(pressure: Amount, flow: Amount, overall: float) -> Amount:
    """What the motor must give: the power in the flow over the overall efficiency (above 0, at most 1)."""
    return fluid_power(pressure, flow) / overall


def ideal_torque(pressure: Amount, displacement: Amount) -> Amount:
    """The torque on the shaft without friction: T = p V / 2 pi, the displacement of a whole turn."""
    return pressure * displacement / (2 * pi)


def standby_heat(setting: Amount, case_drain: Amount) -> Amount:
    """What a pressure-compensated pump turns into heat while nothing moves: p times the leakage of its case."""
    return fluid_power(setting, case_drain)


def relief_heat(setting: Amount, flow: Amount) -> Amount:
    """What a fixed pump turns into heat while nothing moves: its whole flow over the relief valve."""
    return fluid_power(setting, flow)
