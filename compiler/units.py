"""Quantities as written become whole numbers of one named unit: microseconds, micrometres, and so on.

pint does the conversions; it is imported when the first quantity is met, so that a command which needs none starts
quickly.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from typing import TYPE_CHECKING

from grammar.sequence.tree import Quantity

if TYPE_CHECKING:
    from pint import UnitRegistry

__all__ = ["NotThatKind", "bar", "litres_per_minute", "micrometres", "microseconds", "time_text"]

# How our spellings are spelt in pint. "gpm" is the US liquid gallon: 231 cubic inches (NIST SP 811).
_PINT = {"L/min": "liter/minute", "gpm": "gallon/minute", "in": "inch", "h": "hour", "min": "minute"}
_KIND = {
    "microsecond": "a time (s, ms, min)",
    "micrometer": "a length (mm, cm, in)",
    "bar": "a pressure (bar, psi, MPa)",
    "liter/minute": "a flow (L/min, gpm)",
}


class NotThatKind(ValueError):
    """A quantity of the wrong kind, or too small or large to use. Its text says what was expected."""


@cache
def _registry() -> UnitRegistry[Decimal]:
    from pint import UnitRegistry

    return UnitRegistry(non_int_type=Decimal, cache_folder=None)


def _convert(quantity: Quantity, unit: str) -> Decimal:
    from pint import DimensionalityError

    units = _registry()
    try:
        value = units.Quantity(Decimal(quantity.number), _PINT.get(quantity.unit, quantity.unit)).to(unit)
    except DimensionalityError:
        raise NotThatKind(_KIND[unit]) from None
    return Decimal(value.magnitude)


def _whole(quantity: Quantity, unit: str) -> int:
    value = int(_convert(quantity, unit).to_integral_value(ROUND_HALF_UP))
    if value <= 0:
        raise NotThatKind(f"{_KIND[unit]} greater than zero")
    return value


def microseconds(quantity: Quantity) -> int:
    """A time in whole microseconds, at least 1 and at most 1000 h. Raises NotThatKind."""
    time = _whole(quantity, "microsecond")
    if time > 3_600_000_000_000:
        raise NotThatKind("a time of 1000 h or less")
    return time


def micrometres(quantity: Quantity) -> int:
    """A length in whole micrometres, at least 1. Raises NotThatKind."""
    return _whole(quantity, "micrometer")


def bar(quantity: Quantity) -> float:
    """A pressure in bar, above zero. Raises NotThatKind."""
    value = float(_convert(quantity, "bar"))
    if value <= 0:
        raise NotThatKind("a pressure greater than zero")
    return value


def litres_per_minute(quantity: Quantity) -> Decimal:
    """A flow in litres per minute, above zero. Raises NotThatKind."""
    value = _convert(quantity, "liter/minute")
    if value <= 0:
        raise NotThatKind("a flow greater than zero")
    return value


def time_text(time_us: int) -> str:
    """A time as a person writes it: ``30 s``, ``0.5 s``, ``2 min``; exact, never rounded."""
    if time_us % 60_000_000 == 0 and time_us >= 120_000_000:
        return f"{time_us // 60_000_000} min"
    seconds = Decimal(time_us).scaleb(-6).normalize()
    return f"{seconds:f} s"
