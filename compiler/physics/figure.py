"""A calculated number as a report shows it: what it is, its unit of either system, how it was got and whence."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pint import Quantity

__all__ = ["Figure", "Kind", "Part", "Source", "System"]


class System(StrEnum):
    """The units a report is written in."""

    SI = "si"
    US = "us"


class Kind(StrEnum):
    """What a number measures, which decides its unit."""

    AREA = "area"
    RATIO = "ratio"
    SPEED = "speed"
    TIME = "time"
    FORCE = "force"
    PRESSURE = "pressure"
    FLOW = "flow"
    POWER = "power"
    TORQUE = "torque"
    AIR = "free air"
    AIR_FLOW = "flow of free air"

    def units(self, system: System) -> tuple[tuple[str, str], ...]:
        """The units, each as pint spells it and as a report does; of two the first is for small numbers."""
        return _UNITS[self][system is System.US]


_Units = tuple[tuple[str, str], ...]
_UNITS: dict[Kind, tuple[_Units, _Units]] = {
    Kind.AREA: ((("mm^2", "mm2"),), (("inch^2", "in2"),)),
    Kind.RATIO: ((("", ""),), (("", ""),)),
    Kind.SPEED: ((("mm/s", "mm/s"),), (("inch/s", "in/s"),)),
    Kind.TIME: ((("s", "s"),), (("s", "s"),)),
    Kind.FORCE: ((("N", "N"), ("kN", "kN")), (("lbf", "lbf"),)),
    Kind.PRESSURE: ((("bar", "bar"),), (("psi", "psi"),)),
    Kind.FLOW: ((("L/min", "L/min"),), (("gallon/min", "gpm"),)),
    Kind.POWER: ((("kW", "kW"),), (("hp", "hp"),)),
    Kind.TORQUE: ((("N m", "Nm"),), (("lbf inch", "lbf in"),)),
    Kind.AIR: ((("L", "L"),), (("foot^3", "ft3"),)),
    Kind.AIR_FLOW: ((("L/min", "L/min"),), (("foot^3/min", "cfm"),)),
}
_SMALL = 2000
"""From here on the larger of two units is taken."""


class Source(StrEnum):
    """Where a number, or its formula, comes from."""

    FORMULA = "common textbook formula"
    STATED = "stated in the program"
    ASSUMED = "assumed (common practice), for nothing is stated"
    USUAL = "common textbook formula, right to a fifth where no tolerance of the flow is stated (common practice)"
    AIR = "common textbook formula; standard atmosphere of 1.01325 bar, 14.7 psi (ISO 2533, from memory)"
    CHART = "arithmetic over the chart of the sequence"


@dataclass(frozen=True, slots=True)
class Figure:
    """One number. ``how`` is its formula in words; ``least`` and ``greatest`` its limits, where it has any."""

    name: str
    value: Quantity[float]
    kind: Kind
    how: str
    source: Source
    least: Quantity[float] | None = None
    greatest: Quantity[float] | None = None

    def unit(self, system: System) -> tuple[str, str]:
        """The unit of a system for a number of this size, as pint spells it and as a report does."""
        units = self.kind.units(system)
        return units[-1] if abs(self.value.to(units[0][0]).magnitude) >= _SMALL else units[0]

    def number(self, system: System) -> tuple[float, float | None, float | None]:
        """The value and its limits in the unit of a system."""
        unit = self.unit(system)[0]
        low, high = (None if q is None else float(q.to(unit).magnitude) for q in (self.least, self.greatest))
        return float(self.value.to(unit).magnitude), low, high


@dataclass(frozen=True, slots=True)
class Part:
    """What a report says of one thing: a cylinder, the pump, a cycle. ``remarks`` are whole sentences, ``path`` the
    parts of a critical path in the order of time, by their words."""

    title: str
    figures: tuple[Figure, ...]
    remarks: tuple[str, ...] = ()
    path: tuple[Figure, ...] = ()
