"""The rows of a timing chart as they grow downward, and where each of them stands for arrows to meet it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from compiler.simulation.lanes import Span
from compiler.simulation.run import Clock, Role, Side
from compiler.simulation.traces import Rod, Trace
from targets.drawing.figure import Item, Text
from targets.motion.arrows import Anchor
from targets.motion.axis import Axis
from targets.motion.band import BAND_HEIGHT, Band, levels, rod_band
from targets.motion.page import MARGIN, TOP, Labels, shortened
from targets.motion.rows import clock_row, lane_row, signal_row
from targets.motion.turning import Turning, TurningBand, turning_line
from targets.motion.why import Place

__all__ = ["NAME_ROOM", "Laid", "elapsed"]

NAME_ROOM = 180.0
_ROW, _CLOCK, _GROUP = 26.0, 34.0, 24.0
_HIGH, _LOW = 6.0, 20.0


def elapsed(timer: str) -> str:
    """What the row of a clock is called: "TR1 elapsed"; the times of a sequence say what they are ("time in S2")."""
    return timer if " " in timer else f"{timer} elapsed"


@dataclass(slots=True)
class Laid:
    """A chart as it grows downward."""

    axis: Axis
    y: float = TOP
    labels: Labels = field(default_factory=Labels)
    ground: list[Item] = field(default_factory=list)
    items: list[Item] = field(default_factory=list)
    anchors: dict[Place, Anchor] = field(default_factory=dict)
    bands: dict[str, Band] = field(default_factory=dict)
    clocks: list[tuple[tuple[Clock, ...], float, float]] = field(default_factory=list)

    def name(self, text: str, middle: float, *, beyond: float = 16) -> None:
        """What a row is called, to its left, so far from the axis."""
        self.labels.put(Text(self.axis.left - beyond, middle + 4, shortened(text, NAME_ROOM), "row", "end"))

    def group(self, title: str) -> None:
        """A heading over rows that belong together."""
        self.labels.put(Text(MARGIN, self.y + 16, shortened(title, self.axis.left + 200, kind="group"), "group"))
        self.y += _GROUP

    def signal(self, trace: Trace, name: str = "") -> None:
        high, low = self.y + _HIGH, self.y + _LOW
        self.name(name or trace.name, (high + low) / 2)
        self.items += signal_row(trace, self.axis, high, low)
        self.anchors[Place(trace.name, trace.side, trace.role)] = Anchor(high, (high + low) / 2, low)
        self.y += _ROW

    def lane(self, name: str, lane: Sequence[Span], side: Side) -> None:
        high, low = self.y + _HIGH - 1, self.y + _LOW + 1
        self.name(name, (high + low) / 2)
        self.items += lane_row(lane, self.axis, high, low, self.labels)
        for span in lane:
            self.anchors.setdefault(Place(span.name, side, Role.INSIDE), Anchor(high, (high + low) / 2, low))
        self.y += _ROW

    def clock(self, clocks: Sequence[Clock]) -> None:
        high, low = self.y + 6, self.y + 28
        self.name(elapsed(clocks[0].timer), (high + low) / 2)
        self.items += clock_row(clocks, self.axis, high, low, self.labels)
        self.clocks.append((tuple(clocks), high, low))
        self.y += _CLOCK

    def clock_at(self, place: Place, at_us: int) -> Anchor | None:
        """Where the clock of a timer begins to run, or has run out, at a moment."""
        for clocks, high, low in self.clocks:
            for clock in clocks:
                if (clock.timer, clock.side) == (place.name, place.side):
                    if clock.ran_out and clock.to_us == at_us:
                        return Anchor(high, high, high)
                    if clock.from_us == at_us:
                        return Anchor(low, low, low)
        return None

    def rod(self, rod: Rod, signals: Sequence[Trace]) -> None:
        band = Band(rod, self.y)
        out, home = band.y(rod.actuator.stroke_um), band.y(0)
        self.name(rod.name, (out + home) / 2)
        self.ground += levels(band, self.axis.left, self.axis.right, self.labels)
        self.items += rod_band(band, self.axis, signals, self.labels, clear=True)
        self.bands[rod.name] = band
        self.y += BAND_HEIGHT

    def motor(self, turning: Turning) -> None:
        band = TurningBand(turning, self.y)
        self.name(turning.name, band.middle, beyond=band.beyond)
        self.ground += band.levels(self.axis.left, self.axis.right, self.labels)
        self.items.append(turning_line(band, self.axis))
        self.y += band.height
