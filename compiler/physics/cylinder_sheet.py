"""Every number there is to calculate of one cylinder, with units that check themselves."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from compiler.machine import Actuator, End, Medium, RapidKind, Travel, TravelBasis
from compiler.physics.air import ATMOSPHERE_PA, compression, free_air, swept
from compiler.physics.areas import area_ratio, circle, ring
from compiler.physics.figure import Figure, Kind, Part, Source
from compiler.physics.force import blocked_rod_side, pressure_for
from compiler.physics.piston import Piston
from compiler.physics.quantities import quantity
from compiler.physics.stroke import cap_outflow, regenerative_cap_flow
from compiler.ratings import Ratings

if TYPE_CHECKING:
    from pint import Quantity

__all__ = ["cylinder_part", "free_air_of_cycle"]

_WAY = {End.END: "out", End.HOME: "back"}
_AREA = {End.END: "full area", End.HOME: "ring area"}


def cylinder_part(actuator: Actuator) -> Part:
    """The figures of a cylinder, as many as what is stated allows."""
    piston = Piston.of_actuator(actuator)
    figures = list(_times(actuator))
    remarks = []
    if piston is None:
        remarks.append("Its bore is not stated: no areas, speeds or forces can be calculated.")
    else:
        figures = [
            *_areas(piston),
            *_speeds(actuator, piston),
            *figures,
            *_forces(piston),
            *_raised(actuator, piston),
        ]
        figures += _quick(actuator)
        figures += _air(actuator, piston)
        remarks += _missing(actuator)
    return Part(f"{actuator.name}, {actuator.medium} cylinder", tuple(figures), tuple(remarks))


def _missing(actuator: Actuator) -> Iterator[str]:
    ratings = actuator.ratings or Ratings()
    if ratings.from_pump:
        yield "It states no flow: it is taken to have the pump's whole flow."
    if ratings.flow_lpm is None:
        yield "No flow is stated: no speeds can be calculated."
    if ratings.pressure_bar is None:
        yield "No pressure is stated: no forces can be calculated."
    if ratings.mass_kg and ratings.pressure_bar is not None and ratings.flow_lpm is not None:
        yield "Its mass starts from standstill with what force is left, up to the speed that the flow allows."


def _areas(piston: Piston) -> Iterator[Figure]:
    bore, rod = quantity(piston.bore_m, "m"), quantity(piston.rod_m, "m")
    yield Figure("full area", circle(bore), Kind.AREA, "pi/4 times bore squared", Source.FORMULA)
    if piston.rod_m:
        how = "full area less the rod's"
        yield Figure("ring area, rod side", ring(bore, rod), Kind.AREA, how, Source.FORMULA)
        how = "full area over ring area"
        yield Figure("ratio of areas", area_ratio(bore, rod), Kind.RATIO, how, Source.FORMULA)


@dataclass(frozen=True, slots=True)
class _Toward:
    """A value that a piston has toward one end, as a function of the piston alone."""

    value: Callable[[Piston, End], float | None]
    end: End

    def __call__(self, piston: Piston) -> float | None:
        return self.value(piston, self.end)


def _limited(
    piston: Piston, value: Callable[[Piston], float | None], unit: str
) -> tuple[Quantity[float], Quantity[float], Quantity[float]] | None:
    """A value as stated and at its least and greatest within the tolerances; None where it cannot be calculated."""
    usual = value(piston)
    if usual is None:
        return None
    ends = [value(piston.at(flow=f, pressure=f, bore=b, shift=0)) for f in (-1, 1) for b in (-1, 1)]
    known = [usual, *(end for end in ends if end is not None)]
    return quantity(usual, unit), quantity(min(known), unit), quantity(max(known), unit)


def _speeds(actuator: Actuator, piston: Piston) -> Iterator[Figure]:
    for toward in _WAY:
        found = _limited(piston, _Toward(Piston.speed, toward), "m/s")
        if found is not None:
            how = f"flow over {_AREA[toward]}"
            yield Figure(f"speed {_WAY[toward]}", found[0], Kind.SPEED, how, Source.FORMULA, *found[1:])
    flow = piston.ratings.flow_lpm
    if flow is not None and piston.rod_m and piston.driven(End.HOME) and actuator.medium is Medium.HYDRAULIC:
        bore, rod = quantity(piston.bore_m, "m"), quantity(piston.rod_m, "m")
        leaves = cap_outflow(quantity(flow, "L/min"), bore, rod)
        how = "flow times ratio of areas; the return line must take it"
        yield Figure("outflow going back", leaves, Kind.FLOW, how, Source.FORMULA)


def _times(actuator: Actuator) -> Iterator[Figure]:
    for toward, travel in ((End.END, actuator.extend_time), (End.HOME, actuator.retract_time)):
        yield _time(f"time {_WAY[toward]}", travel, f"stroke times {_AREA[toward]} over flow", actuator.ratings)


def _time(name: str, travel: Travel, formula: str, ratings: Ratings | None) -> Figure:
    r = ratings or Ratings()
    more = [f"{us / 1000:g} ms {what}" for us, what in ((r.shift_us, "valve"), (r.cushion_us, "cushions")) if us]
    how, source = {
        TravelBasis.STATED: ("as stated", Source.STATED),
        TravelBasis.ASSUMED: ("as assumed", Source.ASSUMED),
        TravelBasis.DERIVED: (" + ".join((formula, *more)), Source.USUAL),
    }[travel.basis]
    low, usual, high = (quantity(us / 1e6, "s") for us in (travel.least_us, travel.usual_us, travel.greatest_us))
    return Figure(name, usual, Kind.TIME, how, source, low, high)


def _forces(piston: Piston) -> Iterator[Figure]:
    for toward in _WAY:
        found = _limited(piston, _Toward(Piston.push, toward), "N")
        if found is None:
            continue
        way = _WAY[toward]
        yield Figure(
            f"force {way}", found[0], Kind.FORCE, f"pressure times {_AREA[toward]}", Source.FORMULA, *found[1:]
        )
        resists, losses = piston.resistance(toward), piston.losses(toward)
        if not resists and not losses:
            continue
        how = "load, weight, friction and what the efficiency takes"
        how += "; below zero the weight helps" if resists + losses < 0 else ""
        asked = quantity(resists + losses, "N")
        yield Figure(f"taken up {way}", asked, Kind.FORCE, how, Source.FORMULA)
        if resists > 0:
            needed = pressure_for(quantity(resists, "N"), quantity(piston.area(toward), "m^2"))
            how = f"load and weight over {_AREA[toward]}, no losses"
            yield Figure(f"load pressure {way}", needed, Kind.PRESSURE, how, Source.FORMULA)


def _raised(actuator: Actuator, piston: Piston) -> Iterator[Figure]:
    p = piston.ratings.pressure_bar
    if p is None or not piston.rod_m or piston.single_acting or actuator.medium is Medium.PNEUMATIC:
        return
    raised = blocked_rod_side(quantity(p, "bar"), quantity(piston.bore_m, "m"), quantity(piston.rod_m, "m"))
    how = "pressure times ratio of areas: rod port blocked or throttled, no load"
    yield Figure("rod side, at most", raised, Kind.PRESSURE, how, Source.FORMULA)


def _quick(actuator: Actuator) -> Iterator[Figure]:
    rapid = actuator.valve.rapid
    if rapid is None:
        return
    yield _time("quick time out", rapid.time, "stroke times rod area over flow", actuator.ratings)
    quick = Piston.of_actuator(actuator, regenerative=True)
    if quick is None or rapid.kind is not RapidKind.REGENERATIVE or not quick.rod_m:
        return
    v, push, flow = quick.speed(End.END), quick.push(End.END), quick.ratings.flow_lpm
    if v is not None and flow is not None:
        how = "flow over rod area"
        yield Figure("quick speed out", quantity(v, "m/s"), Kind.SPEED, how, Source.FORMULA)
        sizes = quantity(quick.bore_m, "m"), quantity(quick.rod_m, "m")
        enters = regenerative_cap_flow(quantity(flow, "L/min"), *sizes)
        how = "the pump's flow and the rod side's together"
        yield Figure("quick inflow", enters, Kind.FLOW, how, Source.FORMULA)
    if push is not None:
        how = "pressure times rod area"
        yield Figure("quick force out", quantity(push, "N"), Kind.FORCE, how, Source.FORMULA)


def free_air_of_cycle(actuator: Actuator) -> Quantity[float] | None:
    """The free air of one stroke out and one back, tubes included; None where it is no air cylinder or too little is
    stated."""
    piston = Piston.of_actuator(actuator)
    if piston is None or actuator.medium is Medium.HYDRAULIC or piston.ratings.pressure_bar is None:
        return None
    sizes = (quantity(x, "m") for x in (piston.bore_m, piston.rod_m, piston.stroke_m))
    volume = swept(*sizes, single_acting=piston.single_acting)
    tubes = quantity(piston.ratings.tube_l * (1 if piston.single_acting else 2), "L")
    return free_air(volume, tubes, quantity(piston.ratings.pressure_bar, "bar"), quantity(ATMOSPHERE_PA, "Pa"))


def _air(actuator: Actuator, piston: Piston) -> Iterator[Figure]:
    used, p = free_air_of_cycle(actuator), piston.ratings.pressure_bar
    if used is None or p is None:
        return
    ratio = compression(quantity(p, "bar"), quantity(ATMOSPHERE_PA, "Pa"))
    yield Figure("compression", ratio, Kind.RATIO, "pressure and atmosphere over atmosphere", Source.AIR)
    how = "what is swept times the compression" + (", and the tubes filled" if piston.ratings.tube_l else "")
    yield Figure("free air, both ways", used, Kind.AIR, how, Source.AIR)
