"""Sensors at the two ends of what a motor moves: one lets go when the motor runs away from it.

A motor that runs both ways has no position here, and nothing else would ever move such a sensor back: without this
the way back would be over as soon as it begins.
"""

from __future__ import annotations

from collections.abc import Iterator

from compiler.chart import Chart
from compiler.checking.operating import Operated, operate
from compiler.condition import And, Condition, Or, Signal, Sustained
from compiler.machine import InputKind, Machine
from compiler.simulation.joint import Wired
from compiler.simulation.run import Event, EventKind, StrokeTimes

__all__ = ["swept"]

_AWAY_US = 300_000  # from when a motor sets out to when the sensor behind it lets go
_MOST = 16  # times that sensors let go in one cycle


def swept(
    machine: Machine, chart: Chart, wired: Wired, besides: tuple[Event, ...], *, strokes: tuple[StrokeTimes, ...]
) -> tuple[Event, ...]:
    """``besides``, and with it that sensors let go as motors run away from them, in the operator's cycle. ``wired``
    is the chart's own logic."""
    for _ in range(_MOST if machine.motors else 0):
        worked = operate(machine, chart, wired, strokes=strokes, done_besides=besides)
        first = min(_behind(machine, chart, worked), key=lambda event: event.at_us, default=None)
        if first is None:
            break
        besides = tuple(sorted((*besides, first), key=lambda event: event.at_us))
    return besides


def _behind(machine: Machine, chart: Chart, worked: Operated) -> Iterator[Event]:
    """The sensors that are still made some time after a motor set out from them."""
    sensors = {i.name for i in machine.inputs if i.kind is InputKind.SENSOR}
    for motor in machine.motors:
        ends = {load: _awaited(chart, load) & sensors for load in (motor.forward, motor.reverse)}
        for load, behind in ((motor.forward, ends[motor.reverse]), (motor.reverse, ends[motor.forward])):
            for entry in worked.entries:
                at_us = entry.at_us + _AWAY_US
                if load in _commanded(chart, entry.step):
                    for name in sorted(behind - ends[load]):
                        if _made(worked, name, at_us):
                            yield Event(at_us=at_us, kind=EventKind.INPUT, device=name, on=False)


def _commanded(chart: Chart, step: str) -> set[str]:
    return {action.output for action in chart.step(step).actions}


def _awaited(chart: Chart, load: str) -> set[str]:
    """The inputs that steps with this load on wait for to be made."""
    steps = {step.name for step in chart.steps if load in _commanded(chart, step.name)}
    ways = (t for t in chart.transitions if steps & set(t.sources))
    return {name for t in ways for name in _positive(t.condition)}


def _positive(condition: Condition) -> Iterator[str]:
    match condition:
        case Signal(device=device):
            yield device
        case Sustained(of=of):
            yield from _positive(of)
        case And(of=parts) | Or(of=parts):
            for part in parts:
                yield from _positive(part)
        case _:
            return


def _made(worked: Operated, name: str, at_us: int) -> bool:
    """Whether an input is made at a moment, and nothing is done to it just then."""
    events = [e for e in worked.events if e.device == name and e.at_us <= at_us]
    return bool(events) and events[-1].on and events[-1].at_us < at_us
