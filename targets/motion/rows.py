"""Rows of a timing chart: a signal high and low, what holds one after the other, and the clock of a timer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from compiler.simulation.causes import Clock
from targets.drawing.figure import Bent, Circle, Item, Line, Text, text_width
from targets.motion.axis import Axis
from targets.motion.page import Labels, seconds, shortened
from targets.motion.traces import Trace

__all__ = ["Span", "clock_row", "lane_row", "lanes", "signal_row"]


@dataclass(frozen=True, slots=True)
class Span:
    """Something with a name that held from one moment to another."""

    name: str
    from_us: int
    to_us: int


def signal_row(trace: Trace, axis: Axis, high: float, low: float) -> Iterator[Item]:
    """A signal: high while it is on."""
    points: list[tuple[int, float]] = [(0, high if trace.on(0) else low)]
    for at_us, on in trace.edges:
        if 0 < at_us <= axis.end_us:
            points += [(at_us, points[-1][1]), (at_us, high if on else low)]
    points.append((axis.end_us, points[-1][1]))
    yield Bent(tuple((axis.x(at_us), y) for at_us, y in points), "signal")


def lanes(spans: Sequence[Span]) -> list[list[Span]]:
    """Spans dealt into as few lanes as can be, none upon another."""
    dealt: list[list[Span]] = []
    for span in sorted(spans, key=lambda s: (s.from_us, s.to_us)):
        lane = next((lane for lane in dealt if lane[-1].to_us <= span.from_us), None)
        if lane is None:
            dealt.append([span])
        else:
            lane.append(span)
    return dealt


def lane_row(lane: Sequence[Span], axis: Axis, high: float, low: float, labels: Labels) -> Iterator[Item]:
    """What holds one after the other, each between two points and with its name where there is room."""
    middle = (high + low) / 2
    for span in lane:
        x1, x2 = axis.x(span.from_us), axis.x(span.to_us)
        nip = min(4.0, (x2 - x1) / 2)
        yield Bent(
            (
                (x1, middle),
                (x1 + nip, high),
                (x2 - nip, high),
                (x2, middle),
                (x2 - nip, low),
                (x1 + nip, low),
                (x1, middle),
            ),
            "bus",
        )
        name = shortened(span.name, x2 - x1 - 12, kind="small")
        if name != "…":
            labels.put(Text((x1 + x2) / 2, middle + 3.5, name, "small", "middle"))


def clock_row(clocks: Sequence[Clock], axis: Axis, high: float, low: float, labels: Labels) -> Iterator[Item]:
    """The time gone by on a timer: a ramp that reaches the dotted line, marked, as the time is over."""
    ordered = sorted(clocks, key=lambda clock: clock.from_us)
    for one, after in pairwise([None, *ordered]):
        assert after is not None
        yield Line(axis.x(one.to_us if one else 0), low, axis.x(after.from_us), low, "ramp")
    yield Line(axis.x(ordered[-1].to_us), low, axis.right, low, "ramp")
    for clock in ordered:
        gone = (clock.to_us - clock.from_us) / clock.preset_us
        top = low + (high - low) * min(1.0, gone)
        ramp = axis.line([(clock.from_us, low), (clock.to_us, top)])
        x1, x2 = ramp[0][0], ramp[-1][0]
        drops = clock.to_us < axis.end_us or clock.ran_out
        yield Bent((*ramp, (x2, low)) if drops else ramp, "ramp")
        yield Line(x1, high, x2, high, "preset")
        if clock.ran_out:
            yield Circle(x2, top, 2.4, "dot")
            text = seconds(clock.preset_us)
            if text_width(text, size=10) * 2 + 8 <= x2 - x1:
                labels.put(Text(x2 - 5, low - 3, text, "small", "end"))
