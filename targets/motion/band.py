"""The band of one actuator: its rod as a thick line between home (0) and end (1), its switches, its times."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from compiler.simulation.run import Role
from compiler.simulation.traces import Rod, Trace
from targets.drawing.figure import Bent, Box, Circle, Item, Line, Text, text_width
from targets.motion.axis import Axis
from targets.motion.page import MARGIN, SIZES, Labels, between, seconds

__all__ = ["BAND_HEIGHT", "Band", "levels", "passed", "rod_band", "switches"]

_HEAD, _BODY, _FOOT = 16.0, 44.0, 32.0
BAND_HEIGHT = _HEAD + _BODY + _FOOT
_TELLABLE = 8.0  # a stroke narrower than this is hardly seen, and its time not written


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


def passed(switch: Trace, signals: Sequence[Trace]) -> tuple[tuple[int, bool], ...]:
    """The moments at which a switch made or let go because its rod passed it, after the start: not those at which it
    got stuck, let go by itself or worked again."""
    itself = {at for t in signals if (t.role, t.name) == (Role.STUCK, switch.name) for at, _ in t.edges}
    return tuple((at_us, on) for at_us, on in switch.edges if at_us > 0 and at_us not in itself)


def levels(band: Band, left: float, right: float, labels: Labels) -> Iterator[Item]:
    """The ground of a band, its two levels and what they are called."""
    out, home = band.y(band.rod.actuator.stroke_um), band.y(0)
    yield Box(left, out, right - left, home - out, "band")
    for y, level in ((out, "1"), (home, "0")):
        yield Line(left, y, right, y, "grid")
        labels.put(Text(left - 5, y + 3.5, level, "tick", "end"))


def rod_band(
    band: Band, axis: Axis, signals: Sequence[Trace], labels: Labels, *, clear: bool = False
) -> Iterator[Item]:
    """A rod in real time: its line, a mark where a switch of it makes (solid) or lets go (open), and how long each of
    its strokes and stands took, where there is room to write it. ``clear``: a switch is not named where its name
    would lie upon a line."""
    rod = band.rod
    yield Bent(axis.line([(at, band.y(um)) for at, um in rod.points]), "rod")
    own = switches(rod, signals)
    marks = [(at_us, trace.name, on) for trace in own for at_us, on in passed(trace, signals)]
    # Those that make are drawn last, so that none is hidden by one that lets go.
    for at_us, name, on in sorted(marks, key=lambda mark: (mark[2], mark[0])):
        x, y = axis.x(at_us), band.y(rod.at(at_us))
        yield Circle(x, y, 3.2, "made" if on else "mark")
        if on:
            high = y < band.y(rod.actuator.stroke_um / 2)
            labels.put(*_beside(x, y, name, axis.right + MARGIN - 4, high=high), clear=clear)
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
    points = rod.points[moved[0] : moved[-1] + 2]
    corners = [at_us for k, (at_us, _) in enumerate(points) if not _slight(points[max(0, k - 1) : k + 2], axis)]
    if moved[-1] + 2 == len(rod.points):  # still on its way as the run ends: how long that stroke takes is not seen
        del corners[-1]
    for at_us in corners if len(corners) > 1 else ():
        yield Line(axis.x(at_us), y - 5, axis.x(at_us), y + 5, "dimension")
    for k, (from_us, to_us) in enumerate(pairwise(corners)):
        x1, x2, text = axis.x(from_us), axis.x(to_us), seconds(to_us - from_us)
        width = text_width(text, size=SIZES["small"])
        if x2 - x1 < _TELLABLE:
            continue
        if width + 6 > x2 - x1:  # no room between: beside, where no other time is written
            before = [Text(x1 - 5, y + 3.5, text, "small", "end")] if k == 0 else []
            after = [Text(x2 + 5, y + 3.5, text, "small")] if k == len(corners) - 2 else []
            labels.put(*before, *after)
            continue
        said = labels.put(*between(x1 + 3, x2 - 3, y + 3.5, text))
        if said is not None and width + 30 <= x2 - x1:
            yield from _pointing(x1, x2, y, said.x - width / 2 - 4, said.x + width / 2 + 4)


def _slight(around: Sequence[tuple[int, int]], axis: Axis) -> bool:
    """Whether a rod goes on the same way at the middle one of three points, and one of the parts is hardly seen."""
    if len(around) < 3:
        return False
    (a, low), (b, here), (c, high) = around
    return (here - low) * (high - here) > 0 and min(axis.x(b) - axis.x(a), axis.x(c) - axis.x(b)) < _TELLABLE


def _pointing(x1: float, x2: float, y: float, left: float, right: float) -> Iterator[Item]:
    """The line of a dimension, broken for its label, with an arrow head at either end."""
    for tip, inner, way in ((x1, left, 1), (x2, right, -1)):
        if (inner - tip) * way >= 8:  # otherwise the label stands there
            yield Line(tip, y, inner, y, "dimension")
            yield Bent(((tip, y), (tip + 6 * way, y - 2.4), (tip + 6 * way, y + 2.4)), "dimension", solid=True)
