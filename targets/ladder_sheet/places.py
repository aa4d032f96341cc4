"""Where rungs are: on which sheet, and how they are referred to from another one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["WIDEST", "Places"]


@dataclass(frozen=True, slots=True)
class Places:
    """The sheet of every rung, by its number."""

    sheets: Mapping[int, int]

    def seen_from(self, rung: int, sheet: int) -> str:
        """A rung as a reference on that sheet: its number, with its sheet before it where that is another."""
        there = self.sheets.get(rung, sheet)
        return str(rung) if there == sheet else f"/{there}.{rung}"


class _Widest(Places):
    """Before rungs are dealt to sheets: every reference as wide as it can get."""

    def seen_from(self, rung: int, sheet: int) -> str:
        return f"/00.{rung}"


WIDEST = _Widest({})
