"""What happens when that which a step waits for does not come."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from compiler.condition import Condition, Signal, walk
from compiler.retell.cause import End, Stretch
from compiler.retell.desk import Change, Desk, Instant

__all__ = ["Limit", "limit_of"]

_LONGEST_US = 3_600_000_000  # where something goes on and on meanwhile, a limit of more than an hour is not found


@dataclass(frozen=True, slots=True)
class Limit:
    """After ``time_us`` in a step it goes on all the same (``goes_on``), or stops in a fault with some loads on
    (``shown``). ``latched``: it can't then be started again."""

    time_us: int
    goes_on: bool
    shown: frozenset[str] = frozenset()
    latched: bool = True


def limit_of(stretch: Stretch, end: End, start: Desk, startable: Callable[[Desk], bool]) -> Limit | None:
    """The limit of a step that waits for a condition, None where it waits for ever."""
    if end.until is None:
        return None
    instant = stretch.instants[end.at]
    desk = _hands_off(start)
    held = _held_back(instant, end.until)
    if held:
        desk.act(held)
    late = _too_late(desk, start, instant, dict(held), startable)
    if late is None or not _ran_out(late, start):
        return None
    time_us = late.at_us - start.now_us
    resumed = _resumed(late.after, instant, dict(held))
    shows = late.after.lit_loads != start.lit_loads
    if shows and late.after.lit_loads == instant.after.lit_loads and _alike(resumed, instant.after, startable):
        return Limit(time_us, goes_on=True)
    resumed.run()
    return Limit(time_us, False, late.after.lit_loads, latched=not startable(resumed))


def _hands_off(start: Desk) -> Desk:
    """The buttons let go, unless that alone shows."""
    desk = start.twin()
    down = [(name, False) for name in desk.buttons if desk.is_actuated(name)]
    if down:
        desk.act(down)
    return desk if desk.lit_loads == start.lit_loads else start.twin()


def _too_late(
    desk: Desk, start: Desk, instant: Instant, held: dict[str, bool], startable: Callable[[Desk], bool]
) -> Instant | None:
    """When what is on changes for want of what was waited for, or when that would no longer do."""
    for late in iter(desk.next, None):
        if late.after.lit_loads != start.lit_loads:
            return late
        if _ran_out(late, start) and not _alike(_done_late(late, instant, held), instant.after, startable):
            return late
        if late.at_us > start.now_us + _LONGEST_US:
            return None
    return None


def _resumed(desk: Desk, instant: Instant, held: dict[str, bool]) -> Desk:
    """With what was held let go."""
    resumed = desk.twin()
    resumed.let_go(held)
    resumed.act([(name, instant.after.is_actuated(name)) for name in held if name in resumed.free])
    return resumed


def _done_late(late: Instant, instant: Instant, held: dict[str, bool]) -> Desk:
    """With what was waited for after all."""
    desk = _resumed(late.after, instant, held)
    desk.act([(name, on) for name, on in instant.changed if name in desk.free])
    return desk


def _held_back(instant: Instant, until: Condition) -> list[Change]:
    """What to hold so that the end does not come: switches that would change, or what a time waits for besides."""
    if instant.changed:
        return [(name, not on) for name, on in instant.changed if name not in instant.after.free]
    named = {part.device for part in walk(until) if isinstance(part, Signal)}
    return [(name, not instant.after.is_actuated(name)) for name in named]


def _ran_out(late: Instant, start: Desk) -> bool:
    """Whether a time runs out that began with the step."""
    return any(late.before.preset_us(timer) == late.at_us - start.now_us for timer in late.expired)


def _alike(desk: Desk, other: Desk, startable: Callable[[Desk], bool]) -> bool:
    """Whether what follows is the same on both desks: a fault may look like the next step."""
    one, two = desk.twin(), other.twin()
    return _lit(one) == _lit(two) and startable(one) == startable(two)


def _lit(desk: Desk) -> list[frozenset[str]]:
    """The loads that are on, each time they change until all is quiet."""
    lit = [instant.after.lit_loads for instant in desk.run()]
    return [on for k, on in enumerate(lit) if k == 0 or on != lit[k - 1]]
