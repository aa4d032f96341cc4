"""The time axis of a chart: where a moment stands, round seconds below, and the mark of a time cut short."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from compiler.simulation.run import Run
from compiler.simulation.waveform import Scale, round_step, scale_of, ticks
from targets.drawing.figure import Bent, Box, Item, Line, Text, text_width
from targets.motion.page import SIZES, seconds

__all__ = ["Axis", "axis_of"]

_LEAST, _MOST = 640, 900
_ROUND = 8.0  # what a stroke needs besides its time, for it to be written
_TICKS_APART = 64.0


@dataclass(frozen=True, slots=True)
class Axis:
    """Time from ``left`` to ``right``."""

    left: float
    scale: Scale
    end_us: int

    @property
    def right(self) -> float:
        """Where the axis ends, in pixels as ``left``."""
        return self.left + self.scale.columns

    def x(self, at_us: int) -> float:
        """Where a moment stands."""
        return self.left + self.scale.place(at_us)

    def line(self, points: Sequence[tuple[int, float]]) -> tuple[tuple[float, float], ...]:
        """Points in time as points on the page, with those between them where the scale changes."""
        found: list[tuple[float, float]] = []
        for k, (at_us, y) in enumerate(points):
            if k:
                from_us, before = points[k - 1]
                found += [
                    (self.left + place, before + (y - before) * (knot - from_us) / (at_us - from_us))
                    for knot, place in self.scale.knots
                    if from_us < knot < at_us
                ]
            found.append((self.x(at_us), y))
        return tuple(found)

    def grid(self, top: float, bottom: float) -> Iterator[Item]:
        """A thin line at every round time, the axis below them and the seconds below that."""
        free = 0.0
        for at_us in self._ticks():
            x = self.x(at_us)
            yield Line(x, top, x, bottom, "grid")
            text = f"{round(at_us / 1_000_000, 3):.10g}"
            if x - text_width(text, size=10) / 2 >= free and x + text_width(text, size=10) / 2 < self.right - 12:
                yield Text(x, bottom + 14, text, "tick", "middle")
                free = x + text_width(text, size=10) / 2 + 6
        yield Line(self.left, bottom, self.right, bottom, "axis")
        yield Text(self.right, bottom + 14, "s", "tick", "end")

    def gap(self, top: float, bottom: float) -> Iterator[Item]:
        """The mark of a time left out: the paper torn across."""
        if self.scale.cut is None:
            return
        x = self.x(self.scale.cut[0])
        yield Box(x - 3, top - 2, 6, bottom - top + 4, "gap")
        for side in (-3, 3):
            count = max(2, int((bottom - top + 4) / 9))
            step = (bottom - top + 4) / count
            yield Bent(
                tuple((x + side + (1.6 if k % 2 else -1.6), top - 2 + k * step) for k in range(count + 1)), "tear"
            )

    def _ticks(self) -> list[int]:
        (a, left), (b, right) = self.scale.knots[:2]
        return ticks(self.end_us, round_step((b - a) / (right - left) * _TICKS_APART), self.scale)


def axis_of(run: Run, left: float) -> Axis:
    """An axis so long that every stroke has room for its time, within reason."""
    scale = scale_of(run, _LEAST)
    strokes = [
        (text_width(seconds(b.at_us - a.at_us), size=SIZES["small"]) + _ROUND)
        / (scale.place(b.at_us) - scale.place(a.at_us))
        for name in {m.actuator for m in run.moves}
        for a, b in pairwise([m for m in run.moves if m.actuator == name])
        if b.at_us > a.at_us
    ]
    wide = min(_MOST, max(_LEAST, math.ceil(_LEAST * max(strokes, default=1.0))))
    return Axis(left, scale_of(run, wide), max(1, run.ended_us))
