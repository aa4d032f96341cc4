"""Conditions in words become conditions of the Chart. What a word may mean depends on where it stands.

That a signal is on, or a station at rest, is a matter of steps that are not known yet: it stands as the activity of a
step of a made-up name (``signal_on``, ``at_rest``) until the net is whole.
"""

from __future__ import annotations

from dataclasses import dataclass

from compiler.condition import (
    Active,
    Condition,
    Counted,
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
from compiler.lowering.commands import end_switch
from compiler.lowering.devices import Devices
from compiler.lowering.inside import Inside, InsideKind
from compiler.lowering.named import find_actuator, find_device, find_inside, kind_of
from compiler.machine import Actuator, Contact, End, Input, InputKind, Load, Motor
from compiler.units import microseconds
from grammar.sequence import tree
from grammar.source import Span

__all__ = ["Setting", "at_rest", "lower_condition", "signal_on"]

_ON = {"made": True, "on": True, "held": True, "pressed": True, "not made": False, "off": False, "released": False}
_PLACES = {"at-end": End.END, "at-home": End.HOME}


@dataclass(frozen=True, slots=True)
class Setting:
    """Where a condition stands: the step whose time ``after`` counts, the actuators a bare ``at-end`` means,
    whether "is pressed" is a moment (else it means held), and whether outputs and counters may be spoken of.
    ``astray``: which actuators move was at fault, and has been told."""

    step: str | None = None
    moving: tuple[Actuator, ...] = ()
    astray: bool = False
    moments: bool = True
    outputs: bool = False
    counters: bool = True


def signal_on(name: str) -> Condition:
    """That a signal is on, as it stands until the steps are known."""
    return Active(step=f"@signal {name}")


def at_rest(station: str) -> Condition:
    """That a station is at rest, as it stands until the steps are known."""
    return Active(step=f"@rest {station}")


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
        case tree.HasReached():
            return _reached(devices, cond, setting)
        case tree.AtRest(station=name):
            station = find_inside(devices, name, InsideKind.STATION)
            return None if station is None else at_rest(station.name)
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
        case Motor():
            devices.fault("RW203", f"{device.name} is a motor, and has no position", cond.span,
                          expected="the switch or sensor that sees what it moves")  # fmt: skip
            return None
        case Inside():
            return _inside_state(devices, device, cond)
        case Load() if not setting.outputs:
            devices.fault("RW209", f"{device.name} is switched by the sequence itself", cond.device.span)
            return None
        case Load():
            return _load_state(devices, device, cond)
        case Input():
            return _input_state(devices, device, cond, setting)


def _reached(devices: Devices, cond: tree.HasReached, setting: Setting) -> Condition | None:
    counter = find_inside(devices, cond.counter, InsideKind.COUNTER)
    if counter is None:
        return None
    if not setting.counters:
        devices.fault(
            "RW225", f"{counter.name} counts inside the sequence, where no requirement can see it", cond.span
        )
        return None
    if cond.number < 1:
        return None  # told by the reader
    return Counted(counter=counter.name, at_least=cond.number)


def _inside_state(devices: Devices, device: Inside, cond: tree.StateIs) -> Condition | None:
    """A signal is on or off; a counter, a station or a routine is neither."""
    on = _ON.get(cond.word) if cond.word in ("made", "on", "off", "not made") else None
    if device.kind is InsideKind.SIGNAL and on is not None:
        return signal_on(device.name) if on else negated(signal_on(device.name))
    said = {
        InsideKind.SIGNAL: f"{device.name} is on, or is off",
        InsideKind.COUNTER: f"{device.name} has reached 12",
        InsideKind.STATION: f"{device.name} is at rest",
        InsideKind.ROUTINE: "an input, a signal or a counter",
    }
    message = f"a {kind_of(device)} is not {cond.word}"
    devices.fault("RW203", message, cond.span, expected=said[device.kind])
    return None


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
        if not moving and setting.astray:
            return None
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
