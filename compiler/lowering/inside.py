"""What a program names that is wired to nothing: counters, signals between stations, stations and routines."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Inside", "InsideKind"]


class InsideKind(StrEnum):
    """What such a name stands for."""

    COUNTER = "counter"
    SIGNAL = "signal"
    STATION = "station"
    ROUTINE = "routine"


@dataclass(frozen=True, slots=True)
class Inside:
    """A name of something that no wire leads to."""

    name: str
    kind: InsideKind
