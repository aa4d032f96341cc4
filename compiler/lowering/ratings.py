"""What the lines of one cylinder state of its size and its work, and the piston that comes of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from compiler.lowering.rating_lines import ratings_of
from compiler.machine import End
from compiler.physics.piston import Piston
from compiler.ratings import Pump, Ratings
from compiler.units import micrometres, microseconds
from grammar.sequence import tree

if TYPE_CHECKING:
    from compiler.lowering.devices import Devices

__all__ = ["Stated", "stated_of"]

_NOTHING = Ratings()
_WAY = {"extends": End.END, "retracts": End.HOME}


@dataclass
class Stated:
    """The size of a cylinder in micrometres and its ratings, as far as its lines say; ``times`` holds (least,
    greatest) in microseconds by the end a stroke leads to, ``rapid_us`` those of a stroke out made quick."""

    stroke_um: int | None = None
    bore_um: int | None = None
    rod_um: int | None = None
    single_acting: bool = False
    times: dict[End, tuple[int, int]] = field(default_factory=dict)
    rapid_us: tuple[int, int] | None = None
    ratings: Ratings = _NOTHING

    @property
    def piston(self) -> Piston | None:
        """What the formulas can calculate with, where bore and stroke are stated."""
        if self.stroke_um is None:
            return None
        return Piston.of(self.stroke_um, self.bore_um, self.rod_um, self.single_acting, self.ratings)

    @property
    def regenerative(self) -> Piston | None:
        """The same with the rod side's oil led back on the way out, which takes a rod."""
        if self.stroke_um is None or self.rod_um is None:
            return None
        size = (self.stroke_um, self.bore_um, self.rod_um, self.single_acting, self.ratings)
        return Piston.of(*size, regenerative=True)


def stated_of(devices: Devices, once: dict[str, tree.Attribute], pump: Pump | None) -> Stated:
    """What the lines state, with what the ``pump`` gives where they do not; faults go to ``devices``."""
    stated = Stated(single_acting="SingleActing" in once)
    for part in once.values():
        match part:
            case tree.Bore(length=length):
                stated.bore_um = devices.value(micrometres, length)
            case tree.Rod(length=length):
                stated.rod_um = devices.value(micrometres, length)
            case tree.StrokeLength(length=length):
                stated.stroke_um = devices.value(micrometres, length)
            case tree.TravelTime():
                _travel_time(devices, part, stated)
            case _:
                pass
    stated.ratings = ratings_of(devices, once, pump)
    rod, bore = once.get("Rod"), stated.bore_um
    thinnest = None if bore is None else bore * (1 - stated.ratings.bore_spread)
    if rod is not None and thinnest is not None and stated.rod_um is not None and stated.rod_um >= thinnest:
        devices.fault("RW215", "the rod is as thick as the bore, or thicker", rod.span)
        stated.rod_um = None
    return stated


def _travel_time(devices: Devices, part: tree.TravelTime, stated: Stated) -> None:
    first = devices.value(microseconds, part.least)
    last = first if part.greatest is None else devices.value(microseconds, part.greatest)
    if first and last and first > last:
        times = [f"{time.number} {time.unit}" for time in (part.greatest, part.least) if time is not None]
        cure = f"{part.direction} in {' to '.join(times)}"
        devices.fault("RW206", "the least time is greater than the greatest", part.span,
                      expected="the shorter time first", cure=cure)  # fmt: skip
    elif first and last and part.direction == "extends rapidly":
        stated.rapid_us = (first, last)
    elif first and last:
        stated.times[_WAY[part.direction]] = (first, last)
