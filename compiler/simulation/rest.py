"""How far a run is worth drawing: until everything has come to rest, and a little further."""

from __future__ import annotations

from collections.abc import Iterable

from compiler.simulation.run import Role, Run, Side

__all__ = ["until_rest"]

_BACK = 20  # a twentieth of the time is drawn past the last change, so that the last level is seen,
_STAYS = 5  # but a fifth where that is not the state the run began in: to see that it stays so


def until_rest(run: Run, *, told: Iterable[int] = ()) -> Run:
    """The same record, ended soon after the last change, and never later than it ended; where it ended while a rod is
    on its way. ``told`` are moments in microseconds that are to stay within it."""
    on_their_way = {m.actuator: m.way for m in run.moves}
    last = max([*(c.at_us for c in run.changes), *(m.at_us for m in run.moves), *told], default=0)
    if last == 0 or any(on_their_way.values()):
        return run
    back = run.difference is None and _on(run, 0) == _on(run, last)
    end_us = min(run.ended_us, last + last // (_BACK if back else _STAYS))
    clocks = (c.model_copy(update={"to_us": min(c.to_us, end_us)}) for c in run.clocks if c.from_us < end_us)
    return run.model_copy(update={"ended_us": end_us, "clocks": tuple(clocks)})


def _on(run: Run, at_us: int) -> set[tuple[Side, Role, str]]:
    """All that is on at a moment, but for the inputs: these are for the world outside to change."""
    on = {(c.side, c.role, c.signal): c.on for c in run.changes if c.at_us <= at_us and c.role is not Role.INPUT}
    return {signal for signal, lit in on.items() if lit}
