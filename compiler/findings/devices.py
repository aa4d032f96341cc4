"""Devices: memory valves, assumed times, names that print differently, and what is never used."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.condition import Rise, Signal, walk
from compiler.findings.subject import Subject
from compiler.findings.valves import drops_out_on
from compiler.machine import LoadKind, TravelBasis, ValveKind
from compiler.units import time_text
from grammar.diagnostic import Diagnostic
from grammar.structured_text.reserved import is_reserved

__all__ = ["assumed_times", "memory_valves", "names_in_structured_text", "unused_devices"]


def memory_valves(subject: Subject) -> Iterator[Diagnostic]:
    """RW309: what a lost supply, or a STOP like it, does to a cylinder on a double solenoid valve."""
    for actuator in subject.machine.actuators:
        if actuator.valve.kind is ValveKind.MEMORY:
            message = f"on {drops_out_on(subject)} {actuator.name} completes its stroke and stays there"
            yield subject.at_device("RW309", message, actuator.name)


def assumed_times(subject: Subject) -> Iterator[Diagnostic]:
    """RW315: nothing says how long a cylinder's strokes take."""
    for actuator in subject.machine.actuators:
        times = {"extend": actuator.extend_time, "retract": actuator.retract_time}
        assumed = {way: t for way, t in times.items() if t.basis is TravelBasis.ASSUMED}
        if assumed:
            t = next(iter(assumed.values()))
            span = f"{time_text(t.least_us)} to {time_text(t.greatest_us)}"
            message = f"the time {actuator.name} takes to {' and to '.join(assumed)} is assumed: {span}"
            yield subject.at_device("RW315", message, actuator.name)


def names_in_structured_text(subject: Subject) -> Iterator[Diagnostic]:
    """RW312: the name can't stand in an IEC 61131-3 program as it is."""
    for device in (*subject.machine.inputs, *subject.machine.loads):
        plain = device.name.isascii() and device.name.isidentifier() and "__" not in device.name
        if is_reserved(device.name):
            reason = "is a word of IEC 61131-3"
        elif not plain or device.name.endswith("_"):
            reason = "is not a valid identifier in IEC 61131-3"
        else:
            continue
        message = f"{device.name} {reason}, and is spelt differently in structured text"
        yield subject.at_device("RW312", message, device.name)


def unused_devices(subject: Subject) -> Iterator[Diagnostic]:
    """RW313: declared, and then neither switched nor asked. Switches and valves of cylinders count as used."""
    chart = subject.chart
    driven = {action.output for step in chart.steps for action in step.actions}
    conditions = (*chart.conditions, *(c for requirement in chart.requirements for c in requirement.conditions))
    used = driven | {part.device for c in conditions for part in walk(c) if isinstance(part, Signal | Rise)}
    on_cylinders = {s.name for a in subject.machine.actuators for s in (*a.limit_switches, *a.pressure_switches)}
    for device in subject.machine.inputs:
        if device.name not in used | on_cylinders:
            yield subject.at_device("RW313", f"nothing asks {device.name}", device.name)
    for load in subject.machine.loads:
        if load.name not in used and load.kind not in (LoadKind.SOLENOID, LoadKind.CONTACTOR):
            yield subject.at_device("RW313", f"nothing turns {load.name} on", load.name)
    for actuator in subject.machine.actuators:
        rapid = actuator.valve.rapid
        if not driven & {actuator.valve.extend, actuator.valve.retract}:
            yield subject.at_device("RW313", f"nothing moves {actuator.name}", actuator.name)
        elif rapid is not None and rapid.solenoid not in driven:
            yield subject.at_device("RW313", f"nothing turns {rapid.solenoid} on", rapid.solenoid)
    for motor in subject.machine.motors:
        if not driven & {motor.forward, motor.reverse}:
            yield subject.at_device("RW313", f"nothing runs {motor.name}", motor.name)
