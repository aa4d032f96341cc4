"""The displacement-time chart of a run: one band an actuator and one a motor, in real time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from compiler.machine import Machine
from compiler.simulation.causes import Causes
from compiler.simulation.rest import until_rest
from compiler.simulation.run import Run
from compiler.simulation.traces import Rod, Trace, rods, traces
from targets.drawing.figure import Item, Text, text_width
from targets.motion.arrows import Anchor, arrows
from targets.motion.axis import Axis, axis_of
from targets.motion.band import BAND_HEIGHT, Band, levels, rod_band
from targets.motion.page import MARGIN, TOP, Labels, Moments, lines_of, page, shortened, titled
from targets.motion.turning import Turning, TurningBand, turning_line, turnings
from targets.motion.why import commands

__all__ = ["motion_time_chart"]

_NAME_ROOM = 180.0


@dataclass(frozen=True, slots=True)
class _Bands:
    """The bands of a chart, one under the other, and what is in them."""

    rods: dict[str, Band]
    motors: tuple[TurningBand, ...]
    bottom: float


def motion_time_chart(run: Run, machine: Machine, *, why: Causes | None = None, prefix: str = "") -> str:
    """The SVG: each rod between home (0) and end (1) as a thick line over the time, a mark where a switch makes or
    lets go, thin arrows from a switch that makes to the rods that set out upon it; each motor forward, standing and
    in reverse (conventions of VDI 3260, withdrawn; from teaching texts). Every moment at which a rod or a motor
    changes has an anchor (``targets.anchors``)."""
    run = until_rest(run)
    moving, motors, signals = rods(run, machine), turnings(run, machine), traces(run)
    names = [text_width(rod.name) + 8 for rod in moving]
    names += [text_width(motor.name) + TurningBand(motor, 0).beyond - 8 for motor in motors]
    axis = axis_of(run, MARGIN + 24 + min(_NAME_ROOM, max(names, default=60.0)))
    bands = _bands(moving, motors)
    between: list[Item] = []
    for command in commands(run, moving, signals, why):
        if command.seen is not None and command.seen is not command.rod:
            of, to = (bands.rods[r.name].y(r.at(command.at_us)) for r in (command.seen, command.rod))
            between += arrows(axis.x(command.at_us), of, [Anchor(to - 2, to, to + 2)])
    draft = _drawn(bands, axis, signals, Labels())
    taken = lines_of([*between, *draft[1]], "cause", "rod")
    labels = Labels(taken)
    ground, items = _drawn(bands, axis, signals, labels)
    layers = (axis.grid(TOP, bands.bottom), ground, between, items, axis.gap(TOP, bands.bottom - 2), labels.texts)
    moments = {at: axis.x(at) for at in {*(m.at_us for m in run.moves), *(at for m in motors for at, _ in m.ways)}}
    return page(
        titled(run, "displacement-time chart"),
        layers,
        width=axis.right + MARGIN,
        height=bands.bottom + 20,
        notes=[f"{_MARKS}{_ARROWS if between else ''}" if moving else _MOTORS if motors else _NOTHING],
        moments=Moments(moments, TOP, bands.bottom, prefix),
    )


def _bands(moving: Sequence[Rod], motors: Sequence[Turning]) -> _Bands:
    y = TOP
    placed: dict[str, Band] = {}
    turning = []
    for rod in moving:
        placed[rod.name] = Band(rod, y)
        y += BAND_HEIGHT
    for motor in motors:
        turning.append(TurningBand(motor, y))
        y += turning[-1].height
    return _Bands(placed, tuple(turning), y)


def _drawn(bands: _Bands, axis: Axis, signals: Sequence[Trace], labels: Labels) -> tuple[list[Item], list[Item]]:
    """What is behind, and what is drawn upon it."""
    ground: list[Item] = []
    items: list[Item] = []
    for name, band in bands.rods.items():
        middle = band.y(band.rod.actuator.stroke_um / 2)
        labels.put(Text(axis.left - 16, middle + 4, shortened(name, _NAME_ROOM), "row", "end"))
        ground += levels(band, axis.left, axis.right, labels)
    for turning in bands.motors:
        name = shortened(turning.turning.name, _NAME_ROOM)
        labels.put(Text(axis.left - turning.beyond, turning.middle + 4, name, "row", "end"))
        ground += turning.levels(axis.left, axis.right, labels)
        items.append(turning_line(turning, axis))
    for band in bands.rods.values():
        items += rod_band(band, axis, signals, labels)
    return ground, items


_MARKS = "0 is home, 1 the end of the stroke. A solid mark is where a switch makes, an open one where it lets go."
_ARROWS = " An arrow leads from the switch that made to the rod that set out upon it."
_MOTORS = "A motor stands at 0."
_NOTHING = "This machine has no cylinder and no motor, so nothing is drawn."
