"""What brought a change about: found by holding back what came before it, and by doing it too soon.

A change comes at the instant of its cause: an input that changed, or a timer that ran out. Which of the inputs had
to be as they were is found by trying the others; what had to come before, by trying the cause earlier. A time that
began with an input is a hold, unless letting go of that input begins it anew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial

from compiler.condition import Always, Condition, Elapsed, Rise, Signal, Sustained, both, either, negated, walk
from compiler.retell.desk import GAP_US, Change, Desk, Instant
from compiler.retell.table import plainest

__all__ = ["End", "Stretch", "Wordless", "ends"]

_MOST_INPUTS = 7  # tried in every combination: 128 rows


class Wordless(Exception):
    """The language has no words for what was seen. The text says what it was."""


@dataclass(frozen=True, slots=True)
class End:
    """What ends a piece of the sequence: a condition, or a time. ``begins`` and ``at`` are the places of the instants
    between which it lasts (-1: the start of the stretch). ``cause`` names the inputs that changed as it ended.
    ``unbroken``: the hold begins anew when what it began with lets go."""

    begins: int
    at: int
    until: Condition | None = None
    for_us: int | None = None
    unbroken: bool = False
    cause: frozenset[str] = frozenset()


@dataclass(slots=True)
class Stretch:
    """All that happens from one change of the loads (``start``, just after it) to the next, which is the last of the
    instants. ``entry`` is the instant of the change before; ``stops`` are inputs not to be tried; those
    ``starting`` the cycle only as a cause, and those of its ``home`` not as a time runs out."""

    start: Desk
    entry: Instant | None = None
    instants: list[Instant] = field(default_factory=list)
    stops: frozenset[str] = frozenset()
    starting: frozenset[str] = frozenset()
    home: frozenset[str] = frozenset()


Ready = Callable[[Desk], bool]
"""Whether, on a desk where something was just done, what was looked for has come."""


def ends(stretch: Stretch, at: int, ready: Ready) -> tuple[End, ...]:
    """What ended the pieces of a stretch, one after the other, up to an instant. Raises Wordless."""
    instant = stretch.instants[at]
    if instant.changed and not (instant.expired and _goes(instant, {}, ready, held=instant.changed)):
        return _conditional(stretch, at, ready)
    if instant.expired:
        return _timed(stretch, at, ready)
    raise Wordless("something changes for no reason that could be found")


# --- an input --------------------------------------------------------------------------------------------------


def _conditional(stretch: Stretch, at: int, ready: Ready) -> tuple[End, ...]:
    instant = stretch.instants[at]
    condition = _condition(stretch, instant, ready)
    named = {part.device for part in walk(condition) if isinstance(part, Signal)}
    cause = [change for change in instant.changed if change[0] in named]

    def brought_on(desk: Desk) -> bool:
        tried = desk.twin()
        let_go = [(name, False) for name in tried.buttons if tried.is_actuated(name) and (name, False) not in cause]
        if let_go:
            tried.act(let_go)
        tried.act(cause)
        return ready(tried) or tried.lit_loads != desk.lit_loads

    before = _needed_before(stretch, at, brought_on)
    ahead: tuple[End, ...] = ()
    if before is not None:
        prior = stretch.instants[before]
        known = named - dict(cause).keys() | stretch.stops
        if prior.expired or not {name for name, _ in prior.changed} & known:
            by_hand = {name for name, _ in cause if name in instant.after.buttons}
            ahead = ends(replace(stretch, stops=stretch.stops | by_hand), before, brought_on)
    begins = ahead[-1].at if ahead else -1
    until = _moments(stretch, begins, at, condition, ready)
    return (*ahead, End(begins, at, until=until, cause=frozenset(dict(cause))))


def _needed_before(stretch: Stretch, at: int, brought_on: Ready) -> int | None:
    """The instant from which on the cause has its effect; None where it always has."""
    if brought_on(stretch.start):
        return None
    after = (k for k in range(at) if brought_on(stretch.instants[k].after))
    return next(after, None)


def _condition(stretch: Stretch, instant: Instant, ready: Ready) -> Condition:
    """What the inputs had to be, apart from those that stop everything.

    An input matters where nothing comes without it. Where something else comes, more than one step was taken.
    """
    changed = dict(instant.changed)
    shunned = stretch.stops | (stretch.starting - changed.keys())
    names = [i.name for i in instant.after.machine.inputs if i.name not in shunned]
    matter = [name for name in names if not _moves(instant, {name: not instant.after.is_actuated(name)}, ready)]
    if not matter:
        matter = [name for name in names if name in changed]
    also = [
        name
        for name in names
        if name not in matter
        and _goes(instant, {name: not instant.before.is_actuated(name)}, ready, held=instant.changed)
    ]
    if len(matter) > _MOST_INPUTS and not also:
        signals = ((Signal(device=name), instant.after.is_actuated(name)) for name in matter)
        return both(*(signal if on else negated(signal) for signal, on in signals))
    matter += also
    if len(matter) > _MOST_INPUTS:
        raise Wordless(f"one step waits for more than {_MOST_INPUTS} devices at once")
    found = plainest(matter, lambda row: _moves(instant, row, ready))
    if found is None or isinstance(found, Always):
        raise Wordless("something changes for no reason that could be found")
    return found


def _goes(instant: Instant, inputs: dict[str, bool], ready: Ready, *, held: tuple[Change, ...] = ()) -> bool:
    """Whether it also comes when some inputs are otherwise and those ``held`` do not change."""
    return ready(_tried(instant, inputs, held))


def _moves(instant: Instant, inputs: dict[str, bool], ready: Ready) -> bool:
    """Whether that, or something else, comes when some inputs are otherwise; what comes may look the same."""
    desk, before = _tried(instant, inputs, ()), instant.before
    if ready(desk):
        return True
    if desk.lit_loads != before.lit_loads:
        # Unless that is the doing of the other inputs alone.
        return desk.lit_loads != _tried(instant, inputs, instant.changed).lit_loads
    back = desk.twin()
    back.act([(name, instant.after.is_actuated(name)) for name in inputs])
    if ready(back):
        return False
    desk.act([(name, before.is_actuated(name)) for name in {*inputs, *dict(instant.changed)}])
    return desk.state != before.state


def _tried(instant: Instant, inputs: dict[str, bool], held: tuple[Change, ...]) -> Desk:
    wanted = {name: on != ((name, on) in held) for name, on in instant.changed} | inputs
    desk = instant.before.twin()
    # A switch that would change by itself is held as it is put, changed or not.
    desk.act([(name, on) for name, on in wanted.items() if name not in desk.free or desk.is_actuated(name) != on])
    return desk


def _moments(stretch: Stretch, begins: int, at: int, condition: Condition, ready: Ready) -> Condition:
    """The condition with "is pressed" for a button that counts only when it is pressed in this very step."""
    instant = stretch.instants[at]
    pressed = [name for name, on in instant.changed if on and name in instant.after.buttons]
    for name in pressed:
        if not _counts_when_held(stretch, begins, at, name, ready):
            condition = with_moment(condition, name)
    return condition


def with_moment(condition: Condition, button: str) -> Condition:
    """The condition with the moment of pressing in the place of a button's being down."""
    match condition:
        case Signal(device=device) if device == button:
            return Rise(device=button)
        case _ if hasattr(condition, "of") and isinstance(condition.of, tuple):
            return condition.model_copy(update={"of": tuple(with_moment(part, button) for part in condition.of)})
        case _:
            return condition


