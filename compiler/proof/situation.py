"""What a search moves between: situations, and the events that lead from one to the next.

A *situation* is everything but the readings of clocks. Only what runs has a clock (a timer, a rod on its way, a
pressure switch about to change), and all that starts at one event shares one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from compiler.proof.clocks import Clocks, Deadline
from compiler.proof.rods import Place
from compiler.proof.zone import Choice
from compiler.simulation.run import EventKind

__all__ = ["Happening", "Move", "Situation"]

_NONE: frozenset[int] = frozenset()


class Happening(NamedTuple):
    """What happens at one instant: an outside event (``kind`` and ``device``, ``on`` or off), a rod that passes
    ``at_um`` or a pressure switch that changes (``device`` alone), or timers that expire together."""

    device: str = ""
    kind: EventKind | None = None
    on: bool = False
    at_um: int | None = None
    expired: tuple[frozenset[int], frozenset[int]] = (_NONE, _NONE)


@dataclass(eq=False, slots=True, repr=False)
class Move:
    """An event that may happen in a situation, and where it leads. ``clock`` (0: none) must read ``soonest_us`` or
    more, ``exactly_us`` where strokes are exact; 0 is later than at once. ``choice`` makes the clocks of the target,
    each the one of ``births`` (0 for one that starts now). ``beyond`` are the bits of what it goes beyond."""

    happening: Happening
    target: Situation
    choice: Choice
    beyond: int = 0
    clock: int = 0
    soonest_us: int = 0
    exactly_us: int = 0
    births: tuple[int, ...] = ()


@dataclass(eq=False, slots=True, repr=False)
class Situation:
    """A discrete state. ``limits`` say how far each clock may read; ``size`` is the number of clocks and one.
    ``stuck`` is the bit of a switch that does not work, 0 for none, and what it shows. What may happen is filled in
    when it is asked for: ``moves``, and ``rare`` ones by the bit of what they all go beyond."""

    driver: int
    shadow: int
    free: int
    supply: bool
    places: tuple[Place, ...]
    pressed: int
    clocks: Clocks
    stuck: tuple[int, int]
    differs: bool
    number: int
    size: int
    limits: tuple[tuple[int, int], ...]
    deadlines: tuple[Deadline, ...]
    moves: list[Move] | None = None
    rare: dict[int, list[Move]] = field(default_factory=dict)
    expiries: dict[tuple[Deadline, ...], list[Move]] = field(default_factory=dict)
