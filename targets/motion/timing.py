"""The timing chart of a run: signals above the machine they drive, in real time, with what led to what."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from compiler.chart import Chart
from compiler.machine import Machine
from compiler.simulation.causes import Causes
from compiler.simulation.lanes import Span, shared_rows
from compiler.simulation.rest import until_rest
from compiler.simulation.run import Clock, Role, Run, Side
from compiler.simulation.traces import Rod, Trace, rods, traces
from targets.drawing.figure import Box, Item, Line, Text, text_width
from targets.motion.arrows import Anchor, Flight, flown
from targets.motion.axis import Axis, axis_of
from targets.motion.band import switches
from targets.motion.laid import NAME_ROOM, Laid, elapsed
from targets.motion.page import MARGIN, SIZES, TOP, Labels, Moments, lines_of, page, seconds, titled
from targets.motion.turning import Turning, TurningBand, turnings
from targets.motion.why import Place, leads, said

__all__ = ["timing_chart"]


@dataclass(frozen=True, slots=True)
class _Content:
    """What is drawn of a run; ``steady`` is on throughout and ``standing`` never moves, so both are only named."""

    run: Run
    signals: tuple[Trace, ...]
    moving: tuple[Rod, ...]
    motors: tuple[Turning, ...]
    why: Causes | None
    chart: Chart | None
    steady: tuple[str, ...]
    standing: tuple[str, ...]


def timing_chart(
    run: Run,
    machine: Machine,
    *,
    why: Causes | None = None,
    chart: Chart | None = None,
    only: Collection[str] = (),
    prefix: str = "",
    note: str = "",
    told: Collection[int] = (),
) -> str:
    """The SVG of a run, until everything has come to rest. ``why`` (``compiler.simulation.causes``) gives it the
    clocks of timers and true causes; with ``chart`` its steps share rows, those of each station for itself. ``only``
    names the signals, actuators and motors that are wanted; where it is empty all that change are drawn and the rest
    is named. Where two logics ran, what differs is shaded. Every moment has an anchor (``targets.anchors``), with
    ``prefix`` before it, those ``told`` (in microseconds) too at which nothing changed. ``note`` is said first below
    it."""
    told = [at_us for at_us in told if at_us <= run.ended_us]
    run = until_rest(run, told=told)
    content = _content(run, machine, why, chart, only)
    axis = axis_of(run, _left(content))
    # Laid out twice: labels keep clear of the arrows, and where the arrows run is known once all rows have a place.
    draft = _laid(axis, content, Labels())
    gap = list(axis.gap(TOP, draft.y + 4))
    first = list(_first(draft, run))
    thin = lines_of([*_arrows(draft, content), *draft.items], "cause", "rod")
    drawing = _laid(axis, content, Labels(thin, lines_of([*gap, *first], "tear", "first")))
    _name_difference(drawing, run)
    layers = (
        list(axis.grid(TOP, drawing.y + 6)),
        drawing.ground,
        [*_differing(drawing, run, content.signals), *first],
        drawing.items,
        list(_arrows(drawing, content)),
        gap,
        drawing.labels.texts,
    )
    moments = {at: axis.x(at) for at in {0, *told, *(c.at_us for c in run.changes), *(m.at_us for m in run.moves)}}
    return page(
        titled(run, "timing chart"),
        layers,
        width=axis.right + MARGIN,
        height=drawing.y + 26,
        notes=[*([note] if note else []), *_notes(content)],
        moments=Moments(moments, TOP, drawing.y + 6, prefix),
    )


def _content(run: Run, machine: Machine, why: Causes | None, chart: Chart | None, only: Collection[str]) -> _Content:
    signals, moving = traces(run), rods(run, machine)
    motors = tuple(m for m in turnings(run, machine) if m.both)
    if only:
        signals = tuple(t for t in signals if t.name.partition(" = ")[0] in only)
        moving = tuple(rod for rod in moving if rod.name in only)
        motors = tuple(m for m in motors if m.name in only)
        return _Content(run, signals, moving, motors, why, chart, (), ())
    steps = () if chart is None else [step.name for step in chart.steps]
    steady = tuple(t for t in signals if t.edges == ((0, True),) and _goes_without_row(t) and t.name not in steps)
    standing = tuple(rod for rod in moving if len({um for _, um in rod.points}) == 1)
    return _Content(
        run,
        tuple(t for t in signals if t not in steady and not _left_out(t, standing)),
        tuple(rod for rod in moving if rod not in standing),
        motors,
        why,
        chart,
        tuple(dict.fromkeys(_called(t) for t in steady if t.role is not Role.SUPPLY)),
        tuple(rod.name for rod in standing),
    )


def _laid(axis: Axis, content: _Content, labels: Labels) -> Laid:
    """Every row in its place, with labels among those there are."""
    drawing = Laid(axis, labels=labels)
    _outside(drawing, content.signals, content.moving)
    for side, name in ((Side.DRIVER, content.run.driver), (Side.SHADOW, content.run.shadow)):
        if name:
            _logic(drawing, side, name, content)
    if content.moving or content.motors:
        drawing.group("the machine")
    for motor in content.motors:
        drawing.motor(motor)
    for rod in content.moving:
        drawing.rod(rod, content.signals)
        for trace in switches(rod, content.signals):
            drawing.signal(trace)
    return drawing


def _left(content: _Content) -> float:
    """Where the axis begins: right of the longest name."""
    shared = [title for side in Side for title, _ in _shared(content, side)[0]]
    single = {t.name for side in Side for t in _shared(content, side)[1]}
    names = [_called(t) for t in content.signals if t.role is not Role.INSIDE or t.name in single]
    names += [*shared, *(rod.name for rod in content.moving)]
    if content.why is not None:
        names += [elapsed(clock.timer) for clock in content.why.clocks if clock.ran_out]
    widths = [text_width(name) for name in names]
    widths += [text_width(motor.name) + TurningBand(motor, 0).beyond - 16 for motor in content.motors]
    # The names of the logics stand over rows that arrows lead to.
    widths += [text_width(name, size=SIZES["group"]) - 16 for name in (content.run.driver, content.run.shadow)]
    return MARGIN + 24 + min(NAME_ROOM, max(widths, default=60.0) + 8)


def _shared(content: _Content, side: Side) -> tuple[list[tuple[str, list[Span]]], list[Trace]]:
    inside = [t for t in content.signals if t.side is side and t.role is Role.INSIDE]
    return shared_rows(inside, max(1, content.run.ended_us), content.chart)


def _outside(drawing: Laid, signals: Sequence[Trace], moving: Sequence[Rod]) -> None:
    """What is done from outside, but for switches, which stand below their rods."""
    own = {t.name for rod in moving for t in switches(rod, signals)}
    always = {t.name for t in signals if t.role is Role.SUPPLY and t.edges == ((0, True),)}
    outside = [
        t
        for t in signals
        if t.side is Side.WORLD and t.name not in {Role.SUPPLY: always, Role.INPUT: own}.get(t.role, ())
    ]
    if outside:
        drawing.group("from outside")
    for trace in outside:
        drawing.signal(trace, _called(trace))


def _left_out(trace: Trace, standing: Sequence[Rod]) -> bool:
    """Whether it is a switch that never changes, of a rod that never moves."""
    return len(trace.edges) == 1 and any(trace in switches(rod, [trace]) for rod in standing)


def _goes_without_row(trace: Trace) -> bool:
    """Whether it may be named in place of a row if it never changes: no output, and no value of a number."""
    return trace.role is not Role.OUTPUT and " = " not in trace.name


def _called(trace: Trace) -> str:
    return {Role.JAM: f"{trace.name} jammed", Role.STUCK: f"{trace.name} stuck"}.get(trace.role, trace.name)


def _logic(drawing: Laid, side: Side, name: str, content: _Content) -> None:
    """What is on inside a logic, its timers, and its outputs; of two logics both show the same outputs."""
    drawing.group(name)
    shared, single = _shared(content, side)
    for title, lane in shared:
        drawing.lane(title, lane, side)
    for trace in single:
        drawing.signal(trace)
    timed: dict[tuple[str, int], list[Clock]] = {}
    for clock in () if content.why is None else content.why.clocks:
        if clock.side is side and clock.from_us < drawing.axis.end_us:
            seen = clock.model_copy(update={"to_us": min(clock.to_us, drawing.axis.end_us)})
            timed.setdefault((clock.timer, clock.preset_us), []).append(seen)
    for clocks in timed.values():
        if any(clock.ran_out for clock in clocks):
            drawing.clock(clocks)
    outputs = {t.name: t for t in content.signals if t.role is Role.OUTPUT}
    for trace in outputs.values():
        own = [t for t in content.signals if t.role is Role.OUTPUT and t.side is side and t.name == trace.name]
        drawing.signal(own[0] if own else replace(trace, side=side, edges=()))


def _arrows(drawing: Laid, content: _Content) -> Iterator[Item]:
    """From each change to what it brought about, up or down."""
    found: dict[tuple[int, Place], list[Place]] = {}
    for lead in leads(content.run, content.moving, content.signals, content.why):
        found.setdefault((lead.at_us, lead.of), []).append(lead.to)
    where = {rod.name: rod for rod in content.moving}

    def anchor(place: Place, at_us: int) -> Anchor | None:
        if place.rod:
            band = drawing.bands.get(place.name)
            y = 0.0 if band is None else band.y(where[place.name].at(at_us))
            return None if band is None else Anchor(y - 2, y, y + 2)
        return drawing.clock_at(place, at_us) if place.clock else drawing.anchors.get(place)

    flights = []
    for (at_us, of), effects in found.items():
        start = anchor(of, at_us)
        ends = [end for to in effects if (end := anchor(to, at_us)) is not None]
        if start is not None and ends and at_us <= drawing.axis.end_us:
            flights.append(Flight(drawing.axis.x(at_us), start.middle, tuple(ends), upright=of.rod))
    yield from flown(flights, drawing.axis.right, _first(drawing, content.run))


def _differing(drawing: Laid, run: Run, signals: Sequence[Trace]) -> Iterator[Item]:
    """Where an output is on in one logic and off in the other, in both its rows."""
    if run.difference is None:
        return
    outputs = dict.fromkeys(t.name for t in signals if t.role is Role.OUTPUT)
    axis = drawing.axis
    for name in outputs:
        both = [next((t for t in signals if (t.side, t.role, t.name) == (side, Role.OUTPUT, name)), None)
                for side in (Side.DRIVER, Side.SHADOW)]  # fmt: skip
        moments = sorted({0, axis.end_us, *(at for t in both if t for at, _ in t.edges)})
        for from_us, to_us in pairwise(moments):
            if len({t is not None and t.on(from_us) for t in both}) == 2:
                for side in (Side.DRIVER, Side.SHADOW):
                    row = drawing.anchors[Place(name, side, Role.OUTPUT)]
                    yield from _shade(axis.x(from_us), row.top - 4, axis.x(to_us), row.bottom + 4)


def _first(drawing: Laid, run: Run) -> Iterator[Line]:
    """An upright line where two logics begin to differ."""
    if run.difference is not None:
        x = drawing.axis.x(run.difference.at_us)
        yield Line(x, TOP - 4, x, drawing.y, "first")


def _name_difference(drawing: Laid, run: Run) -> None:
    """What differs first, at the top of that line."""
    if run.difference is None:
        return
    x, said = drawing.axis.x(run.difference.at_us), f"differs: {run.difference.output or 'settling'}"
    right, left = Text(x + 4, TOP + 4, said, "small"), Text(x - 4, TOP + 4, said, "small", "end")
    fits = x + 4 + text_width(said, size=SIZES["small"]) <= drawing.axis.right + MARGIN - 4
    drawing.labels.put(*((right, left) if fits else (left,)))


def _shade(x1: float, top: float, x2: float, bottom: float) -> Iterator[Item]:
    yield Box(x1, top, x2 - x1, bottom - top, "differs")
    x = x1 + 6
    while x < x2:
        rise = min(6.0, x - x1)
        yield Line(x, top, x - rise, bottom, "hatch")
        x += 8


def _notes(content: _Content) -> list[str]:
    why = content.why
    notes = [said(why), "On a rod a solid mark is where a switch makes, an open one where it lets go."]
    if content.steady:
        notes.append(f"On throughout: {', '.join(content.steady)}.")
    if content.standing:
        notes.append(f"At rest throughout: {', '.join(content.standing)}.")
    quiet = [c for c in why.clocks if not c.ran_out] if why is not None else []
    ran = {c.timer for c in why.clocks if c.ran_out} if why is not None else set()
    names = dict.fromkeys(f"{c.timer} ({seconds(c.preset_us)})" for c in quiet if c.timer not in ran)
    if names:
        notes.append(f"Times that never ran out have no row: {', '.join(names)}.")
    return notes
