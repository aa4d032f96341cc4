"""What the user may choose of papers: symbols, colours of wires, the control circuit's supply, letters."""

from __future__ import annotations

from enum import StrEnum

__all__ = ["Letters", "Paper", "Standard", "Style", "Supply"]


class Style(StrEnum):
    """Whose symbols ladder sheets are drawn with."""

    NORTH_AMERICAN = "NEMA/JIC"
    IEC = "IEC 60617"


class Standard(StrEnum):
    """Which standard the colours of wires follow."""

    NFPA = "NFPA 79"
    IEC = "IEC 60204-1"


class Supply(StrEnum):
    """What the control circuit is fed with. One side of it, the common one, is grounded."""

    DC = "dc"
    AC = "ac"


class Letters(StrEnum):
    """How devices are designated in lists: as the user named them, or by a standard."""

    AS_NAMED = "as named"
    JIC = "JIC"
    IEC = "IEC 81346-2"


class Paper(StrEnum):
    """What a PDF is laid out for."""

    A4 = "a4"
    LETTER = "letter"
