"""Walking through one cycle, from rest to rest: doing something wherever the machine waits for it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from compiler.retell.cause import Stretch, Wordless
from compiler.retell.desk import PRESS_US, Desk
from compiler.retell.operator import Acts, something_to_do, ways, work

__all__ = ["Walk", "begins", "finish", "opened"]

_MOST_STRETCHES = 64
_MOST_INSTANTS = 200
_MOST_DONE = 30
_MOST_ACTS = 12  # before anything is seen of the cycle


@dataclass(slots=True)
class Walk:
    """A cycle: what was done to start it, the stretch from rest to the first change, those that follow, and the
    last, in which the machine comes to rest (None while it is not over). ``pending`` is still to be done after the
    opening."""

    acts: Acts
    opening: Stretch
    pending: Acts
    stops: frozenset[str] = frozenset()
    done: int = 0  # how often something had to be done to go on
    stretches: list[Stretch] = field(default_factory=list)
    last: Stretch | None = None

    @property
    def begun(self) -> Desk:
        """Just after the cycle has begun to show."""
        return self.opening.instants[-1].after


def opened(rest: Desk, shunned: frozenset[str]) -> Walk:
    """Start the cycle, and go on until something is seen of it. Raises Wordless."""
    acts = something_to_do(rest, shunned, resting=True)
    if acts is None:
        raise Wordless("nothing that can be pressed or switched starts it")
    opening = Stretch(rest)
    pending = _go_on(opening, acts)
    while _quiet(opening):
        more = something_to_do(_now(opening), shunned, resting=True)
        if more is None or len(acts) > _MOST_ACTS:
            raise Wordless("once started it does nothing, whatever is pressed or switched")
        acts += more
        pending = _go_on(opening, more)
    return Walk(acts, opening, pending)


def finish(walk: Walk, stops: frozenset[str]) -> Walk:
    """The same cycle walked through to its end, leaving alone what stops everything. Raises Wordless."""
    opening = replace(walk.opening, stops=stops)
    walk = Walk(walk.acts, opening, walk.pending, stops)
    pending = walk.pending
    while walk.last is None:
        pending = _next_stretch(walk, pending)
        if len(walk.stretches) > _MOST_STRETCHES:
            raise Wordless("the cycle does not come to an end")
    return walk


def begins(desk: Desk, walk: Walk) -> bool:
    """Whether doing what started the cycle starts it, on this desk, as it did."""
    plain = desk.twin()
    shown = _redo(plain, walk)
    if plain.lit_loads == walk.begun.lit_loads != desk.lit_loads:
        return True
    # What the cycle left made may lead it further at once.
    tidy = _tidied(desk, walk) if shown else None
    if tidy is None:
        return False
    _redo(tidy, walk)
    return tidy.lit_loads == walk.begun.lit_loads != desk.lit_loads


def _redo(desk: Desk, walk: Walk) -> bool:
    """Do again what started the cycle, and wait until something shows; whether it did while that was done."""
    for act in walk.acts:
        back = [(name, False) for name, on in act if on and desk.is_actuated(name) and name not in walk.stops]
        if back:
            desk.act(back)
    if work(desk, walk.acts):
        return True
    desk.watch()
    return False


def _tidied(desk: Desk, walk: Walk) -> Desk | None:
    """With everything that was switched put back as it was at rest; None where that alone shows."""
    tidy, rest = desk.twin(), walk.opening.start
    for name in desk.free:
        if tidy.is_actuated(name) != rest.is_actuated(name):
            tidy.act([(name, rest.is_actuated(name))])
    return tidy if tidy.lit_loads == desk.lit_loads else None


def _now(stretch: Stretch) -> Desk:
    return stretch.instants[-1].after if stretch.instants else stretch.start


def _quiet(stretch: Stretch) -> bool:
    return _now(stretch).lit_loads == stretch.start.lit_loads


def _go_on(stretch: Stretch, acts: Acts) -> Acts:
    """Do things, and let happen what happens, until the loads change or all is quiet; what is then left to do."""
    desk, left = _now(stretch).twin(), list(acts)
    while True:
        due = desk.now_us + PRESS_US // 2 if left else None
        instant = desk.next(due)
        if instant is None and not left:
            return ()
        if instant is None:
            desk.run(due)
            instant = desk.act(left.pop(0))
        stretch.instants.append(instant)
        if instant.after.chattering:
            raise Wordless("it never settles: " + ", ".join(instant.after.chattering[0].loop))
        if not _quiet(stretch):
            return tuple(left)
        if len(stretch.instants) > _MOST_INSTANTS:
            raise Wordless("something goes on and on without any load changing")


def _next_stretch(walk: Walk, pending: Acts) -> Acts:
    entry = (walk.stretches[-1] if walk.stretches else walk.opening).instants[-1]
    stretch = Stretch(entry.after, entry, [], walk.stops)
    return _finish_stretch(walk, stretch, _go_on(stretch, pending))


def _finish_stretch(walk: Walk, stretch: Stretch, pending: Acts) -> Acts:
    """Go on with a stretch until it is over; what is then left to do."""
    while _quiet(stretch):
        walk.done += 1
        if walk.done > _MOST_DONE:
            raise Wordless("whatever is done, the cycle does not come to an end")
        if _starts_over(_now(stretch), walk):
            walk.last = stretch
            return ()
        more = something_to_do(_now(stretch), walk.stops)
        if more is None:
            return _before_the_fault(walk, stretch)
        pending = _go_on(stretch, more)
    after = _now(stretch)
    if after.state == walk.begun.state and after.lit_loads == walk.begun.lit_loads:
        walk.last = _let_go_in_time(stretch, walk.acts)
        return ()
    walk.stretches.append(stretch)
    return pending


def _starts_over(desk: Desk, walk: Walk) -> bool:
    """Whether the cycle can be started again, with nothing remembered of the one before."""
    if not begins(desk, walk):
        return False
    for tried in (desk.twin(), _tidied(desk, walk)):
        if tried is not None:
            _redo(tried, walk)
            if tried.state == walk.begun.state:
                return True
    return False


def _let_go_in_time(stretch: Stretch, acts: Acts) -> Stretch:
    """The last stretch once more, without what starts the next cycle at once."""
    held = tuple((name, False) for act in acts for name, on in act if on and stretch.start.is_actuated(name))
    fresh = Stretch(stretch.start, stretch.entry, [], stretch.stops)
    _go_on(fresh, (held,) if held else ())
    if not _quiet(fresh):
        raise Wordless("the cycle starts again by itself")
    return fresh


def _before_the_fault(walk: Walk, stuck: Stretch) -> Acts:
    """It stands in a fault, or waits for what can't come: go back, and do something before the time is up."""
    late = [stuck, *walk.stretches[-1:]]
    for stretch in late:
        for place in range(len(stretch.instants) - 1, -1, -1):
            more = _in_time(walk, stretch, place)
            if more is None:
                continue
            again = replace(stretch, instants=stretch.instants[:place])
            pending = _go_on(again, more)
            if stretch is not stuck:
                walk.stretches.pop()
            return _finish_stretch(walk, again, pending)
    on = " and ".join(sorted(stuck.start.lit_loads)) or "nothing"
    raise Wordless(f"it stops in mid-cycle with {on} on, and nothing that can be pressed or switched brings it on")


def _in_time(walk: Walk, late: Stretch, place: int) -> Acts | None:
    """What, done before an instant, brings on something else, or something later, than when nothing is done."""
    desk, end = late.instants[place].before, late.instants[-1]
    for acts in ways(desk, late.stops):
        tried = desk.twin()
        if not work(tried, acts):
            tried.watch()
        if tried.lit_loads == desk.lit_loads:
            if _starts_over(tried, walk):
                return acts
        elif tried.lit_loads != end.after.lit_loads or tried.now_us > end.at_us:
            return acts
    return None
