"""One cycle cut into the pieces the language has words for: what starts it, its steps, and what stops it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from compiler.condition import Condition, Rise, Signal, both, negated
from compiler.condition import walk as walk_condition
from compiler.retell.cause import End, Ready, Stretch, Wordless, ends
from compiler.retell.desk import Change, Desk
from compiler.retell.limits import Limit, limit_of
from compiler.retell.walk import Walk, begins, finish, opened

__all__ = ["Followed", "Piece", "follow"]


@dataclass(frozen=True, slots=True)
class Piece:
    """A step: the loads that are on in it, what ends it (None: nothing is waited for), and what happens when that
    does not come. ``start`` is the desk as it begins; ``device_of_end`` the input whose change ended it, if any."""

    on: frozenset[str]
    end: End | None
    start: Desk
    limit: Limit | None = None


@dataclass(frozen=True, slots=True)
class Followed:
    """A cycle: what starts it, its steps, the loads that stay on after it, the inputs that drop out everything while
    they are so."""

    trigger: Condition
    pieces: tuple[Piece, ...]
    resting: frozenset[str]
    stops: tuple[Change, ...]


def follow(rest: Desk) -> Followed:
    """The cycle of a machine that is at rest. Raises Wordless."""
    walk = opened(rest, _called_stop(rest))
    stops = _stops(walk)
    while True:
        walk = finish(walk, frozenset(name for name, _ in stops))
        pieces = _cut(walk)
        heard = tuple(stop for stop in stops if all(_drops_out(piece.start, stop) for piece in pieces[1:]))
        if heard == stops:
            return _told(walk, pieces, stops)
        stops = heard


# --- what stops it ---------------------------------------------------------------------------------------------


def _called_stop(desk: Desk) -> frozenset[str]:
    return frozenset(name for name in desk.free if name == desk.machine.stop or name.casefold() == "stop")


def _stops(walk: Walk) -> tuple[Change, ...]:
    """The inputs that drop out everything as the cycle has begun, after which it can be started as before."""
    pressed = {name for act in walk.acts for name, _ in act if name in walk.begun.buttons}
    last = {name for name, _ in walk.acts[-1]}
    desk = _hands_off(walk.begun, pressed) or walk.begun
    names = [name for name in desk.free if name not in pressed | last]
    changes = [(name, not desk.is_actuated(name)) for name in names]
    called = _called_stop(desk)
    return tuple(c for c in changes if _drops_out(desk, c) and (c[0] in called or _starts_afterwards(desk, c, walk)))


def _hands_off(desk: Desk, pressed: set[str]) -> Desk | None:
    """The buttons let go; None where that alone changes something."""
    after, lit = desk.twin(), desk.lit_loads
    down = [(name, False) for name in pressed if after.is_actuated(name)]
    if down:
        after.act(down)
    return after if after.lit_loads == lit else None


def _drops_out(desk: Desk, stop: Change) -> bool:
    """Whether a change turns everything off, and it stays so. Where nothing is on this can't be seen."""
    if not desk.lit_loads:
        return True
    tried = desk.twin()
    tried.act([stop])
    if tried.lit_loads:
        return False
    return all(not instant.after.lit_loads for instant in tried.run())


def _starts_afterwards(desk: Desk, stop: Change, walk: Walk) -> bool:
    tried = desk.twin()
    tried.act([stop])
    tried.run()
    tried.act([(stop[0], not stop[1])])
    if tried.state == tried.as_switched_on():
        return True
    tried.watch()
    return tried.lit_loads == walk.begun.lit_loads or begins(tried, walk)


# --- cutting ---------------------------------------------------------------------------------------------------


def _cut(walk: Walk) -> tuple[Piece, ...]:
    """The waiting at rest, and every step of the cycle."""
    pieces = [*_pieces(walk.opening, len(walk.opening.instants) - 1, _shows(walk.begun), walk)]
    for stretch in walk.stretches:
        at = len(stretch.instants) - 1
        pieces += _pieces(stretch, at, _shows(stretch.instants[at].after), walk)
    assert walk.last is not None
    first = pieces[0].end
    asked = walk_condition(first.until) if first is not None and first.until is not None else ()
    home = frozenset(part.device for part in asked if isinstance(part, Signal | Rise))
    return (*pieces, *_last(replace(walk.last, home=home), walk))


def _shows(after: Desk) -> Ready:
    lit = after.lit_loads
    return lambda desk: desk.lit_loads == lit


def _pieces(stretch: Stretch, at: int, ready: Ready, walk: Walk) -> Iterator[Piece]:
    for end in ends(stretch, at, ready):
        start = stretch.start if end.begins < 0 else stretch.instants[end.begins].after
        limit = limit_of(stretch, end, start, lambda desk: begins(desk, walk))
        yield Piece(stretch.start.lit_loads, end, start, limit)


def _last(stretch: Stretch, walk: Walk) -> Iterator[Piece]:
    """The last steps: up to the instant from which on the cycle can be started again."""

    def startable(desk: Desk) -> bool:
        return begins(desk, walk)

    if startable(stretch.start):
        yield from _limited(stretch, startable)
        return
    at = next((k for k, instant in enumerate(stretch.instants) if startable(instant.after)), None)
    if at is None:
        raise Wordless("the cycle can be started again only once something has been let go")
    came = {name for name, _ in stretch.instants[at].changed}

    def ready(desk: Desk) -> bool:
        """Nothing is held in the coming cycle that was only tried in this one, and the rods have arrived."""
        tried = desk.twin()
        tried.let_go(set(tried.stuck) - came)
        if came:
            tried.run()
        return startable(tried)

    starting = frozenset(name for act in walk.acts for name, _ in act)
    yield from _pieces(replace(stretch, starting=starting), at, ready, walk)


def _limited(stretch: Stretch, startable: Ready) -> Iterator[Piece]:
    """A last step after which nothing waits: unless something is told when its stroke does not arrive."""
    lit = stretch.start.lit_loads
    for k, instant in enumerate(stretch.instants):
        if any(name in instant.after.free for name, _ in instant.changed):
            continue
        came = (Signal(device=name) if on else negated(Signal(device=name)) for name, on in instant.changed)
        end = End(-1, k, until=both(*came))
        limit = limit_of(stretch, end, stretch.start, startable)
        if instant.changed and limit is not None:
            yield Piece(lit, end, stretch.start, limit)
            return
    yield Piece(lit, None, stretch.start)


def _told(walk: Walk, pieces: tuple[Piece, ...], stops: tuple[Change, ...]) -> Followed:
    first = pieces[0].end
    if first is None or first.until is None:
        raise Wordless("it starts by itself, some time after the supply comes on")
    assert walk.last is not None
    return Followed(first.until, pieces[1:], walk.last.start.lit_loads, stops)
