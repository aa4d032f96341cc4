"""Colours of conductors by standard and kind of circuit. A colour proves nothing: who works on a wire tests it."""

from __future__ import annotations

from dataclasses import dataclass

from targets.choices import Standard, Supply
from targets.wiring.nets import COMMON

__all__ = ["colour", "colour_rule"]


@dataclass(frozen=True, slots=True)
class _Rule:
    live: str
    common: str
    source: str


_RULES = {
    # NFPA 79:2018 13.2 (from memory, and as quoted in the trade press without an edition): ac control red, dc control
    # blue, grounded ac white or gray, grounded dc white with a blue stripe.
    (Standard.NFPA, Supply.AC): _Rule("red", "white", "NFPA 79:2018 13.2"),
    (Standard.NFPA, Supply.DC): _Rule("blue", "white with blue stripe", "NFPA 79:2018 13.2"),
    # IEC 60204-1:2016 13.2 (from memory; EN 60204-1:2006 alike): 13.2.4 recommends red and blue for control; neutral
    # is light blue (13.2.3). For the grounded dc side no colour is fixed.
    (Standard.IEC, Supply.AC): _Rule("red", "light blue", "IEC 60204-1:2016 13.2"),
    (Standard.IEC, Supply.DC): _Rule("blue", "blue (not fixed)", "IEC 60204-1:2016 13.2"),
}
_PROTECTIVE = {
    Standard.NFPA: "green, or green with a yellow stripe",  # NFPA 79 13.2
    Standard.IEC: "green-and-yellow, a colour reserved for them",  # EN 60204-1 13.2.2
}


def colour(wire: int, standard: Standard, supply: Supply) -> str:
    """The colour of a wire by its number."""
    rule = _RULES[standard, supply]
    return rule.common if wire == COMMON else rule.live


def colour_rule(standard: Standard, supply: Supply) -> str:
    """The rule in words, with its source."""
    rule = _RULES[standard, supply]
    unfixed = ", which names none for that side" if "not fixed" in rule.common else ""
    return (
        f"{supply} control circuit, common grounded: {rule.live}; common {rule.common} ({rule.source}{unfixed}). "
        "Wire 1 comes from the control supply behind its own switch and fuse, wire 2 is its common side, and none of "
        f"that is in these lists. Protective conductors are {_PROTECTIVE[standard]}; none is in this list. "
        "Compare them with the edition in force where the machine goes."
    )
