"""Search every run of a product, all timings of it at once, for one in which the two logics differ."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from compiler.proof.product import Product
from compiler.proof.situation import Deadline, Move, Situation
from compiler.proof.table import CHATTERS, OFF
from compiler.proof.world import EXACT, World
from compiler.proof.zone import Zone, at_least, at_most, covers, delay, less_than, more_than, start, tighten

__all__ = ["Ending", "Explored", "Leave", "Node", "Seen", "explore", "lasts", "never_settling"]


class Ending(StrEnum):
    """How a search ended."""

    ALIKE = "alike"
    DIFFERS = "differs"
    NOT_SETTLED = "not settled"


@dataclass(eq=False, slots=True)
class Node:
    """A situation with all the clock readings it was met with at once, and how it was come to."""

    situation: Situation
    zone: Zone
    move: Move
    before: Node | None
    depth: int
    covered: bool = False


@dataclass(frozen=True, slots=True)
class Explored:
    """The outcome: ``last`` is where the two differ, ``chattering`` where the driver never settles, if anywhere."""

    ending: Ending
    situations: int
    zones: int
    last: Node | None = None
    chattering: Node | None = None


Leave = Callable[[Situation, Move], bool]

Seen = Callable[["Node | None", Move, Zone, bool], None]
"""Hears of every event met: from where, the event, the readings at that moment, and whether what follows lasts."""


def explore(
    product: Product, world: World, *, most: int = 1_000_000, seen: Seen | None = None, leave_out: Leave | None = None
) -> Explored:
    """Search breadth first, so that the run found has as few events as any. Stops, not settled, at so many zones.

    ``leave_out`` may forbid further events.
    """
    product, excluded = product.seen_in(world), world.excluded
    met: dict[Situation, list[Node]] = {}
    waiting: deque[Node] = deque()
    zones = 0
    chattering: Node | None = None

    def enter(move: Move, entry: Zone, before: Node | None) -> Node | None:
        """Where a move leads, if that has not been met; a Node only where the two differ for longer than no time."""
        nonlocal zones, chattering
        situation = move.target
        size = situation.size
        zone = delay(entry, size, situation.limits)
        if zone is None:  # rounding may leave two things on a rod's way a microsecond too close; nothing else may
            assert move.happening.at_um is not None, move.happening
            return None
        node = Node(situation, zone, move, before, before.depth + 1 if before is not None else 0)
        if situation.differs and lasts(entry, situation.limits):
            return node
        if situation.driver == CHATTERS:
            chattering = chattering or node
            return None
        stored = met.get(situation)
        if stored is None:
            met[situation] = [node]
        else:
            for other in stored:
                if covers(other.zone, zone):
                    return None
            keep = []
            for other in stored:
                if covers(zone, other.zone):
                    # One that waits with fewer events behind it is not dropped: it may lead to a shorter run.
                    other.covered = other.depth == node.depth
                else:
                    keep.append(other)
            keep.append(node)
            met[situation] = keep
        zones += 1
        waiting.append(node)
        return None

    def meet(move: Move, within: Zone, before: Node) -> Node | None:
        entry = move.choice(within)
        if seen is not None:
            seen(before, move, within, lasts(entry, move.target.limits))
        return enter(move, entry, before)

    first = product.first()
    last = enter(first, start(first.target.size - 1), None)
    while last is None and waiting:
        if zones > most:
            return Explored(Ending.NOT_SETTLED, len(met), zones, chattering=chattering)
        node = waiting.popleft()
        if node.covered:
            continue
        situation, zone = node.situation, node.zone
        size = situation.size
        for move in situation.moves or product.moves(situation):
            if move.beyond & excluded or (leave_out is not None and leave_out(situation, move)):
                continue
            if move.clock:
                soonest = move.exactly_us if excluded & EXACT else move.soonest_us
                bound = at_least(soonest) if soonest else more_than(0)
                within = tighten(zone, size, 0, move.clock, bound)
                if within is None:
                    continue
            else:
                within = zone
            last = meet(move, within, node)
            if last is not None:
                break
        else:
            for due, within in _expiring(zone, size, situation.deadlines):
                for move in product.expiries(situation, due):
                    if not move.beyond & excluded:
                        last = last or meet(move, within, node)
                if last is not None:
                    break
    ending = Ending.ALIKE if last is None else Ending.DIFFERS
    return Explored(ending, len(met), zones, last, chattering)


def lasts(entry: Zone, limits: tuple[tuple[int, int], ...]) -> bool:
    """Whether time can pass: no clock is bound to be at its limit."""
    return all(entry[clock] + 2 * limit - (entry[clock] & 1) >= 1 for clock, limit in limits)


def never_settling(product: Product, explored: Explored) -> tuple[str, ...]:
    """What never settles in the driver, if anything does not: as the supply comes on, or later."""
    node = explored.chattering
    if node is None:
        return ()
    state = OFF if node.before is None else node.before.situation.driver
    return product.driver.loop(state, product.inputs(node.situation), node.move.happening.expired[0])


def _expiring(zone: Zone, size: int, deadlines: tuple[Deadline, ...]) -> Iterator[tuple[tuple[Deadline, ...], Zone]]:
    """Every set of deadlines that may be met at one instant, none of the others being met, and the readings then."""
    near = [d for d in deadlines if zone[d.clock * size] >= 2 * d.preset_us + 1]
    for k, first in enumerate(near):
        within = tighten(zone, size, 0, first.clock, at_least(first.preset_us))
        for earlier in near[:k]:
            if within is None:
                break
            within = tighten(within, size, earlier.clock, 0, less_than(earlier.preset_us))
        if within is not None:
            yield from _besides((first,), within, size, near[k + 1 :])


def _besides(
    due: tuple[Deadline, ...], zone: Zone, size: int, others: list[Deadline]
) -> Iterator[tuple[tuple[Deadline, ...], Zone]]:
    for k, other in enumerate(others):
        if zone[other.clock * size] < at_most(other.preset_us):
            continue
        too = tighten(zone, size, 0, other.clock, at_least(other.preset_us))
        if too is not None:
            yield from _besides((*due, other), too, size, others[k + 1 :])
        rest = tighten(zone, size, other.clock, 0, less_than(other.preset_us))
        if rest is None:
            return
        zone = rest
    yield due, zone
