"""What a proof lets happen: the assumptions it makes about the operator and the machine."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["APART", "CAREFUL", "EXACT", "JAM", "SUPPLY", "World"]


# What an event goes beyond: bits, since a search asks for them at every turn.
CAREFUL, APART, EXACT, JAM, SUPPLY = 1, 2, 4, 8, 16


@dataclass(frozen=True, slots=True)
class World:
    """The assumptions of one search; each that is False leaves things free. At all times every switch works, and at
    most one rod is jammed.

    ``careful``: START is pressed only when every rod stands, STOP is not down and the press begins something; it is
    let go before any rod comes to the end of a stroke, and is not down as the supply returns; STOP is not pressed
    with it.
    ``apart``: START and STOP are never down together.
    ``exact``: every whole stroke takes exactly its greatest time.
    ``no_jam``: no rod jams.
    ``supplied``: the control supply is always there.
    """

    careful: bool = False
    apart: bool = False
    exact: bool = False
    no_jam: bool = False
    supplied: bool = False

    @property
    def excluded(self) -> int:
        """The bits of the events that this world leaves out."""
        return (
            CAREFUL * self.careful
            | APART * (self.careful or self.apart)
            | EXACT * self.exact
            | JAM * self.no_jam
            | SUPPLY * self.supplied
        )
