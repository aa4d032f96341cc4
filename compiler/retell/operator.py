"""The operator at the desk: what to press or switch so that a machine which waits goes on."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from compiler.retell.desk import PRESS_US, Change, Desk

__all__ = ["Acts", "something_to_do", "trials", "ways", "work"]

_MOST_AT_ONCE = 3

Acts = tuple[tuple[Change, ...], ...]
"""What is done, one thing after the other, half a press apart."""


def trials(rest: Desk) -> Iterator[Desk]:
    """The machine at rest, and then with each selector and sensor the other way round, where that starts nothing.

    What is waited for shows only where it is not so already.
    """
    yield rest
    for name in rest.free:
        if name not in rest.buttons:
            other = rest.twin()
            other.act([(name, not rest.is_actuated(name))])
            other.run()
            if other.lit_loads == rest.lit_loads:
                yield other


def something_to_do(desk: Desk, shunned: frozenset[str], *, resting: bool = False) -> Acts | None:
    """The least that makes a waiting machine go on: briefly if that does, else for as long as it takes. Going back to
    where it was when switched on counts too, unless it has only just left its rest (``resting``)."""
    return next((acts for acts in ways(desk, shunned) if _goes_on(desk, acts, resting)), None)


def ways(desk: Desk, shunned: frozenset[str]) -> Iterator[Acts]:
    """All that might be done, the least first."""
    free = [name for name in desk.free if name not in shunned]
    free.sort(key=lambda name: (name not in desk.buttons, name != "START"))
    for size in range(1, _MOST_AT_ONCE + 1):
        for brief in (True, False):
            for names in combinations(free, size):
                yield _in_order(desk, names, brief=brief)


def _in_order(desk: Desk, names: tuple[str, ...], *, brief: bool) -> Acts:
    """Selectors and sensors first; then buttons, one after the other, which are let go again when ``brief``."""
    levels = [((name, not desk.is_actuated(name)),) for name in names if name not in desk.buttons]
    buttons = [name for name in names if name in desk.buttons]
    down = [name for name in buttons if desk.is_actuated(name)]
    acts = [*levels, tuple((name, False) for name in down), *(((name, True),) for name in buttons)]
    if brief:
        acts.append(tuple((name, False) for name in buttons))
    return tuple(act for act in acts if act)


def work(desk: Desk, acts: Acts) -> bool:
    """Do it, on this desk. Whether the loads changed meanwhile."""
    lit = desk.lit_loads
    for act in acts:
        if any(instant.after.lit_loads != lit for instant in desk.run(desk.now_us + PRESS_US // 2)):
            return True
        desk.act(act)
        if desk.lit_loads != lit:
            return True
    return False


def _goes_on(desk: Desk, acts: Acts, resting: bool) -> bool:
    """Whether something comes of it: loads that change, or something remembered when all is as it was."""
    tried, lit = desk.twin(), desk.lit_loads
    if work(tried, acts) or any(instant.after.lit_loads != lit for instant in tried.run()):
        return True
    undo = [(name, desk.is_actuated(name)) for name in desk.free if tried.is_actuated(name) != desk.is_actuated(name)]
    for change in reversed(undo):
        tried.act([change])
        tried.run()
    known = (desk.state, tried.as_switched_on()) if resting else (desk.state,)
    return tried.lit_loads == lit and tried.state not in known
