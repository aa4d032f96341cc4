"""The whole machine in numbers: each cylinder, the pump, the air, and the cycle with its critical path."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from compiler.chart import Chart
from compiler.machine import Machine
from compiler.physics.cycle import Leg, StationCycle, cycle_times
from compiler.physics.cylinder_sheet import cylinder_part, free_air_of_cycle
from compiler.physics.figure import Figure, Kind, Part, Source
from compiler.physics.pump import fluid_power, ideal_flow, ideal_torque, relief_heat, shaft_power, standby_heat
from compiler.physics.quantities import quantity
from compiler.physics.supply import delivered_lpm
from compiler.ratings import Pump

if TYPE_CHECKING:
    from pint import Quantity

__all__ = ["sheet"]


def sheet(machine: Machine, chart: Chart) -> tuple[Part, ...]:
    """Everything that can be calculated of a machine and its sequence."""
    cycles = cycle_times(machine, chart)
    parts = [cylinder_part(actuator) for actuator in machine.actuators]
    if machine.pump is not None:
        parts.append(_pump(machine.pump))
    parts += [_cycle(cycle, len(cycles) > 1) for cycle in cycles]
    air = list(_air(machine, cycles))
    if air:
        parts.append(Part("Compressed air of the machine", tuple(air), _AIR_REMARKS))
    return tuple(parts)


def _pump(pump: Pump) -> Part:
    figures: list[Figure] = []
    remarks: list[str] = []
    delivered = delivered_lpm(pump)
    if pump.displacement_cm3 is not None and pump.turns_rpm is not None:
        turn = quantity(pump.displacement_cm3, "cm^3/turn")
        ideal = ideal_flow(turn, quantity(pump.turns_rpm, "rpm"))
        figures.append(Figure("ideal flow", ideal, Kind.FLOW, "displacement times speed", Source.FORMULA))
    if delivered is not None:
        stated = pump.flow_lpm is not None
        how = "as stated" if stated else "ideal flow times volumetric efficiency"
        limits = (quantity(delivered * (1 + side * pump.flow_spread), "L/min") for side in (-1, 1))
        flow = quantity(delivered, "L/min")
        source = Source.STATED if stated else Source.FORMULA
        figures.append(Figure("flow delivered", flow, Kind.FLOW, how, source, *limits))
        if pump.volumetric is None and not stated:
            remarks.append("No volumetric efficiency is stated: no leakage is taken off the flow.")
        if pump.pressure_bar is not None:
            figures += _power(pump, quantity(pump.pressure_bar, "bar"), flow)
    if pump.pressure_bar is None:
        remarks.append("No pressure is stated: no power can be calculated.")
    if pump.compensated and pump.case_drain_lpm is None:
        remarks.append("No case drain is stated: what it turns into heat at standby cannot be calculated.")
    return Part("Hydraulic pump, " + ("pressure-compensated" if pump.compensated else "fixed displacement"),
                tuple(figures), tuple(remarks))  # fmt: skip


def _power(pump: Pump, p: Quantity[float], flow: Quantity[float]) -> Iterator[Figure]:
    yield Figure("power in the flow", fluid_power(p, flow), Kind.POWER, "pressure times flow", Source.FORMULA)
    if pump.overall is not None:
        how = "power in the flow over the overall efficiency"
        yield Figure("power at the shaft", shaft_power(p, flow, pump.overall), Kind.POWER, how, Source.FORMULA)
    if pump.displacement_cm3 is not None:
        torque = ideal_torque(p, quantity(pump.displacement_cm3, "cm^3"))
        how = "pressure times displacement over 2 pi"
        yield Figure("ideal torque", torque, Kind.TORQUE, how, Source.FORMULA)
    if pump.case_drain_lpm is not None:
        heat = standby_heat(p, quantity(pump.case_drain_lpm, "L/min"))
        how = "all heat: pressure times case drain"
        yield Figure("standby, compensated", heat, Kind.POWER, how, Source.FORMULA)
    how = "all heat: pressure times flow, over the relief valve"
    yield Figure("standby, fixed pump", relief_heat(p, flow), Kind.POWER, how, Source.FORMULA)


def _cycle(cycle: StationCycle, several: bool) -> Part:
    low, usual, high = (quantity(us / 1e6, "s") for us in (
        cycle.span.least_us, cycle.span.usual_us, cycle.span.greatest_us))  # fmt: skip
    how = "longest way through it"
    figures = [Figure("cycle time", usual, Kind.TIME, how, Source.CHART, low, high)]
    path = [
        Figure(_leg_words(leg), quantity(leg.usual_us / 1e6, "s"), Kind.TIME, "usual time", Source.CHART)
        for leg in cycle.path
    ]
    remarks = []
    if cycle.waits:
        remarks.append(f"What it waits for from outside is not counted: {', '.join(cycle.waits)}.")
    if cycle.uncounted:
        remarks.append(f"One pass is counted of: {'; '.join(cycle.uncounted)}.")
    title = f"The cycle of {cycle.station}" if several and cycle.station else "The cycle and its critical path"
    return Part(title, tuple(figures), tuple(remarks), tuple(path))


def _leg_words(leg: Leg) -> str:
    """A part of the path in words, without the time limit that may follow."""
    words = leg.words.partition(", within ")[0]
    if not leg.passes:
        return words
    return f"{words}: {leg.passes} {'pass' if leg.passes == 1 else 'passes'} more of what follows"


_AIR_REMARKS = ("Each air cylinder is taken to go out and back once in a cycle, the cycles one after another.",)


def _air(machine: Machine, cycles: tuple[StationCycle, ...]) -> Iterator[Figure]:
    used = [air for actuator in machine.actuators if (air := free_air_of_cycle(actuator)) is not None]
    if not used:
        return
    total = sum(used[1:], used[0])
    yield Figure("free air of a cycle", total, Kind.AIR, "the sum of the cylinders", Source.AIR)
    if len(cycles) == 1 and cycles[0].span.usual_us:
        span = cycles[0].span
        usual, slow, quick = (total / quantity(us / 1e6, "s") for us in (
            span.usual_us, span.greatest_us, max(1, span.least_us)))  # fmt: skip
        how = "free air of a cycle over the cycle time"
        yield Figure("free air flow", usual, Kind.AIR_FLOW, how, Source.AIR, slow, quick)
