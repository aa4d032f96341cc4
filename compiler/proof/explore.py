"""Search every run of a product, all timings of it at once, for one in which the two logics differ."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from enum import StrEnum

from compiler.proof.clocks import Deadline
from compiler.proof.product import Product
from compiler.proof.situation import Move, Situation
from compiler.proof.table import CHATTERS, OFF
from compiler.proof.world import EXACT, World
from compiler.proof.zone import Zone, at_least, at_most, covers, delay, less_than, more_than, start, tighten

__all__ = ["Ending", "Explored", "Leave", "Node", "Seen", "explore", "lasts", "never_settling"]


class Ending(StrEnum):
    """How a search ended."""

    ALIKE = "alike"
    DIFFERS = "differs"
    NOT_SETTLED = "not settled"


@dataclass(eq=False, slots=True, repr=False)
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
    """The outcome: ``last`` is where the two differ, ``chattering`` where the driver never settles, if anywhere;
    ``starts`` says whether START was ever pressed."""

    ending: Ending
    situations: int
    zones: int
    last: Node | None = None
    chattering: Node | None = None
    starts: bool = False


Leave = Callable[[Situation, Move], bool]

Seen = Callable[["Node | None", Move, Zone, bool], None]
"""Hears of every event met: from where, the event, the readings at that moment, and whether what follows lasts."""


def explore(
    product: Product,
    world: World,
    *,
    most: int = 1_000_000,
    seen: Seen | None = None,
    leave_out: Leave | None = None,
    blurred: bool = False,
) -> Explored:
    """Search breadth first, so that the run found has as few events as any. Stops, not settled, at so many zones.

    ``leave_out`` may forbid further events. ``blurred``: all the readings a situation is met with are taken together
    as the smallest zone that holds them. That is far quicker where much moves independently, and what is alike then
    is alike; what differs then may only seem to.
    """
    return _Search(product.seen_in(world), world.excluded, most, seen, leave_out, blurred).run()


@dataclass(slots=True)
class _Search:
    product: Product
    excluded: int
    most: int
    seen: Seen | None
    leave_out: Leave | None
    blurred: bool
    met: dict[Situation, list[Node]] = field(default_factory=dict)
    waiting: deque[Node] = field(default_factory=deque)
    zones: int = 0
    last: Node | None = None
    chattering: Node | None = None
    starts: bool = False

    def run(self) -> Explored:
        first = self.product.first()
        self._enter(first, start(first.target.size - 1), None)
        while self.last is None and self.waiting:
            if self.zones > self.most:
                return self._ended(Ending.NOT_SETTLED)
            node = self.waiting.popleft()
            if not node.covered:
                self._go_on(node)
        return self._ended(Ending.ALIKE if self.last is None else Ending.DIFFERS)

    def _ended(self, ending: Ending) -> Explored:
        return Explored(ending, len(self.met), self.zones, self.last, self.chattering, self.starts)

    def _go_on(self, node: Node) -> None:
        """Everything that may happen next, until a difference is found."""
        situation, zone, excluded = node.situation, node.zone, self.excluded
        size = situation.size
        for move in self.product.moves(situation, excluded):
            if move.beyond & excluded or (self.leave_out is not None and self.leave_out(situation, move)):
                continue
            within: Zone | None = zone
            if move.clock:
                soonest = move.exactly_us if excluded & EXACT else move.soonest_us
                within = tighten(zone, size, 0, move.clock, at_least(soonest) if soonest else more_than(0))
            if within is not None:
                self._meet(move, within, node)
            if self.last is not None:
                return
        for due, within in _expiring(zone, size, situation.deadlines):
            for move in self.product.expiries(situation, due):
                if self.last is None and not move.beyond & excluded:
                    self._meet(move, within, node)

    def _meet(self, move: Move, within: Zone, before: Node) -> None:
        entry = move.choice(within)
        if move.target.free & ~before.situation.free & self.product.start:
            self.starts = True
        if self.seen is not None:
            self.seen(before, move, within, lasts(entry, move.target.limits))
        self._enter(move, entry, before)

    def _enter(self, move: Move, entry: Zone, before: Node | None) -> None:
        """Where a move leads: a difference that lasts, or somewhere to go on from if it has not been met."""
        situation = move.target
        zone = delay(entry, situation.size, situation.limits)
        if zone is None:  # rounding may leave two things on a rod's way a microsecond too close; nothing else may
            assert move.happening.at_um is not None, move.happening
            return
        differs = situation.differs and lasts(entry, situation.limits)
        chatters = situation.driver == CHATTERS
        stored = self.met.get(situation, [])
        for other in () if differs or chatters else stored:
            if covers(other.zone, zone):
                return  # it holds all of this
        node = Node(situation, zone, move, before, before.depth + 1 if before is not None else 0)
        if differs:
            self.last = node
        elif chatters:
            self.chattering = self.chattering or node
        else:
            self._keep(node, stored)

    def _keep(self, node: Node, stored: list[Node]) -> None:
        """Put a node among those met in its situation, to go on from."""
        zone = node.zone
        self.zones += 1
        self.waiting.append(node)
        if self.blurred and stored:
            (other,) = stored
            other.covered = True
            node.zone = tuple(map(max, other.zone, zone))  # of two canonical zones this is canonical again
            stored[0] = node
            return
        keep = []
        for other in stored:
            if covers(zone, other.zone):
                # One that waits with fewer events behind it is not dropped: it may lead to a shorter run.
                other.covered = other.depth == node.depth
            else:
                keep.append(other)
        keep.append(node)
        self.met[node.situation] = keep


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
