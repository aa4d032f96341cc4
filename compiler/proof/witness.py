"""From a path of situations to a run that the simulator can follow: when each of its events happens.

The times are whole microseconds that keep every window and preset on the path, found as shortest distances in a
graph of differences (R. Bellman 1958); within what they leave open, the times a person would choose: a button half a
second after what went before, a stroke at its usual pace.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from compiler.proof.clocks import Deadline
from compiler.proof.explore import Node
from compiler.proof.product import Product
from compiler.proof.situation import Happening, Move, Situation
from compiler.proof.world import EXACT, World
from compiler.simulation.run import Event, EventKind, Pace, Scenario, Swiftness, stroke_times

__all__ = ["TAIL_US", "Untimed", "path_of", "scenario_of"]

_PAUSE_US = 500_000
_PRESS_US = 300_000
TAIL_US = 2_000_000
"""How long a run goes on after what it shows."""
_FAR = 1 << 60


class Untimed(Exception):
    """No whole microseconds were found for a path."""


@dataclass(frozen=True, slots=True)
class _Apart:
    """Event ``later`` comes at least so long after event ``sooner``; negative: at most so long before it."""

    sooner: int
    later: int
    least_us: int


def path_of(last: Node) -> list[Node]:
    """The nodes from the first to this one."""
    nodes = []
    node: Node | None = last
    while node is not None:
        nodes.append(node)
        node = node.before
    return nodes[::-1]


def scenario_of(product: Product, last: Node, world: World, name: str) -> Scenario:
    """A run that follows the path to a node and stays there a while. Raises Untimed."""
    path = path_of(last)
    times = _times(product, path, world)
    events = [
        Event(at_us=times[k], kind=h.kind, device=h.device, on=h.on)
        for k, node in enumerate(path)
        if (h := node.move.happening).kind is not None and not (k == 0 and h.kind is EventKind.SUPPLY)
    ]
    machine = product.machine
    return Scenario(
        name=name,
        duration_us=times[len(path) - 1] + TAIL_US,
        events=tuple(events),
        strokes=stroke_times(machine, Swiftness.GREATEST, Swiftness.GREATEST),
        paces=tuple(_paces(product, path, times)),
    )


# --- when ---------------------------------------------------------------------------------------------------------


def _times(product: Product, path: list[Node], world: World) -> list[int]:
    """When each event happens, and last a moment until which the last situation lasts. Everything at a moment of its
    own if that can be had, if need be by letting strokes be some microseconds quicker than they should."""
    for gap_us, quicker_us in ((1, 0), (1, 2 * len(path)), (0, 0)):
        bounds = [*_bounds(path, world, gap_us=gap_us, quicker_us=quicker_us)]
        bounds += [_Apart(k - 1, k, gap_us if k < len(path) else 1) for k in range(1, len(path) + 1)]
        bounds += _same_hand(path)
        times = _chosen(product, path, bounds)
        if times is not None:
            return times
    raise Untimed


def _same_hand(path: list[Node]) -> Iterator[_Apart]:
    """Two changes of one device from outside never share a moment: the simulator would see neither."""
    last: dict[tuple[EventKind, str], int] = {}
    for k, node in enumerate(path):
        happening = node.move.happening
        if happening.kind is not None:
            device = (happening.kind, happening.device)
            if device in last:
                yield _Apart(last[device], k, 1)
            last[device] = k


def _bounds(path: list[Node], world: World, *, gap_us: int, quicker_us: int) -> Iterator[_Apart]:
    """What the windows and presets on a path ask; an event comes so long before anything else that would be due, for
    what is due at one moment the simulator lets happen together."""
    births = [0]  # which event each clock of the present situation began with; clock 0 is not used
    for k, node in enumerate(path):
        move = node.move
        if k:
            before = path[k - 1].situation
            own = _own_clocks(node, before)
            for clock, limit in before.limits:
                yield _Apart(k, births[clock], (0 if clock in own else gap_us) - limit)
            if move.clock:
                soonest = move.exactly_us if world.excluded & EXACT else move.soonest_us
                if move.happening.at_um is not None:
                    soonest -= quicker_us
                yield _Apart(births[move.clock], k, max(soonest, 1))
            for deadline in before.deadlines if any(move.happening.expired) else ():
                if _met(deadline, move):
                    yield _Apart(births[deadline.clock], k, deadline.preset_us)
                else:
                    yield _Apart(k, births[deadline.clock], 1 - deadline.preset_us)
        births = [0, *[births[source] if source else k for source in move.births]]
    for clock, limit in path[-1].situation.limits:
        yield _Apart(len(path), births[clock], -limit)


def _own_clocks(node: Node, before: Situation) -> set[int]:
    """The clocks that an event waits for."""
    return {node.move.clock, *(d.clock for d in before.deadlines if _met(d, node.move))}


def _met(deadline: Deadline, move: Move) -> bool:
    """Whether an event is that the timers of a deadline expire."""
    driver, shadow = move.happening.expired
    return bool(driver or shadow) and deadline.timers[0] <= driver and deadline.timers[1] <= shadow


def _chosen(product: Product, path: list[Node], bounds: list[_Apart]) -> list[int] | None:
    count = len(path) + 1
    earliest = _longest(count, bounds, {0: 0})
    if earliest is None:
        return None
    times: dict[int, int] = {0: 0}
    for k in range(1, count):
        sooner = _longest(count, bounds, times)
        assert sooner is not None  # whatever is chosen within its bounds leaves the rest possible
        latest = _latest(count, bounds, times, k)
        wanted = times[k - 1] + 1 if k == count - 1 else _wanted(product, path, times, k)
        times[k] = max(sooner[k], min(latest, wanted))
    return [times[k] for k in range(count)]


def _wanted(product: Product, path: list[Node], times: dict[int, int], k: int) -> int:
    """The time a person would choose for an event."""
    happening, previous = path[k].move.happening, times[k - 1]
    if happening.kind is EventKind.INPUT:
        return previous + (_PAUSE_US if happening.on else _PRESS_US)
    if happening.kind is not None:
        return previous + _PAUSE_US
    if happening.at_um is not None:
        move = path[k].move
        set_out = next(j for j in range(k - 1, -1, -1) if _sets_out(path, j, happening.device, product))
        limit = dict(path[k - 1].situation.limits)[move.clock]
        return times[set_out] + (move.soonest_us + limit + 1) // 2
    return previous


def _sets_out(path: list[Node], j: int, device: str, product: Product) -> bool:
    """Whether an actuator began the leg it is on with event j."""
    k = next(k for k, rod in enumerate(product.rods) if rod.actuator.name == device)
    now = path[j].situation.places[k]
    before = path[j - 1].situation.places[k] if j else None
    return before is None or not before.moving or before.drive != now.drive


def _longest(count: int, bounds: list[_Apart], fixed: dict[int, int]) -> list[int] | None:
    """The earliest times, some of them fixed; None if there are none."""
    times = [0] * count
    for k, time in fixed.items():
        times[k] = time
    for _ in range(count + 1):
        changed = False
        for bound in bounds:
            time = times[bound.sooner] + bound.least_us
            if time > times[bound.later]:
                if bound.later in fixed:
                    return None
                times[bound.later] = time
                changed = True
        if not changed:
            return times
    return None


def _latest(count: int, bounds: list[_Apart], fixed: dict[int, int], wanted: int) -> int:
    """The latest time of one event, some being fixed."""
    times = [_FAR] * count
    for k, time in fixed.items():
        times[k] = time
    for _ in range(count + 1):
        changed = False
        for bound in bounds:
            time = times[bound.later] - bound.least_us
            if time < times[bound.sooner] and bound.sooner not in fixed:
                times[bound.sooner] = time
                changed = True
        if not changed:
            break
    return times[wanted]


# --- how fast -----------------------------------------------------------------------------------------------------


def _paces(product: Product, path: list[Node], times: list[int]) -> Iterator[Pace]:
    """The pace of every leg between two things that its rod passes, or until it is turned or jams."""
    for k, rod in enumerate(product.rods):
        name, since = rod.actuator.name, 0
        for j in range(len(path)):
            place = path[j].situation.places[k]
            if _passes(path[j].move.happening, name) or (j and _turned(path, j, k)):
                since = j
            passing = place.passing
            if passing is None or (j != since and j):
                continue
            end = next((i for i in range(j + 1, len(path)) if _leg_ends(path, i, k, name)), None)
            if end is not None and _passes(path[end].move.happening, name):
                by_us = times[end]
            else:
                # It must not get there before it is turned, or before the run has shown what it is to show.
                quiet_until = times[end] if end is not None else times[len(path) - 1] + TAIL_US
                by_us = max(quiet_until + 1, times[j] + passing.latest_us)
            yield Pace(actuator=name, from_us=times[j], at_um=passing.at_um, by_us=by_us, past=passing.lets_go)


def _passes(happening: Happening, name: str) -> bool:
    return happening.device == name and happening.at_um is not None


def _turned(path: list[Node], j: int, k: int) -> bool:
    before, now = path[j - 1].situation.places[k], path[j].situation.places[k]
    return before.drive != now.drive


def _leg_ends(path: list[Node], i: int, k: int, name: str) -> bool:
    happening = path[i].move.happening
    jams = happening.kind is EventKind.JAM and happening.device == name
    return jams or _passes(happening, name) or _turned(path, i, k)
