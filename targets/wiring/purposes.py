"""What each device of a circuit is there for, in words: from the machine, and from what its rung says of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import takewhile

from compiler.chart import Chart
from compiler.condition import Condition, Rise, Signal, walk
from compiler.machine import Actuator, Machine, RapidKind
from grammar.rungs.tree import INPUTS, Circuit, Device, Kind, Rung, Terminal

__all__ = ["Asked", "asked_of", "brought_in", "purpose"]

Asked = Mapping[str, str]
"""What an input is asked for in a sequence, in words, by its name."""


def asked_of(chart: Chart) -> Asked:
    """In which steps a sequence waits for each input, and which outputs it lets come on."""
    steps: dict[str, dict[str, None]] = {}
    for transition in chart.transitions:
        for name in _inputs(transition.condition):
            steps.setdefault(name, {}).update(dict.fromkeys(transition.sources))
    lets: dict[str, dict[str, None]] = {}
    for interlock in chart.interlocks:
        for name in _inputs(interlock.only_while):
            lets.setdefault(name, {})[interlock.output] = None
    told = {name: f"asked in step{'s' * (len(some) > 1)} {', '.join(some)}" for name, some in steps.items()}
    for name, outputs in lets.items():
        told[name] = "; ".join(filter(None, (f"lets {', '.join(outputs)} come on", told.get(name))))
    return told


def _inputs(condition: Condition) -> set[str]:
    return {part.device for part in walk(condition) if isinstance(part, Signal | Rise)}


def purpose(device: Device, rung: Rung | None, machine: Machine, asked: Asked) -> str:
    """What a device does in its machine; empty where neither that nor the ``rung`` that brings it in says, and for an
    input the sequence does not say it either."""
    name = device.name.text
    if name in (machine.start, machine.stop):
        return "starts it" if name == machine.start else "stops it"
    told = [text for actuator in machine.actuators for text in _of_actuator(name, actuator)]
    for motor in machine.motors:
        if name in (motor.forward, motor.reverse):
            told.append(f"runs {motor.name} {'forward' if name == motor.forward else 'in reverse'}")
    told += [_said(device, rung)] if rung is not None else []
    if device.kind in INPUTS and not told:
        return asked.get(name, "")
    return "; ".join(filter(None, told))


def _of_actuator(name: str, actuator: Actuator) -> Iterator[str]:
    valve = actuator.valve
    if name in (valve.extend, valve.retract):
        yield f"sends {actuator.name} {'out' if name == valve.extend else 'back'}"
    if valve.rapid is not None and name == valve.rapid.solenoid:
        how = " (regenerative)" if valve.rapid.kind is RapidKind.REGENERATIVE else ""
        yield f"makes {actuator.name} quick on its way out{how}"
    for switch in actuator.limit_switches:
        if switch.name == name:
            yield f"{actuator.name} at {switch.at_um / 1000:g} mm"
    for gauge in actuator.pressure_switches:
        if gauge.name == name:
            yield f"{actuator.name} at {gauge.pressure_bar:g} bar"


def brought_in(circuit: Circuit) -> dict[str, Rung]:
    """The first rung that feeds a device and not only to let go of what it has latched or counted, by the device's
    name in small letters."""
    found: dict[str, Rung] = {}
    for rung in circuit.rungs:
        for feed in rung.feeds:
            if feed.terminal not in (Terminal.UNLATCH, Terminal.RESET):
                found.setdefault(feed.name.text.casefold(), rung)
    return found


def _said(device: Device, rung: Rung) -> str:
    """The first sentence of a rung's comment, without the name of the device where it begins with that. Where it
    speaks of another relay whose coil is beside this one's, this one repeats that."""
    name = device.name.text
    lines = takewhile(str.strip, rung.comments.above)
    first, stop, _ = " ".join((*lines, rung.comments.beside)).strip().partition(". ")
    about = next((f.name.text for f in rung.feeds if first.startswith(tuple(f"{f.name.text}{c}" for c in ":, "))), "")
    if about and about != name:
        return f"repeats {about}" if device.kind in (Kind.RELAY, Kind.LATCHING_RELAY) else ""
    told = first.removeprefix(about).lstrip(":, ")
    return told if stop else told.removesuffix(".")
