"""Quantities as written become numbers of one named unit: whole microseconds, whole micrometres, and so on.

The conversions are exact fractions, and no unit library is loaded for them, so that reading a program stays quick.
Factors: inch, pound and US gallon as defined in NIST SP 811 (from memory); a pound-force is a pound under standard
gravity.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import floor

from grammar.sequence.tree import Quantity
from grammar.sequence.words import dimension

__all__ = [
    "NotThatKind",
    "OutOfRange",
    "bar",
    "cubic_centimetres_a_turn",
    "kilograms",
    "litres",
    "litres_per_minute",
    "micrometres",
    "microseconds",
    "newtons",
    "share",
    "time_text",
    "turns_a_minute",
]

_INCH_MM = Fraction("25.4")
_POUND_KG = Fraction("0.45359237")
_POUND_N = _POUND_KG * Fraction("9.80665")
_CUBIC_INCH_L = _INCH_MM**3 / 10**6

# What one of each unit is, in the unit that its kind is kept in.
_IN_KEPT_UNITS: dict[str, dict[str, Fraction]] = {
    "time": {
        "us": Fraction(1), "ms": Fraction(10**3), "s": Fraction(10**6), "min": Fraction(60 * 10**6),
        "h": Fraction(3600 * 10**6),
    },
    "length": {"mm": Fraction(10**3), "cm": Fraction(10**4), "m": Fraction(10**6), "in": _INCH_MM * 1000},
    "pressure": {
        "bar": Fraction(1), "psi": _POUND_N / (_INCH_MM / 1000) ** 2 / 10**5, "MPa": Fraction(10),
        "kPa": Fraction(1, 100),
    },
    "flow": {"L/min": Fraction(1), "gpm": 231 * _CUBIC_INCH_L},
    "force": {"N": Fraction(1), "kN": Fraction(1000), "lbf": _POUND_N},
    "mass": {"kg": Fraction(1), "lb": _POUND_KG},
    "volume": {"L": Fraction(1), "cm3": Fraction(1, 1000), "in3": _CUBIC_INCH_L},
    "displacement": {"cm3/rev": Fraction(1), "in3/rev": _CUBIC_INCH_L * 1000},
    "turns": {"rpm": Fraction(1)},
    "share": {"%": Fraction(1, 100)},
}  # fmt: skip
_TOLD = {
    "time": "a time (s, ms, min)",
    "length": "a length (mm, cm, in)",
    "pressure": "a pressure (bar, psi, MPa)",
    "flow": "a flow (L/min, gpm)",
    "force": "a force (N, kN, lbf)",
    "mass": "a mass (kg, lb)",
    "volume": "a volume (L, cm3, in3)",
    "displacement": "a displacement (cm3/rev, in3/rev)",
    "turns": "a speed of turning (rpm)",
    "share": "a percentage (%)",
}


_SMALLEST, _LARGEST = Fraction(1, 10**9), 10**9
"""In the units that are kept: beyond them no machine is, and a computer's numbers may fail."""


class NotThatKind(ValueError):
    """A quantity of the wrong kind. Its text says what was expected."""


class OutOfRange(NotThatKind):
    """A quantity of the right kind, too small or too large to use."""


def _exact(quantity: Quantity, kind: str) -> Fraction:
    factor = _IN_KEPT_UNITS[kind].get(quantity.unit)
    if factor is None or dimension(quantity.unit) != kind:
        raise NotThatKind(_TOLD[kind])
    return Fraction(quantity.number) * factor


def _above_zero(quantity: Quantity, kind: str) -> Fraction:
    value = _exact(quantity, kind)
    if value <= 0:
        raise OutOfRange(f"{_TOLD[kind]} greater than zero")
    if not _SMALLEST <= value <= _LARGEST:
        raise OutOfRange(f"{_TOLD[kind]} of a size that machines have")
    return value


def _whole(quantity: Quantity, kind: str) -> int:
    exact = _exact(quantity, kind)
    if exact <= 0:
        raise OutOfRange(f"{_TOLD[kind]} greater than zero")
    value = floor(exact + Fraction(1, 2))
    if value == 0:
        raise OutOfRange(f"a {kind} of at least {_LEAST[kind]}")
    return value


_LEAST = {"time": "1 us", "length": "0.001 mm"}


def microseconds(quantity: Quantity) -> int:
    """A time in whole microseconds, at least 1 and at most 1000 h. Raises NotThatKind."""
    time = _whole(quantity, "time")
    if time > 3_600_000_000_000:
        raise OutOfRange("a time of 1000 h or less")
    return time


def micrometres(quantity: Quantity) -> int:
    """A length in whole micrometres, at least 1 and at most 1 km. Raises NotThatKind."""
    length = _whole(quantity, "length")
    if length > _LARGEST:
        raise OutOfRange("a length of 1000 m or less")
    return length


def bar(quantity: Quantity) -> float:
    """A pressure in bar, above zero. Raises NotThatKind."""
    return float(_above_zero(quantity, "pressure"))


def litres_per_minute(quantity: Quantity) -> float:
    """A flow in litres per minute, above zero. Raises NotThatKind."""
    return float(_above_zero(quantity, "flow"))


def newtons(quantity: Quantity) -> float:
    """A force in newtons, above zero. Raises NotThatKind."""
    return float(_above_zero(quantity, "force"))


def kilograms(quantity: Quantity) -> float:
    """A mass in kilograms, above zero. Raises NotThatKind."""
    return float(_above_zero(quantity, "mass"))


def litres(quantity: Quantity) -> float:
    """A volume in litres, above zero. Raises NotThatKind."""
    return float(_above_zero(quantity, "volume"))


def cubic_centimetres_a_turn(quantity: Quantity) -> float:
    """A displacement in cubic centimetres a turn, above zero. Raises NotThatKind."""
    return float(_above_zero(quantity, "displacement"))


def turns_a_minute(quantity: Quantity) -> float:
    """A speed of turning in turns a minute, above zero. Raises NotThatKind."""
    return float(_above_zero(quantity, "turns"))


def share(quantity: Quantity) -> float:
    """A percentage as a share of one: above 0, at most 1. Raises NotThatKind."""
    value = _above_zero(quantity, "share")
    if value > 1:
        raise NotThatKind("a percentage of 100 % or less")
    return float(value)


def time_text(time_us: int) -> str:
    """A time as a person writes it: ``30 s``, ``0.5 s``, ``2 min``; exact, never rounded."""
    if time_us % 60_000_000 == 0 and time_us >= 120_000_000:
        return f"{time_us // 60_000_000} min"
    seconds = Decimal(time_us).scaleb(-6).normalize()
    return f"{seconds:f} s"
