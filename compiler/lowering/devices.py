"""Declarations become the Machine: every device, valve, switch and stroke time, and the table of names."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

from compiler.faults import finding
from compiler.lowering.defaults import (
    DEFAULT_STROKE_UM,
    USUAL_RESET_UM,
    Device,
    default_buttons,
    default_cylinders,
)
from compiler.lowering.inside import Inside, InsideKind
from compiler.lowering.rating_lines import line_key, pump_of
from compiler.lowering.ratings import stated_of
from compiler.lowering.travel import travel_time
from compiler.lowering.valves import add_motor, add_solenoids, valve_of
from compiler.machine import (
    Actuator,
    Contact,
    End,
    Input,
    InputKind,
    LimitSwitch,
    Load,
    LoadKind,
    Machine,
    Medium,
    Motor,
    PressureSwitch,
)
from compiler.ratings import Pump, Ratings
from compiler.units import NotThatKind, OutOfRange, bar, micrometres
from grammar.diagnostic import Diagnostic
from grammar.sequence import tree
from grammar.source import Span

__all__ = ["USUAL_RESET_UM", "Devices", "lower_devices"]

_DIRECTION = {"extends": End.END, "retracts": End.HOME}

Value = TypeVar("Value")


@dataclass
class Devices:
    """The machine under construction: devices in written order, where each was declared, and the faults met."""

    title: str = ""
    actuators: list[Actuator] = field(default_factory=list)
    inputs: list[Input] = field(default_factory=list)
    loads: list[Load] = field(default_factory=list)
    motors: list[Motor] = field(default_factory=list)
    inside: list[Inside] = field(default_factory=list)
    pump: Pump | None = None
    spans: dict[str, Span] = field(default_factory=dict)  # of a line as well, such as "PLATEN.Bore"
    faults: list[Diagnostic] = field(default_factory=list)
    undeclared: set[str] = field(default_factory=set)  # names told to be unknown that are like no other
    _names: dict[str, Device] = field(default_factory=dict)

    def find(self, name: str) -> Device | None:
        """The device of that name, letter case ignored."""
        return self._names.get(name.casefold())

    @property
    def known(self) -> list[str]:
        """Every declared name, as declared."""
        return [device.name for device in self._names.values()]

    def add(self, device: Device, span: Span) -> None:
        """Enter a device in the table of names; a second one of the same name is a fault."""
        other = self._names.get(device.name.casefold())
        if other is not None:
            same = "" if other.name == device.name else f" ({other.name}: letter case does not tell names apart)"
            self.fault("RW201", f"the name {device.name} is already taken{same}", span)
            return
        self._names[device.name.casefold()] = device
        self.spans[device.name] = span
        match device:
            case Actuator():
                self.actuators.append(device)
            case Input():
                self.inputs.append(device)
            case Load():
                self.loads.append(device)
            case Motor():
                self.motors.append(device)
            case Inside():
                self.inside.append(device)

    def fault(self, code: str, message: str, span: Span, *, expected: str = "", cure: str = "") -> None:
        """Note something about the words at ``span``."""
        self.faults.append(finding(code, message, span.start, span.end, expected=expected, cure=cure))

    def value(self, convert: Callable[[tree.Quantity], Value], quantity: tree.Quantity) -> Value | None:
        """A quantity in the unit of ``convert``; None, and a fault, where it is of the wrong kind."""
        try:
            return convert(quantity)
        except NotThatKind as wrong:
            message = f"{quantity.number} {quantity.unit} does not fit here"
            cure = "write a quantity within these bounds" if isinstance(wrong, OutOfRange) else ""
            self.fault("RW206", message, quantity.span, expected=str(wrong), cure=cure)
            return None

    def machine(self, *, start: str | None, stop: str | None) -> Machine:
        """The finished Machine."""
        return Machine(
            title=self.title,
            actuators=tuple(self.actuators),
            motors=tuple(self.motors),
            inputs=tuple(self.inputs),
            loads=tuple(self.loads),
            start=start,
            stop=stop,
            pump=self.pump,
        )


def lower_devices(program: tree.Program) -> Devices:
    """Every device the program declares or, where it declares none, the default ones."""
    devices = Devices()
    kinds = tree.Cylinder | tree.MotorDevice | tree.InputDevice | tree.LoadDevice
    declared = [d for d in program.declarations if isinstance(d, kinds)]
    titles = [d for d in program.declarations if isinstance(d, tree.Machine)]
    for extra in titles[1:]:
        devices.fault("RW211", "the machine already has a title", extra.span)
    devices.title = titles[0].title.text if titles else ""
    devices.pump = pump_of(devices, program)
    for declaration in declared:
        match declaration:
            case tree.Cylinder():
                _add_cylinder(devices, declaration)
            case tree.MotorDevice():
                add_motor(devices, declaration)
            case tree.InputDevice(kind=kind, name=name, contact=contact):
                maintained = kind == "selector"
                made = Input(name=name.text, kind=InputKind(kind), contact=Contact(contact), maintained=maintained)
                devices.add(made, name.span)
            case tree.LoadDevice(kind=kind, name=name):
                devices.add(Load(name=name.text, kind=LoadKind(kind)), name.span)
    nowhere = Span(0, 0)
    for device in () if declared else default_cylinders(program):
        devices.add(device, nowhere)
    if not any(isinstance(d, tree.InputDevice) for d in program.declarations):
        for button in default_buttons():
            if devices.find(button.name) is None:
                devices.add(button, nowhere)
    _add_inside(devices, program)
    return devices


def _add_inside(devices: Devices, program: tree.Program) -> None:
    """Counters, signals, stations and routines share the table of names with what is wired."""
    for declaration in program.declarations:
        match declaration:
            case tree.CounterDevice(name=name):
                devices.add(Inside(name.text, InsideKind.COUNTER), name.span)
            case tree.SignalDevice(name=name):
                devices.add(Inside(name.text, InsideKind.SIGNAL), name.span)
            case tree.Routine(name=name):
                devices.add(Inside(name.text, InsideKind.ROUTINE), name.span)
            case tree.Cycle(station=tree.Name() as name):
                devices.add(Inside(name.text, InsideKind.STATION), name.span)
            case _:
                pass


# --- cylinders ------------------------------------------------------------------------------------------------


def _add_cylinder(devices: Devices, cylinder: tree.Cylinder) -> None:
    parts = [item.attribute for item in cylinder.items]
    once: dict[str, tree.Attribute] = {}
    for part in parts:
        if isinstance(part, tree.LimitSwitch | tree.PressureSwitch):
            continue
        key = line_key(part)
        if key in once:
            devices.fault("RW211", f"{cylinder.name.text} already has this", part.span)
        once.setdefault(key, part)
    facts = stated_of(devices, once, devices.pump if cylinder.medium == "hydraulic" else None)
    devices.spans |= {f"{cylinder.name.text}.{key}": part.span for key, part in once.items()}
    rest = End.END if "NormallyExtended" in once else End.HOME
    stroke = facts.stroke_um or DEFAULT_STROKE_UM
    switches: list[LimitSwitch] = []
    pressures: list[PressureSwitch] = []
    for part in parts:
        match part:
            case tree.LimitSwitch(switch=written):
                switches += _limit_switch(devices, written, facts.stroke_um)
            case tree.PressureSwitch():
                pressures += _pressure_switch(devices, part)
            case _:
                pass
    valve = valve_of(devices, cylinder, once, facts, rest)
    out, back = (travel_time(facts.times.get(end), facts.piston, end) for end in (End.END, End.HOME))
    devices.add(
        Actuator(
            name=cylinder.name.text,
            medium=Medium(cylinder.medium),
            stroke_um=stroke,
            bore_um=facts.bore_um,
            rod_um=facts.rod_um,
            single_acting=facts.single_acting,
            ratings=None if facts.ratings == Ratings() else facts.ratings,
            rest=rest,
            valve=valve,
            extend_time=out,
            retract_time=back,
            limit_switches=tuple(switches),
            pressure_switches=tuple(pressures),
        ),
        cylinder.name.span,
    )
    _add_switches(devices, parts)
    add_solenoids(devices, cylinder, valve)


def _add_switches(devices: Devices, parts: list[tree.Attribute]) -> None:
    for part in parts:
        match part:
            case tree.LimitSwitch(switch=switch):
                contact = Contact(switch.contact)
                devices.add(Input(name=switch.name.text, kind=InputKind.LIMIT_SWITCH, contact=contact),
                            switch.name.span)  # fmt: skip
            case tree.PressureSwitch(name=name, contact=wired):
                devices.add(Input(name=name.text, kind=InputKind.PRESSURE_SWITCH, contact=Contact(wired)), name.span)
            case _:
                pass


def _limit_switch(devices: Devices, switch: tree.Switch, stroke: int | None) -> list[LimitSwitch]:
    length = stroke or DEFAULT_STROKE_UM
    if isinstance(switch.at, tree.Quantity):
        at = devices.value(micrometres, switch.at)
        if at is None:
            return []
        if stroke is None or at >= stroke:
            said = "no stroke is given" if stroke is None else "it lies beyond the stroke"
            devices.fault("RW214", f"{switch.name.text} cannot be placed: {said}", switch.at.span)
            return []
        toward = End.END
    else:
        toward = End(switch.at)
        at = length if toward is End.END else 0
    reset: int | None = min(USUAL_RESET_UM, max(1, length // 20))
    if switch.reset_travel is not None:
        reset = devices.value(micrometres, switch.reset_travel)
        room = length - at if toward is End.HOME else at
        if reset is not None and reset >= room:
            devices.fault("RW214", f"the reset travel of {switch.name.text} does not fit in the stroke",
                          switch.reset_travel.span)  # fmt: skip
            return []
    if reset is None:
        return []
    return [LimitSwitch(name=switch.name.text, at_um=at, reset_um=reset, toward=toward)]


def _pressure_switch(devices: Devices, part: tree.PressureSwitch) -> list[PressureSwitch]:
    pressure = devices.value(bar, part.pressure)
    if pressure is None:
        return []
    return [PressureSwitch(name=part.name.text, pressure_bar=pressure, toward=_DIRECTION[part.direction])]
