"""A run as a table: a row for each moment at which anything changed, a column for each signal and each rod."""

from __future__ import annotations

from compiler.machine import Machine
from compiler.simulation.run import Role, Run, Side
from compiler.simulation.traces import Number, Trace, numbers, rods, traces
from targets.cells import csv_text

__all__ = ["as_csv"]


def as_csv(run: Run, machine: Machine) -> str:
    """The run as CSV (RFC 4180): the time in seconds, every signal as 0 or 1 as it stands from then on, every counter
    as its number, every rod in millimetres from home."""
    counted, signals = numbers(traces(run))
    moving = rods(run, machine)
    heads = ["time in s", *(_head(run, trace) for trace in signals), *(_head(run, number) for number in counted)]
    heads += [f"{rod.name} in mm" for rod in moving]
    moments = sorted({0, run.ended_us, *(c.at_us for c in run.changes), *(m.at_us for m in run.moves)})
    rows = [
        [
            f"{at_us / 1_000_000:.6f}",
            *(str(int(trace.on(at_us))) for trace in signals),
            *(str(number.at(at_us)) for number in counted),
            *(f"{rod.at(at_us) / 1000:.3f}" for rod in moving),
        ]
        for at_us in moments
    ]
    return csv_text([heads, *rows])


def _head(run: Run, trace: Trace | Number) -> str:
    """What a column is called: a device by its name; what is inside a logic, or switched by it, with the logic's."""
    match trace.side:
        case Side.WORLD:
            role = Role.INSIDE if isinstance(trace, Number) else trace.role
            return {Role.JAM: f"{trace.name} jammed", Role.STUCK: f"{trace.name} stuck"}.get(role, trace.name)
        case Side.DRIVER:
            return f"{trace.name} ({run.driver})" if run.shadow else trace.name
        case Side.SHADOW:
            return f"{trace.name} ({run.shadow})"
