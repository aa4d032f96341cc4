"""Commands in words become commands of the net: what a stroke, a lamp, a motor or a counter is told."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.condition import Condition, Signal, both
from compiler.lowering.devices import Devices
from compiler.lowering.inside import Inside, InsideKind
from compiler.lowering.named import find_actuator, find_device, find_inside, kind_of, outputs_of
from compiler.lowering.net import Clear, Command, Count, Pulse, Switch
from compiler.machine import Actuator, End, Load, Motor, ValveKind
from grammar.sequence import tree
from grammar.source import Span

__all__ = ["Given", "arrival", "end_switch", "lower_command"]

_NOWHERE = Span(0, 0)
_ENDS = {"extend": End.END, "retract": End.HOME}


@dataclass(frozen=True, slots=True)
class Given:
    """What one command means. ``device`` is told it by way of ``outputs``; ``toward`` is the end a stroke goes to."""

    commands: tuple[Command, ...] = ()
    device: str = ""
    outputs: tuple[str, ...] = ()
    span: Span = _NOWHERE
    actuator: Actuator | None = None
    toward: End | None = None


def lower_command(devices: Devices, command: tree.Command, *, ends: bool) -> Given:
    """What a command means; ``ends``: its step says when it is over. A command at fault means nothing."""
    match command:
        case tree.Stroke():
            return _stroke(devices, command)
        case tree.Turn(on=on, load=name):
            return _turn(devices, name, on=on)
        case tree.Run():
            return _run(devices, command, ends=ends)
        case tree.Halt(what=name):
            return _halt(devices, name)
        case tree.Count(counter=name, clear=clear):
            counter = find_inside(devices, name, InsideKind.COUNTER)
            if counter is None:
                return Given()
            return Given((Clear(counter.name) if clear else Count(counter.name),), counter.name)
        case tree.Wait():
            return Given()


def end_switch(actuator: Actuator, place: End) -> str | None:
    """The limit switch that sees an actuator at one of its ends."""
    at = actuator.stroke_um if place is End.END else 0
    return next((s.name for s in actuator.limit_switches if s.at_um == at and s.toward is place), None)


def arrival(given: list[Given]) -> Condition | None:
    """That every stroke given has arrived, as far as switches see it; None where none does."""
    strokes = [(g.actuator, g.toward) for g in given if g.actuator is not None and g.toward is not None]
    switches = [end_switch(actuator, toward) for actuator, toward in strokes]
    seen = [Signal(device=name) for name in dict.fromkeys(switches) if name is not None]
    return both(*seen) if seen else None


def _stroke(devices: Devices, stroke: tree.Stroke) -> Given:
    if stroke.actuator is not None:
        actuator = find_actuator(devices, stroke.actuator)
    elif len(devices.actuators) == 1:
        actuator = devices.actuators[0]
    else:
        actuator = None
        names = ", ".join(a.name for a in devices.actuators)
        devices.fault("RW205", f"{stroke.direction} which cylinder?", stroke.span, expected=names or "a cylinder")
    if actuator is None:
        return Given()
    toward = _ENDS[stroke.direction]
    commands = (*_driven(actuator, toward), *_quick(devices, actuator, stroke))
    return Given(commands, actuator.name, outputs_of(actuator), stroke.span, actuator, toward)


def _driven(actuator: Actuator, toward: End) -> tuple[Command, ...]:
    valve = actuator.valve
    wanted, other = (valve.extend, valve.retract) if toward is End.END else (valve.retract, valve.extend)
    match valve.kind:
        case ValveKind.MEMORY:
            return (Pulse(wanted or "", against=other or ""),)
        case ValveKind.THREE_POSITION:
            return (Switch(wanted or "", on=True), Switch(other or "", on=False))
        case ValveKind.SPRING_RETURN if wanted is not None:
            return (Switch(wanted, on=True),)
        case ValveKind.SPRING_RETURN:
            return (Switch(other or "", on=False),)


def _quick(devices: Devices, actuator: Actuator, stroke: tree.Stroke) -> tuple[Command, ...]:
    rapid = actuator.valve.rapid
    if stroke.rapidly and (rapid is None or stroke.direction != "extend"):
        why = (
            "its valve has no rapid solenoid" if rapid is None else "its rapid solenoid quickens only the stroke out"
        )
        message = f"{actuator.name} cannot {stroke.direction} rapidly: {why}"
        devices.fault("RW228", message, stroke.span)
        return ()
    return () if rapid is None else (Switch(rapid.solenoid, on=stroke.rapidly),)


def _turn(devices: Devices, name: tree.Name, *, on: bool) -> Given:
    load = find_device(devices, name)
    match load:
        case None:
            return Given()
        case Load() | Inside(kind=InsideKind.SIGNAL):
            return Given((Switch(load.name, on=on),), load.name, (load.name,), name.span)
        case _:
            loads = ", ".join(d.name for d in devices.loads) or "a lamp, horn or motor"
            message = f"{load.name} cannot be turned {'on' if on else 'off'}"
            devices.fault("RW216", message, name.span, expected=loads)
            return Given()


def _run(devices: Devices, run: tree.Run, *, ends: bool) -> Given:
    """A motor runs until its step is over where the step says when; else until it is stopped or turned round."""
    motor = _motor(devices, run.motor)
    if motor is None:
        return Given()
    forward = run.direction == "forward"
    wanted, other = (motor.forward, motor.reverse) if forward else (motor.reverse, motor.forward)
    off = Switch(other, on=False)
    commands = (Switch(wanted, on=False), off, Pulse(wanted)) if ends else (Switch(wanted, on=True), off)
    return Given(commands, motor.name, outputs_of(motor), run.span)


def _motor(devices: Devices, name: tree.Name) -> Motor | None:
    device = find_device(devices, name)
    if device is None or isinstance(device, Motor):
        return device
    motors = ", ".join(m.name for m in devices.motors) or "a motor that runs both ways"
    message = f"{device.name} is a {kind_of(device)}, and cannot be run forward or in reverse"
    devices.fault("RW203", message, name.span, expected=motors)
    return None


def _halt(devices: Devices, name: tree.Name) -> Given:
    device = find_device(devices, name)
    match device:
        case None:
            return Given()
        case Motor():
            off = [device.forward, device.reverse]
        case Actuator() if device.valve.kind is ValveKind.THREE_POSITION:
            off = list(device.valve.solenoids)
        case Actuator():
            goes = "goes home" if device.valve.kind is ValveKind.SPRING_RETURN else "completes its stroke"
            message = f"{device.name} cannot be stopped on its way: with its solenoids off it {goes}"
            devices.fault("RW226", message, name.span)
            return Given()
        case _:
            devices.fault("RW203", f"{device.name} is a {kind_of(device)}, and does not move", name.span,
                          expected="a motor, or a cylinder with a three-position valve")  # fmt: skip
            return Given()
    return Given(tuple(Switch(output, on=False) for output in off), device.name, outputs_of(device), name.span)
