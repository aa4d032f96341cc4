"""Quantities of pint: a number with its unit, in SI and US units alike. Importing pint takes a third of a second, so
only what shows sizes comes here."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pint import Quantity, UnitRegistry

__all__ = ["quantity"]


@cache
def _registry() -> UnitRegistry[float]:
    from pint import UnitRegistry

    return UnitRegistry(cache_folder=None)


def quantity(number: float, unit: str) -> Quantity[float]:
    """A number of a unit as pint spells it, such as ``quantity(20, "liter/minute")``."""
    return _registry().Quantity(number, unit)
