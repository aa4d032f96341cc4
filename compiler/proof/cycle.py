"""The least and the greatest time of a cycle over all runs that nobody disturbs: exactly, where each stroke sets out
from a known place."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

from compiler.chart import Chart
from compiler.logic import Bits, Logic, Reaction, StandIn, Timer
from compiler.machine import Machine
from compiler.proof.explore import Ending, Node, explore
from compiler.proof.product import Product
from compiler.proof.rods import Place
from compiler.proof.situation import Move, Situation
from compiler.proof.world import World
from compiler.proof.zone import Zone
from compiler.shape import shape_of

__all__ = ["CycleTime", "cycle_time"]

_WITHOUT_END_US = 10**13
"""A clock that may come so far (115 days) waits for somebody: it stops counting there."""


@dataclass(frozen=True, slots=True)
class CycleTime:
    """From the moment a cycle begins until it is over. ``greatest_us`` is None where it waits for somebody.

    ``rough``: some stroke sets out from where the search does not know, for the rod was stopped, turned round or made
    quick or slow on its way. What is left of it counts as anything from nothing to all that it may be (see
    ``compiler.proof.rods``), so the least time may be too short and the greatest too long.
    """

    least_us: int
    greatest_us: int | None
    rough: bool = False


def cycle_time(
    logic: Logic, chart: Chart, machine: Machine, *, most_zones: int, careful: bool = True
) -> CycleTime | None:
    """The times of every cycle of a chart's own ``logic`` with no STOP, no jam, the supply on and no fault shown;
    with an operator who is ``careful``, or with START at any moment. None where no cycle comes to its end, or the
    search was given up."""
    shape = shape_of(chart)
    working = shape.steps - shape.rest - shape.fault
    clocked = _Clocked(logic, working)
    product = Product(clocked, None, machine)
    clock = len(logic.timers)
    found: list[tuple[int, int]] = []
    waits = rough = False

    def see(before: Node | None, move: Move, readings: Zone, lasts: bool) -> None:
        nonlocal waits, rough
        if before is None:
            return
        rough = rough or (clock in move.target.clocks.of and any(_anywhere(place) for place in move.target.places))
        waits = waits or clock in move.happening.expired[0]
        source, target = before.situation, move.target
        k = source.clocks.of.get(clock)
        over = k is not None and clock not in target.clocks.of and clock not in move.happening.expired[0]
        if over and not shape.fault & set(product.driver.lit(target.driver)):
            assert k is not None
            found.append((-(readings[k] >> 1), readings[k * source.size] >> 1))

    def undisturbed(situation: Situation, move: Move) -> bool:
        return move.happening.device == machine.stop and move.happening.kind is not None

    world = World(careful=careful, no_jam=True, supplied=True)
    explored = explore(product, world, most=most_zones, seen=see, leave_out=undisturbed)
    if not found or explored.ending is Ending.NOT_SETTLED:
        return None
    greatest = max(most for _, most in found)
    return CycleTime(min(least for least, _ in found), None if waits else greatest, rough)


def _anywhere(place: Place) -> bool:
    """Whether a rod is on its way from where it is not known."""
    return place.moving and place.rear_um != place.front_um


class _Clocked(StandIn):
    """A chart's logic with one more timer, which runs while a cycle does."""

    def __init__(self, logic: Logic, working: frozenset[str]) -> None:
        super().__init__(logic)
        self.working = working

    @property
    def timers(self) -> tuple[Timer, ...]:
        return (*self.logic.timers, Timer("cycle", _WITHOUT_END_US))

    def power_up(self, inputs: Bits) -> Reaction:
        return self._with_clock(False, False, self.logic.power_up(inputs))

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        assert isinstance(state, tuple)
        working, counting, inner = state
        clock = len(self.logic.timers)
        reaction = self.logic.react(inner, inputs, expired - {clock})
        return self._with_clock(working, counting and clock not in expired, reaction)

    def lit(self, state: Hashable) -> tuple[str, ...]:
        assert isinstance(state, tuple)
        return self.logic.lit(state[2])

    def _with_clock(self, worked: bool, counted: bool, reaction: Reaction) -> Reaction:
        clock = frozenset({len(self.logic.timers)})
        works = bool(self.working & set(self.logic.lit(reaction.state)))
        counts = works and (counted or not worked)
        return Reaction(
            (works, counts, reaction.state),
            reaction.outputs,
            reaction.running | clock if counts else reaction.running,
            reaction.started | clock if counts and not worked else reaction.started,
        )
