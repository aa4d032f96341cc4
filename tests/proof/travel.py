"""One rod in every situation it can be in, and between what times it passes its next place.

Written from the meaning of "every timing" alone, for the checks of the proof; it shares nothing with the compiler
but the Machine. Lengths in micrometres, times in microseconds since the rod last set out.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from compiler.machine import Actuator, End, LimitSwitch, Travel, Valve, ValveKind

__all__ = ["Place", "Rod", "at_rest", "commanded", "freed", "jammed", "next_place", "passed", "sent"]


@dataclass(frozen=True, slots=True)
class Rod:
    """Where a rod may be. It stands at, or set out from somewhere between, ``low`` and ``high``; ``last`` is the
    place it passed last since then; ``made`` are its limit switches. A jammed rod is between ``low`` and ``high``,
    and so is one whose valve drives it neither way (``way`` 0). ``quick``: on a stroke out that a further solenoid
    speeds.
    """

    way: int
    low: int
    high: int
    made: tuple[bool, ...]
    moving: bool = False
    jammed: bool = False
    last: int | None = None
    quick: bool = False


@dataclass(frozen=True, slots=True)
class Place:
    """The next place on a rod's way: passed no earlier than ``earliest``, and never in zero time; no later than
    ``latest``. ``switches`` change there; ``end`` when the stroke is over there."""

    at: int
    earliest: int
    latest: int
    switches: tuple[int, ...]
    end: bool


def _sign(end: End) -> int:
    return 1 if end is End.END else -1


def at_rest(actuator: Actuator) -> Rod:
    """The rod as the machine first stands."""
    at = actuator.stroke_um if actuator.rest is End.END else 0
    made = tuple((at - s.at_um) * _sign(s.toward) >= 0 for s in actuator.limit_switches)
    return Rod(0 if actuator.valve.centre else _sign(actuator.rest), at, at, made)


def commanded(valve: Valve, way: int, on: Collection[str]) -> tuple[int, bool]:
    """The way the valve sends its rod, which it sent ``way`` before, and whether it does so quickly."""
    now = _way(valve, way, on)
    return now, now == 1 and valve.rapid is not None and valve.rapid.solenoid in on


def _way(valve: Valve, way: int, on: Collection[str]) -> int:
    if valve.centre is not None:
        return {(True, False): 1, (False, True): -1}.get((valve.extend in on, valve.retract in on), 0)
    if valve.kind is ValveKind.MEMORY:
        out, back = valve.extend in on, valve.retract in on
        return way if out is back else 1 if out else -1
    if valve.extend is not None:
        return 1 if valve.extend in on else -1
    return -1 if valve.retract in on else 1


def next_place(actuator: Actuator, rod: Rod, *, exact: bool) -> Place | None:
    """The next place a moving rod passes; None while it stands or is jammed.

    ``exact``: the stroke takes its greatest time. Switches that make at one place, and the end of the stroke, are
    passed together; one that lets go there does so after them.
    """
    if not rod.moving:
        return None
    end = actuator.stroke_um if rod.way > 0 else 0
    makes: dict[int, list[int]] = {end: []}
    lets_go: dict[int, list[int]] = {}
    for k, switch in enumerate(actuator.limit_switches):
        toward = _sign(switch.toward)
        if toward == rod.way and not rod.made[k] and 0 <= switch.at_um <= actuator.stroke_um:
            makes.setdefault(switch.at_um, []).append(k)
        edge = _lets_go_at(switch)
        if toward != rod.way and rod.made[k] and 0 < edge < actuator.stroke_um:
            lets_go.setdefault(edge, []).append(k)
    at = min({*makes, *lets_go}, key=lambda place: place * rod.way)
    if at in makes:
        earliest = _time(actuator, rod, at, least=True, exact=exact)
        latest = _time(actuator, rod, at, least=False, exact=exact)
        return Place(at, earliest, latest, tuple(makes[at]), at == end)
    first = lets_go[at][0]
    earliest = _time(actuator, rod, actuator.limit_switches[first].at_um, least=True, exact=exact)
    return Place(at, earliest, _lets_go_by(actuator, rod, at), (first,), end=False)


def _lets_go_at(switch: LimitSwitch) -> int:
    return switch.at_um - _sign(switch.toward) * switch.reset_um


def _time(actuator: Actuator, rod: Rod, at: int, *, least: bool, exact: bool) -> int:
    """The least time, from the nearest it can be, or the greatest, from the farthest, rounded up."""
    travel = _travel(actuator, rod)
    near, far = (rod.high, rod.low) if rod.way > 0 else (rod.low, rod.high)
    distance = max(0, (at - (near if least else far)) * rod.way)
    whole = travel.least_us if least and not exact else travel.greatest_us
    return -(-whole * distance // actuator.stroke_um)


def _travel(actuator: Actuator, rod: Rod) -> Travel:
    if rod.quick:
        assert actuator.valve.rapid is not None
        return actuator.valve.rapid.time
    return actuator.extend_time if rod.way > 0 else actuator.retract_time


def _lets_go_by(actuator: Actuator, rod: Rod, at: int) -> int:
    """The first whole microsecond past the place where it lets go, on the slowest way there."""
    travel = _travel(actuator, rod)
    distance = (at - (rod.low if rod.way > 0 else rod.high)) * rod.way
    return travel.greatest_us * distance // actuator.stroke_um + 1


def passed(rod: Rod, place: Place) -> Rod:
    """The rod as it has passed its next place."""
    made = tuple(bit ^ (k in place.switches) for k, bit in enumerate(rod.made))
    if place.end:
        return Rod(rod.way, place.at, place.at, made)
    return replace(rod, made=made, last=place.at)


def _between(actuator: Actuator, rod: Rod) -> tuple[int, int]:
    """Where a moving rod may be now: past the last place, or where it set out, and short of the next."""
    place = next_place(actuator, rod, exact=False)
    assert place is not None
    if rod.way > 0:
        return (rod.low if rod.last is None else rod.last), place.at
    return place.at, (rod.high if rod.last is None else rod.last)


def sent(actuator: Actuator, rod: Rod, way: int, quick: bool) -> Rod:
    """The rod as its valve sends it another way, or as fast as it did not: from where it stands, or from somewhere on
    its way. Sent neither way it stands there. A jammed rod stays where it is, and so does one that is at the end."""
    if way == rod.way and (quick == rod.quick or not rod.moving):
        return rod
    if rod.jammed:
        return replace(rod, way=way)
    low, high = _between(actuator, rod) if rod.moving else (rod.low, rod.high)
    there = actuator.stroke_um if way > 0 else 0
    moves = way != 0 and (low, high) != (there, there)
    return Rod(way, low, high, rod.made, moving=moves, quick=quick and moves)


def jammed(actuator: Actuator, rod: Rod) -> Rod:
    """A moving rod as it stops somewhere on its way."""
    low, high = _between(actuator, rod)
    return Rod(rod.way, low, high, rod.made, jammed=True)


def freed(rod: Rod) -> Rod:
    """A jammed rod as it sets out again, the way it is sent by then, if any."""
    return Rod(rod.way, rod.low, rod.high, rod.made, moving=rod.way != 0)
