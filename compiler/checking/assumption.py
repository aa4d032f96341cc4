"""What an implementation may need to be the same as the sequence: how it is used and what the machine does."""

from __future__ import annotations

from enum import StrEnum

__all__ = ["Assumption"]


class Assumption(StrEnum):
    """An emitter announces the ones its artefact needs; the check reports a difference outside them as one that
    was not announced."""

    START_RELEASED = "START is let go before the last step of the cycle begins, and not held while STOP is used"
    START_AT_HOME = "START is pressed only when the machine rests at home, ready to start"
    STROKE_TIME = "every stroke takes exactly its greatest time"
    NO_JAM = "no stroke jams"
    SWITCHES_WORK = "every switch works"
    SUPPLY_WITH_START = "START is not held as the supply returns"
