"""What the machine's pump delivers."""

from __future__ import annotations

from compiler.physics.pump import pump_flow
from compiler.ratings import Pump

__all__ = ["delivered_lpm"]


def delivered_lpm(pump: Pump) -> float | None:
    """The flow in L/min: as stated, or from displacement, speed and volumetric efficiency (1 where not stated)."""
    if pump.flow_lpm is not None:
        return pump.flow_lpm
    if pump.displacement_cm3 is None or pump.turns_rpm is None:
        return None
    return pump_flow(pump.displacement_cm3 / 1000, pump.turns_rpm, pump.volumetric or 1.0)
