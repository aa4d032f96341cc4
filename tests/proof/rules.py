"""What the operator and the world may do in the tick explorer: the proof's assumptions, told again."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.proof.world import World

__all__ = ["Rules", "rules_of"]


@dataclass(frozen=True, slots=True)
class Rules:
    """The assumptions made of the operator and the world; a flag that is False leaves things free.

    ``careful``: START is pressed only with the supply on, every rod standing and STOP up, and begins something: in
    the driver something lights or goes out, or its times change. Once, with START still down, something has lit or
    gone out, it is let go before anything more does or any time of the driver changes, and before a lost supply
    returns; STOP is not pressed with it. ``apart``: START and STOP are never down together. ``supplied``: the supply
    is always there. ``for_good``: a rod that jams never comes free. ``failing`` assumes less: a switch may stick
    for good, made or open. At most one thing is jammed or stuck at a time.
    """

    careful: bool = False
    apart: bool = False
    exact: bool = False
    no_jam: bool = False
    supplied: bool = False
    for_good: bool = False
    failing: bool = False


def rules_of(world: World) -> Rules:
    """The same assumptions as a proof's world makes; a proof takes every jam to be for good."""
    flags = (world.careful, world.apart, world.exact, world.no_jam, world.supplied)
    return Rules(*flags, for_good=True, failing=world.failing)
