"""Names looked up: what a name in the words stands for, and a fault where it stands for nothing that suits."""

from __future__ import annotations

from compiler.lowering.defaults import Device
from compiler.lowering.devices import Devices
from compiler.lowering.inside import Inside, InsideKind
from compiler.machine import Actuator, Load, Motor
from grammar.diagnostic import nearest
from grammar.sequence import tree

__all__ = ["find_actuator", "find_device", "find_inside", "kind_of", "outputs_of"]

_PLACES = ("at-end", "at-home")


def kind_of(device: Device) -> str:
    """What a device is, in a word or two."""
    match device:
        case Actuator():
            return "cylinder"
        case Motor():
            return "motor"
        case _:
            return device.kind.value


def outputs_of(device: Device) -> tuple[str, ...]:
    """The outputs that a device is driven by: a load itself, the solenoids of a cylinder, both ways of a motor."""
    match device:
        case Actuator():
            return device.valve.solenoids
        case Motor():
            return (device.forward, device.reverse)
        case Load():
            return (device.name,)
        case _:
            return ()


def find_device(devices: Devices, name: tree.Name) -> Device | None:
    """The device a name means; None, and a fault with the nearest name, where there is none."""
    device = devices.find(name.text)
    if device is None:
        close = nearest(name.text, devices.known) or nearest(name.text, list(_PLACES))
        known = ", ".join(devices.known[:12]) or "none"
        more = " and others" if len(devices.known) > 12 else ""
        _unknown(devices, name, f"no device is called {name.text}", f"one of {known}{more}", close)
    return device


def _unknown(devices: Devices, name: tree.Name, message: str, expected: str, close: str | None) -> None:
    """A slip is to be corrected wherever it stands; a name like no other is to be declared, and told of once."""
    if not close and name.text.casefold() in devices.undeclared:
        return
    devices.undeclared |= set() if close else {name.text.casefold()}
    cure = f"did you mean {close}?" if close else ""
    devices.fault("RW202", message, name.span, expected=expected, cure=cure)


def find_actuator(devices: Devices, name: tree.Name) -> Actuator | None:
    """The cylinder a name means; None, and a fault, where it means something else or nothing."""
    device = find_device(devices, name)
    if device is None or isinstance(device, Actuator):
        return device
    cylinders = ", ".join(a.name for a in devices.actuators) or "a cylinder"
    devices.fault("RW203", f"{device.name} is a {kind_of(device)}, not a cylinder", name.span, expected=cylinders)
    return None


def find_inside(devices: Devices, name: tree.Name, kind: InsideKind) -> Inside | None:
    """The counter, signal, station or routine a name means; None, and a fault, where there is none of that name."""
    device = devices.find(name.text)
    if isinstance(device, Inside) and device.kind is kind:
        return device
    known = [inside.name for inside in devices.inside if inside.kind is kind]
    expected = ", ".join(known[:12]) or f"a {kind} that the program declares"
    close = nearest(name.text, known)
    if device is None:
        _unknown(devices, name, f"no {kind} is called {name.text}", expected, close)
    else:
        message = f"{device.name} is a {kind_of(device)}, not a {kind}"
        devices.fault("RW203", message, name.span, expected=expected)
    return None
