"""Conditions in words become conditions of the Chart. What a word may mean depends on where it stands."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.condition import (
    Condition,
    Elapsed,
    Or,
    Rise,
    Signal,
    Sustained,
    both,
    either,
    negated,
    walk,
)
from compiler.lowering.defaults import Device
from compiler.lowering.devices import Devices
from compiler.machine import Actuator, Contact, End, Input, InputKind, Load
from compiler.units import microseconds
from grammar.diagnostic import nearest
from grammar.sequence import tree
from grammar.source import Span

__all__ = ["Setting", "end_switch", "find_actuator", "find_device", "lower_condition"]

_ON = {"made": True, "on": True, "held": True, "pressed": True, "not made": False, "off": False, "released": False}
_PLACES = {"at-end": End.END, "at-home": End.HOME}


@dataclass(frozen=True, slots=True)
class Setting:
    """Where a condition stands: the step whose time ``after`` counts, the actuators a bare ``at-end`` means,
    whether "is pressed" is a moment (else it means held), and whether outputs may be spoken of."""

    step: str | None = None
    moving: tuple[Actuator, ...] = ()
    moments: bool = True
    outputs: bool = False


def find_device(devices: Devices, name: tree.Name) -> Device | None:
    """The device a name means; None, and a fault with the nearest name, where there is none."""
    device = devices.find(name.text)
    if device is None:
        close = nearest(name.text, devices.known) or nearest(name.text, list(_PLACES))
        known = ", ".join(devices.known[:12]) or "none"
        devices.fault("RW202", f"no device is called {name.text}", name.span, expected=f"one of {known}",
                      cure=f"did you mean {close}?" if close else "")  # fmt: skip
    return device


def find_actuator(devices: Devices, name: tree.Name) -> Actuator | None:
    """The cylinder a name means; None, and a fault, where it means something else or nothing."""
    device = find_device(devices, name)
    if device is None or isinstance(device, Actuator):
        return device
    what = device.kind.value
    cylinders = ", ".join(a.name for a in devices.actuators) or "a cylinder"
    devices.fault("RW203", f"{device.name} is a {what}, not a cylinder", name.span, expected=cylinders)
    return None


def end_switch(actuator: Actuator, place: End) -> str | None:
    """The limit switch that sees an actuator at one of its ends."""
    at = actuator.stroke_um if place is End.END else 0
    return next((s.name for s in actuator.limit_switches if s.at_um == at and s.toward is place), None)


def lower_condition(devices: Devices, cond: tree.Cond, setting: Setting) -> Condition | None:
    """The condition some words mean; None where they are at fault (which is noted)."""
    match cond:
        case tree.StateIs():
            return _state(devices, cond, setting)
        case tree.PlaceIs():
            return _place(devices, cond, setting)
        case tree.After(time=time):
            if setting.step is None:
                devices.fault("RW209", '"after" counts the time of a step, and there is no step here', cond.span)
                return None
            time_us = devices.value(microseconds, time)
            return Elapsed(step=setting.step, time_us=time_us) if time_us else None
        case tree.Sustained(of=of, time=time):
            inner = lower_condition(devices, of, setting)
            if inner is None or not _lasts(devices, inner, of.span, "sustained"):
                return None
            time_us = devices.value(microseconds, time)
            return Sustained(of=inner, time_us=time_us) if time_us else None
        case tree.NotCond(of=of):
            inner = lower_condition(devices, of, setting)
            if inner is None or not _lasts(devices, inner, of.span, "negated", elapsed=True):
                return None
            return negated(inner)
        case tree.AllOf(parts=parts):
            found = [lower_condition(devices, part, setting) for part in parts]
            return both(*(c for c in found if c is not None)) if None not in found else None
        case tree.AnyOf(parts=parts):
            found = [lower_condition(devices, part, setting) for part in parts]
            return either(*(c for c in found if c is not None)) if None not in found else None


def _lasts(devices: Devices, condition: Condition, span: Span, doing: str, *, elapsed: bool = False) -> bool:
    """Whether a condition holds no moment (and no time in step, unless allowed); otherwise a fault."""
    for part in walk(condition):
        if isinstance(part, Rise):
            devices.fault("RW208", f"the moment {part.device} is pressed cannot be {doing}", span)
            return False
        if isinstance(part, Elapsed) and not elapsed:
            devices.fault("RW208", f"a time in step cannot be {doing}", span)
            return False
    return True


def _state(devices: Devices, cond: tree.StateIs, setting: Setting) -> Condition | None:
    if cond.word in _PLACES:
        return _place(devices, tree.PlaceIs(cond.device, cond.word, span=cond.span), setting)
    device = find_device(devices, cond.device)
    match device:
        case None:
            return None
        case Actuator():
            devices.fault("RW203", f"{device.name} is a cylinder", cond.span,
                          expected=f"{device.name} is at-end, or {device.name} is at-home")  # fmt: skip
            return None
        case Load() if not setting.outputs:
            devices.fault("RW209", f"{device.name} is switched by the sequence itself", cond.device.span)
            return None
        case Load():
            return _load_state(devices, device, cond)
        case Input():
            return _input_state(devices, device, cond, setting)


def _load_state(devices: Devices, load: Load, cond: tree.StateIs) -> Condition | None:
    if cond.word not in ("made", "on", "off", "not made"):
        devices.fault(
            "RW203", f"a {load.kind} is not {cond.word}", cond.span, expected=f"{load.name} is on, or is off"
        )
        return None
    signal = Signal(device=load.name)
    return signal if _ON[cond.word] else negated(signal)


def _input_state(devices: Devices, device: Input, cond: tree.StateIs, setting: Setting) -> Condition | None:
    signal = Signal(device=device.name)
    button = device.kind is InputKind.PUSHBUTTON
    if cond.word in ("open", "closed"):
        # These two speak of the contact: a normally closed one is open while the device is actuated.
        conducts = cond.word == "closed"
        return signal if conducts == (device.contact is Contact.NORMALLY_OPEN) else negated(signal)
    if cond.word in ("pressed", "held", "released") and not button:
        devices.fault("RW203", f"a {device.kind} is not {cond.word}", cond.span,
                      expected=f"{device.name} is made, or is not made")  # fmt: skip
        return None
    if cond.word == "pressed" and setting.moments:
        return Rise(device=device.name)
    return signal if _ON[cond.word] else negated(signal)


def _place(devices: Devices, cond: tree.PlaceIs, setting: Setting) -> Condition | None:
    if cond.actuator is not None:
        actuator = find_actuator(devices, cond.actuator)
        if actuator is None:
            return None
        moving: tuple[Actuator, ...] = (actuator,)
    else:
        moving = setting.moving or (tuple(devices.actuators) if len(devices.actuators) == 1 else ())
        if not moving:
            devices.fault("RW205", f"{cond.word} of which cylinder?", cond.span,
                          expected=f"for example: {devices.actuators[0].name} is {cond.word}"
                          if devices.actuators else "a cylinder")  # fmt: skip
            return None
    switches = []
    for actuator in moving:
        switch = end_switch(actuator, _PLACES[cond.word])
        if switch is None:
            end = _PLACES[cond.word].value
            cure = (
                f'Add "limit switch" with its name and "at {end}" under {actuator.name}, or time the stroke: for 5 s.'
            )
            devices.fault("RW204", f"{actuator.name} has no limit switch at {end}", cond.span, cure=cure)
            return None
        switches.append(Signal(device=switch))
    there = both(*switches)
    if not cond.negated:
        return there
    return Or(of=tuple(negated(s) for s in switches)) if len(switches) > 1 else negated(there)
