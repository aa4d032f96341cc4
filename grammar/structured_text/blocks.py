"""The types and standard blocks that are known, with their pins (IEC 61131-3:2013 Tables 43-46, from memory)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

__all__ = ["BLOCKS", "Block", "Kind"]


class Kind(StrEnum):
    """What a value is. ``EITHER`` is a bare 0 or 1, which serves as BOOL and as INT; ``UNKNOWN`` has had its fault
    told already and fits anywhere."""

    BOOL = "BOOL"
    INT = "INT"
    TIME = "TIME"
    EITHER = "0 or 1"
    UNKNOWN = "unknown"

    def fits(self, other: Kind) -> bool:
        """Whether a value of this kind can stand where the other is wanted."""
        loose = {Kind.BOOL, Kind.INT, Kind.EITHER}
        return (
            self is other
            or Kind.UNKNOWN in (self, other)
            or (Kind.EITHER in (self, other) and {self, other} <= loose)
        )


@dataclass(frozen=True)
class Block:
    """A standard block: its input and output pins in order. ``unread`` are pins of the standard not read here."""

    inputs: Mapping[str, Kind]
    outputs: Mapping[str, Kind]
    unread: frozenset[str] = field(default=frozenset())


_TIMER = Block({"IN": Kind.BOOL, "PT": Kind.TIME}, {"Q": Kind.BOOL}, frozenset({"ET"}))
_EDGE = Block({"CLK": Kind.BOOL}, {"Q": Kind.BOOL})

BLOCKS: Mapping[str, Block] = {
    "TON": _TIMER,
    "TOF": _TIMER,
    "TP": _TIMER,
    "R_TRIG": _EDGE,
    "F_TRIG": _EDGE,
    "SR": Block({"S1": Kind.BOOL, "R": Kind.BOOL}, {"Q1": Kind.BOOL}),
    "RS": Block({"S": Kind.BOOL, "R1": Kind.BOOL}, {"Q1": Kind.BOOL}),
    "CTU": Block({"CU": Kind.BOOL, "R": Kind.BOOL, "PV": Kind.INT}, {"Q": Kind.BOOL, "CV": Kind.INT}),
    "CTD": Block({"CD": Kind.BOOL, "LD": Kind.BOOL, "PV": Kind.INT}, {"Q": Kind.BOOL, "CV": Kind.INT}),
    "CTUD": Block(
        {"CU": Kind.BOOL, "CD": Kind.BOOL, "R": Kind.BOOL, "LD": Kind.BOOL, "PV": Kind.INT},
        {"QU": Kind.BOOL, "QD": Kind.BOOL, "CV": Kind.INT},
    ),
}
