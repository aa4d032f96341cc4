"""The nodes of ratings: what a cylinder works with and against, and the lines of the pump."""

from __future__ import annotations

from dataclasses import dataclass

from grammar.sequence.node import Node, Quantity

__all__ = [
    "CaseDrain",
    "CushionTime",
    "Displacement",
    "Efficiency",
    "Friction",
    "Load",
    "Pressure",
    "PumpControl",
    "Rating",
    "ShiftTime",
    "Tube",
    "TurningSpeed",
]


@dataclass(frozen=True, slots=True)
class Pressure(Node):
    """``pressure 160 bar`` or ``pressure 160 bar, give or take 5 %``: what the cylinder or the pump works with."""

    pressure: Quantity
    spread: Quantity | None = None


@dataclass(frozen=True, slots=True)
class Load(Node):
    """``load 40 kN`` (a force against the stroke in ``direction``) or ``load 200 kg`` (a mass moved level).

    ``load 200 kg, lifted``: the stroke in ``direction``, out unless it is said to be retracting, lifts it.
    """

    amount: Quantity
    direction: str = "extends"
    lifted: bool = False


@dataclass(frozen=True, slots=True)
class Friction(Node):
    """``friction 300 N``, or a share of what the pressure does: ``friction 5 %``."""

    amount: Quantity


@dataclass(frozen=True, slots=True)
class Efficiency(Node):
    """``efficiency 90 %`` of a cylinder; ``volumetric`` or ``overall efficiency 85 %`` of a pump (``kind``)."""

    share: Quantity
    kind: str = ""


@dataclass(frozen=True, slots=True)
class ShiftTime(Node):
    """``valve shift time 40 ms``: from the solenoid to the moving rod."""

    time: Quantity
    spread: Quantity | None = None


@dataclass(frozen=True, slots=True)
class CushionTime(Node):
    """``cushion time 0.2 s``: the cylinder has cushions, which add so much to a stroke."""

    time: Quantity


@dataclass(frozen=True, slots=True)
class Tube(Node):
    """``tube 6 mm by 2 m`` (inner diameter and length) or ``tube 0.1 L``: one tube from the valve to a port."""

    amount: Quantity
    length: Quantity | None = None


@dataclass(frozen=True, slots=True)
class Displacement(Node):
    """``displacement 16 cm3/rev``: what a pump gives in a turn."""

    amount: Quantity


@dataclass(frozen=True, slots=True)
class TurningSpeed(Node):
    """``speed 1450 rpm``."""

    speed: Quantity


@dataclass(frozen=True, slots=True)
class CaseDrain(Node):
    """``case drain 1.2 L/min``: what leaks inside the pump and flows back to the tank."""

    flow: Quantity


@dataclass(frozen=True, slots=True)
class PumpControl(Node):
    """``pressure-compensated`` or ``fixed displacement``."""

    compensated: bool


Rating = (
    Pressure | Load | Friction | Efficiency | ShiftTime | CushionTime | Tube | Displacement | TurningSpeed | CaseDrain
    | PumpControl
)  # fmt: skip
