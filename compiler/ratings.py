"""What cylinders and a pump work with: pressure, flow, load, friction and losses, as far as the program states them.

Shares are parts of one: a spread of 0.1 is 10 % either way.
"""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["Pump", "Ratings"]


class _Model(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Ratings(_Model):
    """What is stated of one cylinder; None or 0 where nothing is.

    Pressures are above the atmosphere. ``resists_out_n`` and ``resists_back_n`` act against the stroke out and the
    stroke back. A mass is moved level, or one of the strokes lifts it (``lifted_out``, ``lifted_back``). Friction is
    a force, or a share of what the pressure does; the efficiency takes its share of that as well. ``tube_l`` is the
    volume of one tube from the valve to a port. ``from_pump`` says that the flow is the pump's whole flow.
    """

    flow_lpm: float | None = Field(default=None, gt=0)
    flow_spread: float = Field(default=0.0, ge=0, lt=1)
    from_pump: bool = False
    pressure_bar: float | None = Field(default=None, gt=0)
    pressure_spread: float = Field(default=0.0, ge=0, lt=1)
    bore_spread: float = Field(default=0.0, ge=0, lt=1)
    resists_out_n: float = Field(default=0.0, ge=0)
    resists_back_n: float = Field(default=0.0, ge=0)
    mass_kg: float = Field(default=0.0, ge=0)
    lifted_out: bool = False
    lifted_back: bool = False
    friction_n: float = Field(default=0.0, ge=0)
    friction_share: float = Field(default=0.0, ge=0, le=1)
    efficiency: float = Field(default=1.0, gt=0, le=1)
    shift_us: int = Field(default=0, ge=0)
    shift_spread: float = Field(default=0.0, ge=0, lt=1)
    cushion_us: int = Field(default=0, ge=0)
    tube_l: float = Field(default=0.0, ge=0)


class Pump(_Model):
    """The one hydraulic pump of the machine. Efficiencies are shares of one; None where not stated."""

    displacement_cm3: float | None = Field(default=None, gt=0)
    turns_rpm: float | None = Field(default=None, gt=0)
    flow_lpm: float | None = Field(default=None, gt=0)
    flow_spread: float = Field(default=0.0, ge=0, lt=1)
    pressure_bar: float | None = Field(default=None, gt=0)
    pressure_spread: float = Field(default=0.0, ge=0, lt=1)
    volumetric: float | None = Field(default=None, gt=0, le=1)
    overall: float | None = Field(default=None, gt=0, le=1)
    compensated: bool = False
    case_drain_lpm: float | None = Field(default=None, gt=0)