def _counts_when_held(stretch: Stretch, begins: int, at: int, button: str, ready: Ready) -> bool:
    """Whether a button that was down before the step began, and stays down, does as well."""
    first = stretch.entry if begins < 0 else stretch.instants[begins]
    if first is None:
        return False
    desk = first.before.twin()
    lit = desk.lit_loads
    desk.act([(button, True)])
    if desk.lit_loads != lit:
        return False
    desk.again(first.acts, max(first.at_us, desk.now_us + GAP_US))
    for instant in stretch.instants[begins + 1 : at + 1]:
        if instant.acts and all(event.device != button for event in instant.acts):
            desk.again(instant.acts, max(instant.at_us, desk.now_us + GAP_US))
    desk.run(max(stretch.instants[at].at_us, desk.now_us))
    return ready(desk)


# --- a time ----------------------------------------------------------------------------------------------------


def _timed(stretch: Stretch, at: int, ready: Ready) -> tuple[End, ...]:
    instant = stretch.instants[at]
    began = {instant.at_us - instant.before.preset_us(timer): timer for timer in sorted(instant.expired)}
    places = {stretch.start.now_us: -1} | {i.at_us: k for k, i in enumerate(stretch.instants[:at])}
    known = [at_us for at_us in began if at_us in places]
    if not known:
        raise Wordless("a time runs through several steps")
    timer = began[max(known)]
    time_us, begins = instant.before.preset_us(timer), places[max(known)]
    besides, instead = _besides(stretch, at, ready), _instead(stretch, at, ready)
    if begins < 0:
        return (_lasting(-1, at, time_us, besides, instead),)

    def running(desk: Desk) -> bool:
        return desk.clocks().get(timer) == desk.now_us + time_us

    ahead = ends(stretch, begins, running)
    held = _held(stretch, ahead, at, time_us, besides, ready)
    if instead and held[-1].for_us is not None:
        return (*held[:-1], _lasting(held[-1].begins, at, time_us, besides, instead))
    return held


