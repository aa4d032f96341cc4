"""Sizes that do not suit the work: odd bores, too little force, strokes too fast, pressures raised by the rod."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.findings.subject import Subject
from compiler.machine import Actuator, End, Medium
from compiler.physics.areas import area_ratio
from compiler.physics.force import blocked_rod_side, pressure_for
from compiler.physics.piston import PA_IN_BAR, Piston
from compiler.physics.preferred import is_preferred, nearest, nominal_pressure
from grammar.diagnostic import Diagnostic

__all__ = ["force_enough", "odd_sizes", "raised_pressure", "too_fast"]

_VERB = {End.END: "extend", End.HOME: "retract"}
_FASTEST = {Medium.HYDRAULIC: 0.5, Medium.PNEUMATIC: 1.0}
"""In m/s, without cushions (common practice)."""


def odd_sizes(subject: Subject) -> Iterator[Diagnostic]:
    """RW351: a bore or a rod of no preferred size."""
    for actuator in subject.machine.actuators:
        for part, size_um in (("bore", actuator.bore_um), ("rod", actuator.rod_um)):
            if size_um is not None and not is_preferred(size_um, rod=part == "rod"):
                metric, inch = nearest(size_um, rod=part == "rod")
                message = (
                    f"{size_um / 1000:g} mm is no preferred size of a {part}; the nearest are {metric} and {inch}"
                )
                yield subject.at_line("RW351", message, actuator.name, part.capitalize())


def force_enough(subject: Subject) -> Iterator[Diagnostic]:
    """RW352: at the least pressure a stroke cannot move its load."""
    for actuator, piston in _pistons(subject):
        least = piston.at(flow=-1, pressure=-1, bore=-1, shift=0)
        for toward in End:
            push, net = least.push(toward), least.net(toward)
            if push is None or net is None or net > 0:
                continue
            asked = push - net
            message = (
                f"{actuator.name} pushes {_force(push)} to {_VERB[toward]}, and load and losses take {_force(asked)}"
            )
            yield subject.at_line("RW352", message, actuator.name, *_LOADS, cure=_more(least, toward))


_LOADS = ("Load extends", "Load retracts", "Load of mass", "Friction", "Pressure")


def _more(piston: Piston, toward: End) -> str:
    """What would be enough: more pressure, unless what the losses leave of it is nothing."""
    r = piston.ratings
    left = r.efficiency - r.friction_share
    if left <= 0:
        return "friction and efficiency leave nothing of the push; state them anew"
    needed = pressure_for(piston.resistance(toward) + r.friction_n, piston.area(toward)) / left / PA_IN_BAR
    return f"a larger bore, or more than {needed:.4g} bar in the cylinder"


def too_fast(subject: Subject) -> Iterator[Diagnostic]:
    """RW353: a stroke meets its end faster than a cylinder without cushions should."""
    for actuator in subject.machine.actuators:
        if actuator.ratings is not None and actuator.ratings.cushion_us:
            continue
        limit = _FASTEST[actuator.medium]
        fastest, toward = max((_speed(actuator, toward), toward) for toward in End)
        if fastest > limit:
            said = f"{actuator.name} may {_VERB[toward]} at {fastest:.2f} m/s"
            message = f"{said}; without cushions up to {limit:g} m/s is usual"
            yield subject.at_line("RW353", message, actuator.name, "Flow", _VERB[toward] + "s", "StrokeLength")


def _speed(actuator: Actuator, toward: End) -> float:
    """The greatest speed in m/s: of the greatest flow, or on the average of the shortest time; 0 where assumed."""
    travel = actuator.extend_time if toward is End.END else actuator.retract_time
    mean = actuator.stroke_um / travel.least_us
    if travel.basis == "stated":
        return mean
    piston = Piston.of_actuator(actuator)
    steady = None if piston is None else piston.at(flow=1, pressure=0, bore=-1, shift=0).speed(toward)
    return steady or 0.0


def raised_pressure(subject: Subject) -> Iterator[Diagnostic]:
    """RW354: a throttled or blocked rod port raises the pressure there beyond what parts for the supply stand."""
    for actuator, piston in _pistons(subject):
        supply = piston.ratings.pressure_bar
        if supply is None or not piston.rod_m or piston.single_acting or actuator.medium is Medium.PNEUMATIC:
            continue
        raised, stands = blocked_rod_side(supply, piston.bore_m, piston.rod_m), nominal_pressure(supply)
        if raised > stands:
            ratio = area_ratio(piston.bore_m, piston.rod_m)
            message = (
                f"with its rod port throttled or blocked and no load, the rod side of {actuator.name} may reach "
                f"{raised:.4g} bar, {ratio:.3g} times {supply:.4g} bar"
            )
            yield subject.at_line("RW354", message, actuator.name, "Rod", "Pressure")


def _pistons(subject: Subject) -> Iterator[tuple[Actuator, Piston]]:
    for actuator in subject.machine.actuators:
        piston = Piston.of_actuator(actuator)
        if piston is not None:
            yield actuator, piston


def _force(newtons: float) -> str:
    return f"{newtons / 1000:.3g} kN" if newtons >= 1000 else f"{newtons:.3g} N"
