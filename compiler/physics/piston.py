"""One cylinder as the formulas see it, in SI base units: what moves it, what resists it, how long a stroke takes."""

from __future__ import annotations

from dataclasses import dataclass, replace

from compiler.machine import Actuator, End
from compiler.physics.areas import circle, ring
from compiler.physics.force import STANDARD_GRAVITY, force
from compiler.physics.motion import accelerated_time
from compiler.physics.stroke import speed
from compiler.ratings import Ratings

__all__ = ["PA_IN_BAR", "Piston", "Reckoned", "m3_per_s", "reckoned"]

PA_IN_BAR = 1e5
_USUAL_SPREAD = 0.2  # on a reckoned time, either way: leakage, supply, friction (common practice)


def m3_per_s(litres_a_minute: float) -> float:
    """A flow in cubic metres a second."""
    return litres_a_minute / 60_000


@dataclass(frozen=True, slots=True)
class Piston:
    """A cylinder in metres. ``rod_m`` is 0 where no rod is stated. ``regenerative``: on the way out the oil of the
    rod side joins the pump's flow, which takes a rod."""

    stroke_m: float
    bore_m: float
    rod_m: float
    single_acting: bool
    ratings: Ratings
    regenerative: bool = False

    @classmethod
    def of(
        cls,
        stroke_um: int,
        bore_um: int | None,
        rod_um: int | None,
        single_acting: bool,
        ratings: Ratings,
        *,
        regenerative: bool = False,
    ) -> Piston | None:
        """From lengths in micrometres; None where no bore is stated."""
        if bore_um is None:
            return None
        return cls(stroke_um / 1e6, bore_um / 1e6, (rod_um or 0) / 1e6, single_acting, ratings, regenerative)

    @classmethod
    def of_actuator(cls, actuator: Actuator, *, regenerative: bool = False) -> Piston | None:
        """A cylinder of the machine; None where no bore is stated."""
        size = (actuator.stroke_um, actuator.bore_um, actuator.rod_um, actuator.single_acting)
        return cls.of(*size, actuator.ratings or Ratings(), regenerative=regenerative)

    def area(self, toward: End) -> float:
        """The area that the flow fills and the pressure acts on, in square metres: the whole bore out, the ring back,
        the rod alone when it goes out regeneratively."""
        if toward is End.HOME:
            return ring(self.bore_m, self.rod_m)
        return circle(self.rod_m) if self.regenerative and self.rod_m else circle(self.bore_m)

    def driven(self, toward: End) -> bool:
        """Whether pressure moves it that way: a single-acting cylinder comes home by its spring."""
        return toward is End.END or not self.single_acting

    def speed(self, toward: End) -> float | None:
        """The steady speed in m/s; None where no flow is stated or a spring moves it."""
        flow = self.ratings.flow_lpm
        return None if flow is None or not self.driven(toward) else speed(m3_per_s(flow), self.area(toward))

    def push(self, toward: End) -> float | None:
        """What the pressure does, in newtons, with no losses; None where none is stated or a spring moves it."""
        p = self.ratings.pressure_bar
        return None if p is None or not self.driven(toward) else force(p * PA_IN_BAR, self.area(toward))

    def resistance(self, toward: End) -> float:
        """What load and weight do against a stroke, in newtons; below zero where the weight helps. No friction."""
        r = self.ratings
        stated = r.resists_out_n if toward is End.END else r.resists_back_n
        weight = r.mass_kg * STANDARD_GRAVITY
        lifts, lowers = (r.lifted_out, r.lifted_back) if toward is End.END else (r.lifted_back, r.lifted_out)
        return stated + (weight if lifts else -weight if lowers else 0.0)

    def losses(self, toward: End) -> float:
        """What friction and the efficiency take of the push, in newtons; the stated friction where none is known."""
        r = self.ratings
        return r.friction_n + (self.push(toward) or 0.0) * (1 - r.efficiency + r.friction_share)

    def net(self, toward: End) -> float | None:
        """The force left to set the load moving, in newtons; None where no pressure is stated."""
        push = self.push(toward)
        return None if push is None else push - self.losses(toward) - self.resistance(toward)

    def time(self, toward: End) -> float | None:
        """The time of a full stroke in seconds, valve and cushions included; None where that cannot be reckoned.

        Where mass and pressure are stated and something is left to accelerate it, it starts from standstill;
        otherwise the flow fills the cylinder from the first moment.
        """
        steady = self.speed(toward)
        return None if steady is None else self.time_at(steady, self.net(toward))

    def time_at(self, steady: float, net: float | None) -> float:
        """The time of a full stroke in seconds at a steady speed and with a net force to reach it."""
        moving, mass, r = self.stroke_m / steady, self.ratings.mass_kg, self.ratings
        if net is not None and net > 0 and mass > 0:
            moving = accelerated_time(self.stroke_m, steady, net, mass)
        return moving + (r.shift_us + r.cushion_us) / 1e6

    def at(self, *, flow: int, pressure: int, bore: int, shift: int) -> Piston:
        """The same cylinder at one end of each tolerance: -1 least, 0 as stated, 1 greatest."""
        r = self.ratings
        return replace(
            self,
            bore_m=self.bore_m * (1 + bore * r.bore_spread),
            ratings=r.model_copy(
                update={
                    "flow_lpm": None if r.flow_lpm is None else r.flow_lpm * (1 + flow * r.flow_spread),
                    "pressure_bar": (
                        None if r.pressure_bar is None else r.pressure_bar * (1 + pressure * r.pressure_spread)
                    ),
                    "shift_us": round(r.shift_us * (1 + shift * r.shift_spread)),
                }
            ),
        )


@dataclass(frozen=True, slots=True)
class Reckoned:
    """The time of a stroke in whole microseconds: least, usual, greatest."""

    least_us: int
    usual_us: int
    greatest_us: int


def reckoned(piston: Piston, toward: End) -> Reckoned | None:
    """The time of a full stroke within the stated tolerances, and within 20 % at least where none is stated of the
    flow (common practice).

    The slowest stroke has the least flow and pressure, the quickest the greatest. A wider bore fills more slowly but
    pushes harder, so the limits take the speed of the one bore and the force of the other.
    """
    usual = piston.time(toward)
    if usual is None:
        return None
    least, greatest = (_limit(piston, toward, side) for side in (1, -1))
    if not piston.ratings.flow_spread:
        least, greatest = min(least, usual * (1 - _USUAL_SPREAD)), max(greatest, usual * (1 + _USUAL_SPREAD))
    usual_us = max(1, round(usual * 1e6))
    least_us = min(usual_us, max(1, int(least * 1e6)))
    return Reckoned(least_us, usual_us, max(usual_us, int(greatest * 1e6) + 1))


def _limit(piston: Piston, toward: End, side: int) -> float:
    """The quickest (1) or the slowest (-1) stroke at the ends of the tolerances, in seconds.

    The time falls with the speed and with the net force, so the ends of the two bound it.
    """
    pick = max if side > 0 else min
    ends = [piston.at(flow=side, pressure=side, bore=bore, shift=-side) for bore in (-1, 1)]
    nets = [net for end in ends if (net := end.net(toward)) is not None]
    speeds = [v for end in ends if (v := end.speed(toward)) is not None]
    return ends[0].time_at(pick(speeds), pick(nets) if nets else None)