def _lasting(
    begins: int,
    at: int,
    time_us: int,
    besides: Condition,
    instead: tuple[Condition, ...] = (),
    unbroken: bool = False,
) -> End:
    """A time, with what must hold as it runs out, or what does as well."""
    if isinstance(besides, Always) and not instead:
        return End(begins, at, for_us=time_us, unbroken=unbroken)
    return End(begins, at, until=either(both(Elapsed(step="", time_us=time_us), besides), *instead))


def _instead(stretch: Stretch, at: int, ready: Ready) -> tuple[Condition, ...]:
    """The inputs that end a time before it is over. A button does so as it is pressed."""
    instant = stretch.instants[at]
    found: list[Condition] = []
    for device in instant.after.machine.inputs:
        name, on = device.name, not instant.before.is_actuated(device.name)
        desk = instant.before.twin()
        if name in stretch.stops or ready(desk):
            continue
        desk.act([(name, on)])
        if desk.now_us < instant.at_us and ready(desk):
            signal = Signal(device=name)
            pressed = on and name in desk.buttons
            found.append(Rise(device=name) if pressed else signal if on else negated(signal))
    return tuple(found)


def _besides(stretch: Stretch, at: int, ready: Ready) -> Condition:
    """The inputs that must be as they are when a time runs out, or else the end waits for them."""
    instant = stretch.instants[at]
    found: list[Condition] = []
    for device in instant.after.machine.inputs:
        if device.name in stretch.stops | stretch.starting | stretch.home:
            continue
        was = instant.before.is_actuated(device.name)
        desk = instant.before.twin()
        desk.act([(device.name, not was)])
        if desk.lit_loads != instant.before.lit_loads or desk.now_us >= instant.at_us:
            continue
        desk.run(instant.at_us)
        if desk.lit_loads != instant.before.lit_loads or ready(desk):
            continue
        desk.act([(device.name, was)])
        if ready(desk):
            signal = Signal(device=device.name)
            found.append(signal if was else negated(signal))
    return both(*found)


def _held(
    stretch: Stretch, ahead: tuple[End, ...], at: int, time_us: int, besides: Condition, ready: Ready
) -> tuple[End, ...]:
    """A hold after what began it; or, for a sensor that must stay made, a condition that lasts."""
    last = ahead[-1]
    lasting = _lasting(last.at, at, time_us, besides)
    if last.until is None or any(isinstance(part, Rise) for part in walk(last.until)):
        return (*ahead, lasting)
    named = [part.device for part in walk(last.until) if isinstance(part, Signal)]
    began = stretch.instants[last.at]
    if not any(_begins_anew(began, name, time_us, ready) for name in named):
        return (*ahead, lasting)
    if any(name in began.after.free for name in named):
        earlier = _needed_meanwhile(stretch, last.at, at, ready)
        begins = earlier[-1].at if earlier else -1
        return (*earlier, End(begins, at, until=both(Sustained(of=last.until, time_us=time_us), besides)))
    return (*ahead, _lasting(last.at, at, time_us, besides, unbroken=True))


def _needed_meanwhile(stretch: Stretch, began: int, at: int, ready: Ready) -> tuple[End, ...]:
    """What had to come besides a condition that lasts, whose time runs whatever step is active."""
    lit, target = stretch.start.lit_loads, stretch.instants[at].after.lit_loads

    def comes(place: int, desk: Desk) -> bool:
        """Whether it still comes when all that is done later is done."""
        tried = desk.twin()
        for instant in stretch.instants[place + 1 : at]:
            if instant.acts:
                tried.again(instant.acts, max(instant.at_us, tried.now_us + GAP_US))
                # What was only tried at that instant is not held for ever.
                tried.let_go(set(tried.stuck) - {name for name, _ in stretch.instants[place].changed})
        if tried.lit_loads == lit:
            tried.watch(stretch.instants[at].at_us)
        return ready(tried) if target == lit else tried.lit_loads == target

    for place in range(at - 1, -1, -1):
        instant = stretch.instants[place]
        if place == began or not instant.changed:
            continue
        without = instant.before.twin()
        without.act([(name, not on) for name, on in instant.changed if name not in without.free])
        if not comes(place, without):
            return ends(stretch, place, partial(comes, place))
    return ()


def _begins_anew(began: Instant, name: str, time_us: int, ready: Ready) -> bool:
    """Whether letting go half-way, and at once making again, begins the time anew."""
    desk, on = began.after.twin(), began.after.is_actuated(name)
    lit = desk.lit_loads
    desk.run(began.at_us + time_us // 2)
    desk.act([(name, not on)])
    desk.act([(name, on)])
    desk.let_go([name])
    if desk.lit_loads != lit or desk.now_us >= began.at_us + time_us:
        return False
    desk.run(began.at_us + time_us)
    return not ready(desk)
