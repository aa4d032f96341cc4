"""The band of one actuator: its rod as a thick line between home (0) and end (1), its switches, its times."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from compiler.simulation.run import Role
from targets.drawing.figure import Bent, Box, Circle, Item, Line, Text, text_width
from targets.motion.axis import Axis
from targets.motion.page import Labels, between, seconds
from targets.motion.traces import Rod, Trace

__all__ = ["BAND_HEIGHT", "Band", "levels", "rod_band", "switches"]

_HEAD, _BODY, _FOOT = 16.0, 44.0, 32.0
BAND_HEIGHT = _HEAD + _BODY + _FOOT


@dataclass(frozen=True, slots=True)
class Band:
    """Where a band is, and how high in it a distance from home (in micrometres) stands."""

    rod: Rod
    top: float

    def y(self, um: float) -> float:
        return self.top + _HEAD + _BODY * (1 - um / self.rod.actuator.stroke_um)


def switches(rod: Rod, signals: Sequence[Trace]) -> tuple[Trace, ...]:
    """The switches of an actuator that changed in a run."""
    actuator = rod.actuator
    names = {s.name for s in (*actuator.limit_switches, *actuator.pressure_switches)}
    return tuple(t for t in signals if t.role is Role.INPUT and t.name in names)


def levels(band: Band, left: float, right: float, labels: Labels) -> Iterator[Item]:
    """The ground of a band, its two levels and what they are called."""
    out, home = band.y(band.rod.actuator.stroke_um), band.y(0)
    yield Box(left, out, right - left, home - out, "band")
    for y, level in ((out, "1"), (home, "0")):
        yield Line(left, y, right, y, "grid")
        labels.put(Text(left - 5, y + 3.5, level, "tick", "end"))


def rod_band(band: Band, axis: Axis, signals: Sequence[Trace], labels: Labels) -> Iterator[Item]:
    """A rod in real time: its line, a mark where a switch of it makes (solid) or lets go (open), and how long each of
    its strokes and stands took, where there is room to write it."""
    rod = band.rod
    yield Bent(axis.line([(at, band.y(um)) for at, um in rod.points]), "rod")
    own = switches(rod, signals)
    marks = [(at_us, trace.name, on) for trace in own for at_us, on in trace.edges if at_us > 0]
    # Those that make are drawn last, so that none is hidden by one that lets go.
    for at_us, name, on in sorted(marks, key=lambda mark: (mark[2], mark[0])):
        x, y = axis.x(at_us), band.y(rod.at(at_us))
        yield Circle(x, y, 3.2, "made" if on else "mark")
        if on:
            labels.put(*_beside(x, y, name, axis.right, high=y < band.y(rod.actuator.stroke_um / 2)))
    yield from _dimensions(rod, axis, band.y(0) + 23, labels)


def _beside(x: float, y: float, name: str, right: float, *, high: bool) -> Iterator[Text]:
    """Above and below a mark, to its right and left: away from the rod first, which is below a high mark and above a
    low one; but not past the edge."""
    above, below = y - 6, y + 13
    for at in (above, below) if high else (below, above):
        if x + text_width(name, size=10) + 5 <= right:
            yield Text(x + 5, at, name, "small")
        yield Text(x - 5, at, name, "small", "end")


def _dimensions(rod: Rod, axis: Axis, y: float, labels: Labels) -> Iterator[Item]:
    """Dimension lines from where the rod first sets out to where it last stops."""
    moved = [k for k, (a, b) in enumerate(pairwise(rod.points)) if a[1] != b[1]]
    if not moved:
        return
    corners = [at_us for at_us, _ in rod.points[moved[0] : moved[-1] + 2]]
    for at_us in corners:
        yield Line(axis.x(at_us), y - 5, axis.x(at_us), y + 5, "dimension")
    for from_us, to_us in pairwise(corners):
        x1, x2, text = axis.x(from_us), axis.x(to_us), seconds(to_us - from_us)
        if text_width(text, size=10) + 8 <= x2 - x1:
            said = labels.put(*between(x1 + 4, x2 - 4, y + 3.5, text))
            if said is not None and text_width(text, size=10) + 30 <= x2 - x1:
                half = text_width(text, size=10) / 2 + 4
                for tip, inner, way in ((x1, said.x - half, 1), (x2, said.x + half, -1)):
                    if (inner - tip) * way < 8:
                        continue  # the label stands there
                    yield Line(tip, y, inner, y, "dimension")
                    head = ((tip, y), (tip + 6 * way, y - 2.4), (tip + 6 * way, y + 2.4))
                    yield Bent(head, "dimension", solid=True)
