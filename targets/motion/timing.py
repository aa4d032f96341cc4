"""The timing chart of a run: signals above the machine they drive, in real time, with what led to what."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from compiler.chart import Chart
from compiler.machine import Machine
from compiler.simulation.causes import Causes, Clock
from compiler.simulation.run import Role, Run, Side
from targets.drawing.figure import Box, Item, Line, Text, text_width
from targets.motion.axis import Axis, axis_of
from targets.motion.band import BAND_HEIGHT, Band, levels, rod_band, switches
from targets.motion.page import MARGIN, TOP, Labels, arrows, page, seconds, shortened, titled
from targets.motion.rows import Span, clock_row, lane_row, lanes, signal_row
from targets.motion.traces import Rod, Trace, rods, traces
from targets.motion.why import Place, leads, said

__all__ = ["timing_chart"]

_NAME_ROOM = 180.0
_ROW, _CLOCK, _GROUP = 26.0, 34.0, 24.0
_HIGH, _LOW = 6.0, 20.0

_Anchor = tuple[float, float, float]  # top, middle, bottom


@dataclass(slots=True)
class _Drawing:
    """A chart as it grows downward."""

    axis: Axis
    y: float = TOP
    labels: Labels = field(default_factory=Labels)
    ground: list[Item] = field(default_factory=list)
    items: list[Item] = field(default_factory=list)
    anchors: dict[Place, _Anchor] = field(default_factory=dict)
    bands: dict[str, Band] = field(default_factory=dict)
    clocks: list[tuple[tuple[Clock, ...], float, float]] = field(default_factory=list)

    def name(self, text: str, middle: float, kind: str = "row") -> None:
        """What a row is called, to its left."""
        said = shortened(text, _NAME_ROOM, kind=kind)
        self.labels.put(Text(self.axis.left - 16, middle + 4, said, kind, "end"))

    def group(self, title: str) -> None:
        """A heading over rows that belong together."""
        self.labels.put(Text(MARGIN, self.y + 16, shortened(title, self.axis.left + 200, kind="group"), "group"))
        self.y += _GROUP

    def signal(self, trace: Trace, name: str = "") -> None:
        high, low = self.y + _HIGH, self.y + _LOW
        self.name(name or trace.name, (high + low) / 2)
        self.items += signal_row(trace, self.axis, high, low)
        self.anchors[Place(trace.name, trace.side, trace.role)] = (high, (high + low) / 2, low)
        self.y += _ROW

    def lane(self, name: str, lane: Sequence[Span], side: Side) -> None:
        high, low = self.y + _HIGH - 1, self.y + _LOW + 1
        self.name(name, (high + low) / 2)
        self.items += lane_row(lane, self.axis, high, low, self.labels)
        for span in lane:
            self.anchors.setdefault(Place(span.name, side, Role.INSIDE), (high, (high + low) / 2, low))
        self.y += _ROW

    def clock(self, clocks: Sequence[Clock]) -> None:
        high, low = self.y + 6, self.y + 28
        first = clocks[0]
        shared = Place(first.timer, first.side, Role.INSIDE) in self.anchors
        self.name(f"{first.timer} elapsed" if shared else first.timer, (high + low) / 2)
        self.items += clock_row(clocks, self.axis, high, low, self.labels)
        self.clocks.append((tuple(clocks), high, low))
        self.y += _CLOCK

    def clock_at(self, place: Place, at_us: int) -> _Anchor | None:
        """Where the clock of a timer begins to run, or has run out, at a moment."""
        for clocks, high, low in self.clocks:
            for clock in clocks:
                if (clock.timer, clock.side) == (place.name, place.side):
                    if clock.ran_out and clock.to_us == at_us:
                        return high, high, high
                    if clock.from_us == at_us:
                        return low, low, low
        return None

    def rod(self, rod: Rod, signals: Sequence[Trace]) -> None:
        band = Band(rod, self.y)
        out, home = band.y(rod.actuator.stroke_um), band.y(0)
        self.name(rod.name, (out + home) / 2)
        self.ground += levels(band, self.axis.left, self.axis.right, self.labels)
        self.items += rod_band(band, self.axis, signals, self.labels)
        self.bands[rod.name] = band
        self.y += BAND_HEIGHT


def timing_chart(
    run: Run,
    machine: Machine,
    *,
    why: Causes | None = None,
    chart: Chart | None = None,
    only: Collection[str] = (),
) -> str:
    """The SVG of a run. ``why`` (``compiler.simulation.causes``) gives it the clocks of timers and true causes; with
    ``chart`` its steps share rows even where several are active at a time. ``only`` names the signals and actuators
    that are wanted, all of them where it is empty. Where two logics ran, what differs is shaded."""
    signals = tuple(t for t in traces(run) if not only or t.name in only)
    moving = tuple(rod for rod in rods(run, machine) if not only or rod.name in only)
    steps = frozenset() if chart is None else frozenset(step.name for step in chart.steps)
    drawing = _Drawing(axis_of(run, _left(signals, moving, why, steps)))
    _outside(drawing, run, signals, moving)
    for side, name in ((Side.DRIVER, run.driver), (Side.SHADOW, run.shadow)):
        if name:
            _logic(drawing, side, name, signals, why, steps)
    if moving:
        drawing.group("the machine")
    for rod in moving:
        drawing.rod(rod, signals)
        for trace in switches(rod, signals):
            drawing.signal(trace)
    grid = list(drawing.axis.grid(TOP, drawing.y + 6))
    differing = list(_differing(drawing, run, signals))
    between = list(_arrows(drawing, run, moving, signals, why))
    gap = drawing.axis.gap(TOP, drawing.y + 4)
    layers = (grid, drawing.ground, differing, drawing.items, between, gap, drawing.labels.texts)
    width = drawing.axis.right + MARGIN
    return page(titled(run, "timing chart"), layers, width=width, height=drawing.y + 26, notes=_notes(run, why))


def _left(signals: Sequence[Trace], moving: Sequence[Rod], why: Causes | None, steps: Collection[str]) -> float:
    """Where the axis begins: right of the longest name."""
    names = [_called(t) for t in signals if t.name not in steps] + [rod.name for rod in moving]
    names += [] if why is None else [f"{clock.timer} elapsed" for clock in why.clocks if clock.ran_out]
    return MARGIN + 24 + min(_NAME_ROOM, max((text_width(name) for name in names), default=60.0) + 8)


def _outside(drawing: _Drawing, run: Run, signals: Sequence[Trace], moving: Sequence[Rod]) -> None:
    """What is done from outside, but for switches, which stand below their rods."""
    own = {t.name for rod in moving for t in switches(rod, signals)}
    always = {t.name for t in signals if t.role is Role.SUPPLY and t.edges == ((0, True),)}
    outside = [
        t for t in signals if t.side is Side.WORLD and t.name not in (always if t.role is Role.SUPPLY else own)
    ]
    if outside:
        drawing.group("from outside")
    for trace in outside:
        drawing.signal(trace, _called(trace))


def _called(trace: Trace) -> str:
    return {Role.JAM: f"{trace.name} jammed", Role.STUCK: f"{trace.name} stuck"}.get(trace.role, trace.name)


def _logic(
    drawing: _Drawing,
    side: Side,
    name: str,
    signals: Sequence[Trace],
    why: Causes | None,
    steps: Collection[str],
) -> None:
    """What is on inside a logic, its timers, and its outputs; of two logics both show the same outputs."""
    drawing.group(name)
    inside = [t for t in signals if t.side is side and t.role is Role.INSIDE]
    shared, single = _laned(inside, drawing.axis.end_us, steps)
    for title, spans in shared.items():
        for lane in lanes(spans):
            drawing.lane(title, lane, side)
    for trace in single:
        drawing.signal(trace)
    timed: dict[tuple[str, int], list[Clock]] = {}
    for clock in () if why is None else why.clocks:
        if clock.side is side:
            timed.setdefault((clock.timer, clock.preset_us), []).append(clock)
    for clocks in timed.values():
        if any(clock.ran_out for clock in clocks):
            drawing.clock(clocks)
    outputs = {t.name: t for t in signals if t.role is Role.OUTPUT}
    for trace in outputs.values():
        own = [t for t in signals if t.role is Role.OUTPUT and t.side is side and t.name == trace.name]
        drawing.signal(own[0] if own else replace(trace, side=side, edges=()))


def _laned(inside: Sequence[Trace], end_us: int, steps: Collection[str]) -> tuple[dict[str, list[Span]], list[Trace]]:
    """What shares rows, by the name of the row, and what has a row of its own. Steps share, and so do signals of
    which never two are on, and the values of a number ("count = 2")."""
    shared: dict[str, list[Span]] = {}
    rest = []
    for trace in inside:
        name, _, value = trace.name.partition(" = ")
        if value:
            shared.setdefault(name, []).extend(Span(value, *span) for span in trace.spans(end_us))
        else:
            rest.append(trace)
    spans = [Span(t.name, *span) for t in rest for span in t.spans(end_us)]
    known = bool(rest) and all(t.name in steps for t in rest)
    if known or (len(rest) > 1 and len(lanes(spans)) == 1):
        return {"step": spans} | shared, []
    return shared, rest


def _arrows(
    drawing: _Drawing, run: Run, moving: Sequence[Rod], signals: Sequence[Trace], why: Causes | None
) -> Iterator[Item]:
    """From each change to what it brought about, straight up or down."""
    found: dict[tuple[int, Place], list[Place]] = {}
    for lead in leads(run, moving, signals, why):
        found.setdefault((lead.at_us, lead.of), []).append(lead.to)
    where = {rod.name: rod for rod in moving}

    def anchor(place: Place, at_us: int) -> _Anchor | None:
        if place.rod:
            band = drawing.bands.get(place.name)
            y = 0.0 if band is None else band.y(where[place.name].at(at_us))
            return None if band is None else (y - 2, y, y + 2)
        return drawing.clock_at(place, at_us) if place.clock else drawing.anchors.get(place)

    for (at_us, of), effects in found.items():
        start = anchor(of, at_us)
        ends = [end for to in effects if (end := anchor(to, at_us)) is not None]
        if start is not None and ends and at_us <= drawing.axis.end_us:
            yield from arrows(drawing.axis.x(at_us), [start[1]], ends)


def _differing(drawing: _Drawing, run: Run, signals: Sequence[Trace]) -> Iterator[Item]:
    """Where an output is on in one logic and off in the other, in both its rows; and a line at the first."""
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
                    high, _, low = drawing.anchors[Place(name, side, Role.OUTPUT)]
                    yield from _shade(axis.x(from_us), high - 4, axis.x(to_us), low + 4)
    x = axis.x(run.difference.at_us)
    yield Line(x, TOP - 4, x, drawing.y, "first")
    what = run.difference.output or "settling"
    anchor = "start" if x + text_width(what, size=10) + 70 < axis.right else "end"
    drawing.labels.put(Text(x + (4 if anchor == "start" else -4), TOP + 4, f"differs: {what}", "small", anchor))


def _shade(x1: float, top: float, x2: float, bottom: float) -> Iterator[Item]:
    yield Box(x1, top, x2 - x1, bottom - top, "differs")
    x = x1 + 6
    while x < x2:
        rise = min(6.0, x - x1)
        yield Line(x, top, x - rise, bottom, "hatch")
        x += 8


def _notes(run: Run, why: Causes | None) -> list[str]:
    notes = [said(why), "On a rod a solid mark is where a switch makes, an open one where it lets go."]
    quiet = [c for c in why.clocks if not c.ran_out] if why is not None else []
    ran = {c.timer for c in why.clocks if c.ran_out} if why is not None else set()
    names = dict.fromkeys(f"{c.timer} ({seconds(c.preset_us)})" for c in quiet if c.timer not in ran)
    if names:
        notes.append(f"Times that never ran out have no row: {', '.join(names)}.")
    return notes
