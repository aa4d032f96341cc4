"""Whether STOP brings a machine home from everywhere, by what its valves do alone: nothing is searched."""

from __future__ import annotations

from itertools import product

from compiler.chart import ActionKind, Chart
from compiler.condition import Always, Condition, Or, Signal
from compiler.machine import Actuator, End, Machine
from compiler.proof.rods import Solenoids

__all__ = ["forced_by", "stop_brings_home"]


def forced_by(chart: Chart, device: str | None) -> frozenset[str]:
    """The steps in which the chart is held for as long as a device is actuated, whatever else is; none where that
    does not hold the chart."""
    if chart.forcing is None or not _always_when(chart.forcing.condition, device):
        return frozenset()
    return frozenset(chart.forcing.steps or (step.name for step in chart.steps if step.initial))


def stop_brings_home(chart: Chart, machine: Machine) -> bool:
    """Whether, while STOP is held, every valve drives its rod to where it stood in the beginning and keeps it there,
    jams aside. False says nothing: it may come home all the same."""
    forced = forced_by(chart, machine.stop)
    return bool(forced) and all(_goes_home(actuator, chart, forced) for actuator in machine.actuators)


def _always_when(condition: Condition, device: str | None) -> bool:
    match condition:
        case Signal(device=name):
            return name == device
        case Or(of=parts):
            return any(_always_when(part, device) for part in parts)
        case _:
            return False


def _goes_home(actuator: Actuator, chart: Chart, forced: frozenset[str]) -> bool:
    """Whether whatever these steps may have on drives the rod home, however it was driven before."""
    valve = actuator.valve
    solenoids = Solenoids.of(valve, valve.solenoids)
    home = 1 if actuator.rest is End.END else -1
    may_be = [_may_be(name, chart, forced) for name in valve.solenoids]
    return all(
        solenoids.drive(sum(bit << k for k, bit in enumerate(on)), now).way == home
        for on in product(*may_be)
        for now in (-1, 0, 1)
    )


def _may_be(output: str, chart: Chart, forced: frozenset[str]) -> tuple[bool, ...]:
    """Whether an output is off, on, or may be either while just these steps are active and nothing is stored."""
    actions = [
        action
        for step in chart.steps
        if step.name in forced
        for action in step.actions
        if action.output == output and action.kind is ActionKind.CONTINUOUS
    ]
    locked = any(interlock.output == output for interlock in chart.interlocks)
    if not actions:
        return (False,)
    return (True,) if any(action.condition == Always() for action in actions) and not locked else (False, True)
