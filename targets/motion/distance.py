"""The displacement-time chart of a run: one band an actuator, in real time."""

from __future__ import annotations

from compiler.machine import Machine
from compiler.simulation.causes import Causes
from compiler.simulation.run import Run
from targets.drawing.figure import Item, Text, text_width
from targets.motion.axis import axis_of
from targets.motion.band import BAND_HEIGHT, Band, levels, rod_band
from targets.motion.page import MARGIN, TOP, Labels, arrows, page, shortened, titled
from targets.motion.traces import rods, traces
from targets.motion.why import commands

__all__ = ["motion_time_chart"]

_NAME_ROOM = 180.0


def motion_time_chart(run: Run, machine: Machine, *, why: Causes | None = None) -> str:
    """The SVG: each rod between home (0) and end (1) as a thick line over the time, a mark where a switch makes or
    lets go, thin arrows from a switch that makes to the rods that set out upon it (conventions of VDI 3260,
    withdrawn; from teaching texts)."""
    moving, signals = rods(run, machine), traces(run)
    left = MARGIN + 24 + min(_NAME_ROOM, max((text_width(rod.name) for rod in moving), default=60.0) + 8)
    axis, labels = axis_of(run, left), Labels()
    ground: list[Item] = []
    items: list[Item] = []
    bands = {}
    y = TOP
    for rod in moving:
        band = bands[rod.name] = Band(rod, y)
        middle = band.y(rod.actuator.stroke_um / 2)
        labels.put(Text(left - 16, middle + 4, shortened(rod.name, _NAME_ROOM), "row", "end"))
        ground += levels(band, left, axis.right, labels)
        y += BAND_HEIGHT
    for band in bands.values():
        items += rod_band(band, axis, signals, labels)
    between: list[Item] = []
    for command in commands(run, moving, signals, why):
        if command.seen is not None and command.seen is not command.rod:
            of, to = (bands[r.name].y(r.at(command.at_us)) for r in (command.seen, command.rod))
            between += arrows(axis.x(command.at_us), [of], [(to - 2, to, to + 2)])
    layers = (axis.grid(TOP, y), ground, between, items, axis.gap(TOP, y - 2), labels.texts)
    notes = [_NOTHING] if not moving else [_MARKS]
    return page(titled(run, "displacement-time chart"), layers, width=axis.right + MARGIN, height=y + 20, notes=notes)


_MARKS = (
    "0 is home, 1 the end of the stroke. A solid mark is where a switch makes, an open one where it lets go; an "
    "arrow leads from the switch that made to the rod that set out upon it."
)
_NOTHING = "This machine has no cylinder, so nothing is drawn."
