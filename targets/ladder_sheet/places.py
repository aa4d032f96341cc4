"""Where contacts and coils are: on which sheet, and how they are referred to from another one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from targets.wiring.nets import WiredCoil, WiredContact

__all__ = ["WIDEST", "Name", "Places", "name_of"]

Name = tuple[str, ...]


def name_of(one: WiredContact | WiredCoil) -> Name:
    """What tells a contact or a coil from every other: its device and its terminals."""
    return one.device, *one.terminals


@dataclass(frozen=True, slots=True)
class Places:
    """The sheet that every contact and coil stands on."""

    sheets: Mapping[Name, int]

    def seen_from(self, one: WiredContact | WiredCoil, sheet: int) -> str:
        """Its rung as a reference on that sheet, with the sheet it stands on before it where that is another."""
        there = self.sheets.get(name_of(one), sheet)
        return str(one.rung) if there == sheet else f"/{there}.{one.rung}"


class _Widest(Places):
    """Before rungs are dealt to sheets: every reference as wide as it can get."""

    def seen_from(self, one: WiredContact | WiredCoil, sheet: int) -> str:
        return f"/00.{one.rung}"


WIDEST = _Widest({})
