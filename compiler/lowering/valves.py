"""The valve of a cylinder and the solenoids of motors that run both ways, from the lines that name them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from compiler.lowering.ratings import Stated
from compiler.lowering.travel import travel_time
from compiler.machine import (
    Centre,
    End,
    Load,
    LoadKind,
    Motor,
    MotorKind,
    Rapid,
    RapidKind,
    TravelBasis,
    Valve,
    ValveKind,
)
from grammar.sequence import tree

if TYPE_CHECKING:
    from compiler.lowering.devices import Devices

__all__ = ["add_motor", "add_solenoids", "valve_of"]


def valve_of(
    devices: Devices, cylinder: tree.Cylinder, once: Mapping[str, tree.Attribute], stated: Stated, rest: End
) -> Valve:
    """The valve that the lines of a cylinder name, or the one that is assumed; faults go to ``devices``."""
    name = cylinder.name.text
    named = [once[kind] for kind in ("DoubleSolenoid", "ThreePosition", "SingleSolenoid") if kind in once]
    for extra in named[1:]:
        devices.fault("RW215", f"{name} has two valves", extra.span)
    rapid = _rapid(devices, name, once, stated)
    match named[0] if named else None:
        case tree.DoubleSolenoid(extends=out, retracts=back) as double:
            if stated.single_acting:
                message = f"{name} is single-acting: its spring and a second solenoid exclude each other"
                devices.fault("RW215", message, double.span)
            return Valve(kind=ValveKind.MEMORY, extend=out.text, retract=back.text, rapid=rapid)
        case tree.ThreePosition(extends=out, retracts=back, centre=centre) as centred:
            if stated.single_acting:
                message = f"{name} is single-acting: a spring brings it home, and no solenoid retracts it"
                devices.fault("RW215", message, centred.span)
            return Valve(
                kind=ValveKind.THREE_POSITION,
                extend=out.text,
                retract=back.text,
                centre=Centre(f"{centre} centre"),
                rapid=rapid,
            )
        case tree.SingleSolenoid(solenoid=one):
            solenoid = one.text
        case _:
            solenoid = f"SOL_{name}"
            message = f"{name} names no valve: {solenoid}, single solenoid with spring return, is assumed"
            devices.fault("RW320", message, cylinder.name.span)
    if rest is End.END:
        return Valve(kind=ValveKind.SPRING_RETURN, retract=solenoid, rapid=rapid)
    return Valve(kind=ValveKind.SPRING_RETURN, extend=solenoid, rapid=rapid)


def _rapid(devices: Devices, name: str, once: Mapping[str, tree.Attribute], stated: Stated) -> Rapid | None:
    """The solenoid that makes the stroke out quick, and its time: as stated or, of a regenerative one, calculated."""
    line, time_line = once.get("RapidSolenoid"), once.get("extends rapidly")
    if not isinstance(line, tree.RapidSolenoid):
        if time_line is not None:
            cure = "add a line: rapid solenoid SOL3  (or regenerative solenoid SOL3)"
            devices.fault("RW250", f"no solenoid makes {name} extend rapidly", time_line.span, cure=cure)
        return None
    kind = RapidKind(line.kind)
    piston = stated.regenerative if kind is RapidKind.REGENERATIVE else None
    time = travel_time(stated.rapid_us, piston, End.END)
    if time.basis is TravelBasis.ASSUMED and time_line is None:
        devices.fault("RW250", f"nothing says how quick {name} is with {line.solenoid.text} on", line.span)
    return Rapid(kind=kind, solenoid=line.solenoid.text, time=time)


def add_solenoids(devices: Devices, cylinder: tree.Cylinder, valve: Valve) -> None:
    """The solenoids of a cylinder become loads, each of which must have a name of its own."""
    named: list[tree.Name] = []
    for attribute in (item.attribute for item in cylinder.items):
        match attribute:
            case tree.SingleSolenoid(solenoid=name) | tree.RapidSolenoid(solenoid=name):
                named.append(name)
            case tree.DoubleSolenoid(extends=one, retracts=other) | tree.ThreePosition(extends=one, retracts=other):
                named += [one, other]
            case _:
                pass
    for solenoid in valve.solenoids:
        written = next((name for name in named if name.text == solenoid), None)
        if written is not None:
            named.remove(written)
        span = cylinder.name.span if written is None else written.span
        devices.add(Load(name=solenoid, kind=LoadKind.SOLENOID), span)


def add_motor(devices: Devices, motor: tree.MotorDevice) -> None:
    """A motor that runs both ways, and what drives it: contactors where it is electric, solenoids otherwise."""
    kind = MotorKind(motor.kind)
    forward, reverse = motor.forward, motor.reverse
    devices.add(Motor(name=motor.name.text, kind=kind, forward=forward.text, reverse=reverse.text), motor.name.span)
    drives = LoadKind.CONTACTOR if kind is MotorKind.ELECTRIC else LoadKind.SOLENOID
    for name in (forward, reverse):
        devices.add(Load(name=name.text, kind=drives), name.span)
