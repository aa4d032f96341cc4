"""A time between a least and a greatest value, with the usual one, in whole microseconds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["NOTHING", "Timespan", "either", "latest"]


@dataclass(frozen=True, slots=True)
class Timespan:
    """0 <= least <= usual <= greatest."""

    least_us: int
    usual_us: int
    greatest_us: int

    def plus(self, other: Timespan) -> Timespan:
        """One after the other."""
        return Timespan(
            self.least_us + other.least_us, self.usual_us + other.usual_us, self.greatest_us + other.greatest_us
        )

    def times(self, count: int) -> Timespan:
        """The same again and again."""
        return Timespan(self.least_us * count, self.usual_us * count, self.greatest_us * count)

    def share(self, part: float) -> Timespan:
        """That part of it, from 0 to 1."""
        return Timespan(int(self.least_us * part), round(self.usual_us * part), -int(-self.greatest_us * part // 1))


NOTHING = Timespan(0, 0, 0)


def latest(spans: Iterable[Timespan]) -> Timespan:
    """When all have come, counted from one beginning; at the beginning where there are none."""
    all_of_them = [NOTHING, *spans]
    return Timespan(
        max(s.least_us for s in all_of_them),
        max(s.usual_us for s in all_of_them),
        max(s.greatest_us for s in all_of_them),
    )


def either(spans: Iterable[Timespan]) -> Timespan:
    """Whichever of one or more comes to pass: the usual time is that of the longest."""
    all_of_them = list(spans)
    return Timespan(
        min(s.least_us for s in all_of_them),
        max(s.usual_us for s in all_of_them),
        max(s.greatest_us for s in all_of_them),
    )
