"""What the machine also does, outside the one cycle that is told."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from compiler.condition import Condition, Rise, Signal, walk
from compiler.retell.cycle import Followed
from compiler.retell.desk import Desk
from compiler.units import time_text

__all__ = ["begun_anew", "told_besides"]


def told_besides(rest: Desk, followed: Followed) -> Iterator[str]:
    """Inputs that have an effect where the words give them none, each told once."""
    stops = {name for name, _ in followed.stops}
    asked = _asked(followed.trigger)
    starting = list(_effective(rest, stops | asked))
    for name in starting:
        yield f"{name} starts something else, and one program has one cycle"
    pressed = sorted(rest.buttons & asked)
    if len(pressed) > 1:
        yield f"its start asks for {' and '.join(pressed)}: a careful operator is known by one button only"
    for piece in followed.pieces:
        if piece.limit is not None and not piece.limit.goes_on and not piece.limit.latched:
            yield f"a step is given up after {time_text(piece.limit.time_us)}, and the machine can be started again"
    told = {*starting, *stops}
    for piece in followed.pieces:
        waits = _asked(piece.end.until) if piece.end is not None and piece.end.until is not None else set()
        for name in _effective(piece.start, told | waits | asked):
            told.add(name)
            yield f"{name} has an effect in mid-cycle, where nothing waits for it"


def begun_anew(reading: Followed) -> Iterator[str]:
    """The holds that begin anew when a switch lets go, which the proof, where switches work, does not see."""
    for before, piece in zip(reading.pieces, reading.pieces[1:], strict=False):
        if piece.end is not None and piece.end.unbroken and piece.end.for_us and before.end is not None:
            names = " or ".join(sorted(before.end.cause))
            yield f"the hold of {time_text(piece.end.for_us)} begins anew if {names} lets go meanwhile"


def _asked(condition: Condition) -> set[str]:
    return {part.device for part in walk(condition) if isinstance(part, Signal | Rise)}


def _effective(desk: Desk, told: Iterable[str]) -> Iterator[str]:
    """The inputs that by themselves change what is on."""
    for name in desk.free:
        tried = desk.twin()
        if name not in told:
            tried.act([(name, not desk.is_actuated(name))])
            if tried.lit_loads != desk.lit_loads:
                yield name
