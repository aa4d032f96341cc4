"""The situations that a machine really brings its circuit into: every stimulus of every run."""

from __future__ import annotations

from compiler.circuit import CircuitLogic
from compiler.logic import Bits
from compiler.machine import Machine
from compiler.proof.explore import Ending, Node, explore
from compiler.proof.product import Product
from compiler.proof.situation import Move
from compiler.proof.world import World
from compiler.proof.zone import Zone
from compiler.races.stimulus import Stimulus

__all__ = ["reachable"]


def reachable(
    logic: CircuitLogic, machine: Machine, world: World, *, most_zones: int
) -> tuple[tuple[Stimulus, ...], bool]:
    """Every stimulus that a circuit meets as it drives a machine in such a world, and whether those are all."""
    product = Product(logic, None, machine)
    count = len(machine.inputs)
    at_rest = _bits(product.inputs(product.first().target), count)
    found: dict[Stimulus, None] = {Stimulus(None, at_rest, at_rest): None}

    def see(before: Node | None, move: Move, readings: Zone, lasts: bool) -> None:
        if before is None or not move.target.supply:
            return
        state = before.situation.driver
        was, now = product.inputs(before.situation), product.inputs(move.target)
        known = product.driver.states[state] if state >= 0 else None
        found[Stimulus(known, _bits(was, count), _bits(now, count), move.happening.expired[0])] = None

    explored = explore(product, world, most=most_zones, seen=see)
    return tuple(found), explored.ending is not Ending.NOT_SETTLED


def _bits(mask: int, count: int) -> Bits:
    return tuple(bool(mask >> k & 1) for k in range(count))
