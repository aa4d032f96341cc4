"""What the formulas calculate with: a plain number in SI base units, or a quantity that knows its unit."""

from __future__ import annotations

from typing import Protocol, Self, TypeVar

__all__ = ["Amount"]


class _Arithmetic(Protocol):
    """The arithmetic that numbers and quantities share. A product or quotient is an amount of another kind."""

    def __add__(self, other: Self, /) -> Self: ...

    def __sub__(self, other: Self, /) -> Self: ...

    def __mul__(self, other: Self | float, /) -> Self: ...

    def __rmul__(self, other: float, /) -> Self: ...

    def __truediv__(self, other: Self | float, /) -> Self: ...

    def __pow__(self, other: float, /) -> Self: ...

    def __ge__(self, other: Self, /) -> bool: ...


Amount = TypeVar("Amount", bound=_Arithmetic)
"""A plain number or a quantity of pint; one formula takes only one of the two."""
