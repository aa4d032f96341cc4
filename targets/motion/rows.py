"""Rows of a timing chart: a signal high and low, what holds one after the other, and the clock of a timer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from compiler.simulation.lanes import Span
from compiler.simulation.run import Clock
from compiler.simulation.traces import Trace
from targets.drawing.figure import Bent, Circle, Item, Line, Text, text_width
from targets.motion.axis import Axis
from targets.motion.page import Labels, between, seconds, shortened

__all__ = ["clock_row", "lane_row", "signal_row"]


def signal_row(trace: Trace, axis: Axis, high: float, low: float) -> Iterator[Item]:
    """A signal: high while it is on."""
    points: list[tuple[int, float]] = [(0, high if trace.on(0) else low)]
    for at_us, on in trace.edges:
        if 0 < at_us <= axis.end_us:
            points += [(at_us, points[-1][1]), (at_us, high if on else low)]
    points.append((axis.end_us, points[-1][1]))
    yield Bent(tuple((axis.x(at_us), y) for at_us, y in points), "signal")


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
        name = shortened(span.shown, x2 - x1 - 12, kind="small")
        if name != "…":
            labels.put(*between(x1 + 6, x2 - 6, middle + 3.5, name))


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
            inside = [Text(x2 - 5, low - 3, text, "small", "end")]
            beside = [Text(x2 + 5, (high + low) / 2 + 3.5, text, "small")]
            labels.put(*(inside if text_width(text, size=10) * 2 + 8 <= x2 - x1 else ()), *beside)
