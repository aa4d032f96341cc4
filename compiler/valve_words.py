"""In plain words, what valves and motors do with their solenoids off: on STOP and when the supply is lost."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.machine import Actuator, Centre, End, Machine, RapidKind, Travel, ValveKind
from compiler.units import time_text

__all__ = ["valve_words"]

_CENTRES = {
    Centre.CLOSED: "stops where it is and is held there (closed centre)",
    Centre.TANDEM: "stops where it is and is held there, and the pump runs unloaded (tandem centre)",
    Centre.FLOAT: "is driven no further and not held: a load may move it (float centre)",
}


def valve_words(machine: Machine) -> Iterator[str]:
    """One sentence for each cylinder and motor, and one for each solenoid that makes a stroke quick."""
    for actuator in machine.actuators:
        solenoids = [name for name in (actuator.valve.extend, actuator.valve.retract) if name is not None]
        yield f"With {' and '.join(solenoids)} off, or the supply lost, {actuator.name} {_left_alone(actuator)}."
        yield from _quick(actuator)
    for motor in machine.motors:
        yield f"With {motor.forward} and {motor.reverse} off, or the supply lost, {motor.name} stops."


def _left_alone(actuator: Actuator) -> str:
    match actuator.valve.kind:
        case ValveKind.SPRING_RETURN:
            return "extends" if actuator.rest is End.END else "retracts"
        case ValveKind.MEMORY:
            return "completes the stroke it has begun and stays there (memory valve)"
        case ValveKind.THREE_POSITION:
            assert actuator.valve.centre is not None
            return _CENTRES[actuator.valve.centre]


def _quick(actuator: Actuator) -> Iterator[str]:
    """A regenerative stroke pushes with the area of the rod alone, for both sides are under pressure (textbook)."""
    rapid = actuator.valve.rapid
    if rapid is not None:
        push = ", and pushes only as its rod's area does" if rapid.kind is RapidKind.REGENERATIVE else ""
        quick, slow = _span(rapid.time), _span(actuator.extend_time)
        yield f"With {rapid.solenoid} on, {actuator.name} extends in {quick} instead of {slow}{push}."


def _span(travel: Travel) -> str:
    least, greatest = time_text(travel.least_us), time_text(travel.greatest_us)
    return least if least == greatest else f"{least} to {greatest}"
