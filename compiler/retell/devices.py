"""The lines that declare a Machine's devices: the lowering of declarations, the other way round."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from compiler.lowering.devices import USUAL_RESET_UM
from compiler.machine import (
    Actuator,
    End,
    InputKind,
    LimitSwitch,
    Load,
    LoadKind,
    Machine,
    PressureSwitch,
    Travel,
    TravelBasis,
    ValveKind,
)
from compiler.units import time_text
from grammar.sequence import tree

__all__ = ["declared", "time"]

_OWNED = (InputKind.LIMIT_SWITCH, InputKind.PRESSURE_SWITCH)


def declared(machine: Machine) -> tuple[tree.Declaration, ...]:
    """The machine's title and every device, cylinders first. Times that were derived are stated as they came out."""
    title = [tree.Machine(tree.Text(machine.title))] if machine.title else []
    cylinders = [_cylinder(machine, actuator) for actuator in machine.actuators]
    outside = [
        tree.InputDevice(str(i.kind), tree.Name(i.name), str(i.contact))
        for i in machine.inputs
        if i.kind not in _OWNED
    ]
    motors = [
        tree.MotorDevice(str(m.kind), tree.Name(m.name), tree.Name(m.forward), tree.Name(m.reverse))
        for m in machine.motors
    ]
    driven = {name for m in machine.motors for name in (m.forward, m.reverse)}
    loads = [
        tree.LoadDevice(_load_kind(load), tree.Name(load.name))
        for load in machine.loads
        if load.kind is not LoadKind.SOLENOID and load.name not in driven
    ]
    return (*title, *cylinders, *motors, *outside, *loads)


def _load_kind(load: Load) -> str:
    """The word that declares a load; a contactor on its own is told as the motor that it switches."""
    return str(LoadKind.MOTOR if load.kind is LoadKind.CONTACTOR else load.kind)


def time(time_us: int) -> tree.Quantity:
    """A time in words."""
    number, unit = time_text(time_us).split()
    return tree.Quantity(number, unit)


def _cylinder(machine: Machine, actuator: Actuator) -> tree.Cylinder:
    items = tuple(tree.Item(attribute) for attribute in _attributes(machine, actuator))
    return tree.Cylinder(str(actuator.medium), tree.Name(actuator.name), items)


def _attributes(machine: Machine, actuator: Actuator) -> Iterator[tree.Attribute]:
    if actuator.bore_um is not None:
        yield tree.Bore(_length(actuator.bore_um))
    if actuator.rod_um is not None:
        yield tree.Rod(_length(actuator.rod_um))
    yield tree.StrokeLength(_length(actuator.stroke_um))
    yield from _travel("extends", actuator.extend_time)
    yield from _travel("retracts", actuator.retract_time)
    if actuator.single_acting:
        yield tree.SingleActing()
    if actuator.rest is End.END:
        yield tree.NormallyExtended()
    valve = actuator.valve
    extend, retract = tree.Name(valve.extend or ""), tree.Name(valve.retract or "")
    match valve.kind:
        case ValveKind.SPRING_RETURN:
            yield tree.SingleSolenoid(tree.Name(valve.extend or valve.retract or ""))
        case ValveKind.MEMORY:
            yield tree.DoubleSolenoid(extend, retract)
        case ValveKind.THREE_POSITION:
            yield tree.ThreePosition(extend, retract, str(valve.centre).removesuffix(" centre"))
    if valve.rapid is not None:
        yield tree.RapidSolenoid(str(valve.rapid.kind), tree.Name(valve.rapid.solenoid))
        yield from _travel("extends rapidly", valve.rapid.time)
    for switch in actuator.limit_switches:
        yield tree.LimitSwitch(_limit_switch(machine, actuator, switch))
    for pressure in actuator.pressure_switches:
        yield _pressure_switch(machine, pressure)


def _travel(direction: str, travel: Travel) -> Iterator[tree.TravelTime]:
    if travel.basis is not TravelBasis.ASSUMED:
        greatest = None if travel.greatest_us == travel.least_us else time(travel.greatest_us)
        yield tree.TravelTime(direction, time(travel.least_us), greatest)


def _limit_switch(machine: Machine, actuator: Actuator, switch: LimitSwitch) -> tree.Switch:
    at: str | tree.Quantity = _length(switch.at_um)
    if switch.toward is End.HOME:
        at = "home"
    elif switch.at_um == actuator.stroke_um:
        at = "end"
    usual = min(USUAL_RESET_UM, max(1, actuator.stroke_um // 20))
    reset = None if switch.reset_um == usual else _length(switch.reset_um)
    return tree.Switch(tree.Name(switch.name), at, reset, _contact(machine, switch.name))


def _pressure_switch(machine: Machine, switch: PressureSwitch) -> tree.PressureSwitch:
    direction = "retracts" if switch.toward is End.HOME else "extends"
    pressure = tree.Quantity(f"{Decimal(str(switch.pressure_bar)).normalize():f}", "bar")
    return tree.PressureSwitch(tree.Name(switch.name), pressure, direction, _contact(machine, switch.name))


def _contact(machine: Machine, name: str) -> str:
    return str(machine.input(name).contact)


def _length(length_um: int) -> tree.Quantity:
    return tree.Quantity(f"{Decimal(length_um).scaleb(-3).normalize():f}", "mm")
