"""What happens when that which a step waits for does not come."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from compiler.retell.cause import End, Stretch
from compiler.retell.desk import Desk

__all__ = ["Limit", "limit_of"]


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
    desk = start.twin()
    held = [(name, not on) for name, on in instant.changed if name not in desk.free]
    if held:
        desk.act([(name, on) for name, on in held])
    while (late := desk.next()) is not None and late.after.lit_loads == start.lit_loads:
        pass
    if late is None:
        return None
    time_us = late.at_us - start.now_us
    if all(late.before.preset_us(timer) != time_us for timer in late.expired):
        return None
    if late.after.lit_loads == instant.after.lit_loads:
        return Limit(time_us, goes_on=True)
    desk.let_go(dict(held))
    desk.run()
    return Limit(time_us, False, late.after.lit_loads, latched=not startable(desk))
