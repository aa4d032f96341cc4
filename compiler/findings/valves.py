"""What valves do when their solenoids are off, and quick strokes that are none."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.findings.subject import Subject
from compiler.machine import End, ValveKind
from compiler.units import time_text
from grammar.diagnostic import Diagnostic

__all__ = [
    "centred_valves",
    "driven_at_rest",
    "drops_out_on",
    "extends_without_supply",
    "not_held",
    "quick_strokes",
]


def drops_out_on(subject: Subject) -> str:
    """What leaves every solenoid off: a lost supply, and a STOP that neither leads home nor ends the stroke first."""
    forcing = subject.chart.forcing
    drops = forcing is not None and not forcing.steps
    return f"{subject.machine.stop or 'STOP'} or a lost supply" if drops else "a lost supply"


def centred_valves(subject: Subject) -> Iterator[Diagnostic]:
    """RW321 and RW322: what a lost supply, or a STOP like it, does to a cylinder on a three-position valve."""
    for actuator in subject.machine.actuators:
        centre, name = actuator.valve.centre, actuator.name
        if centre is None:
            continue
        when = drops_out_on(subject)
        if centre.holds:
            message = f"on {when} {name} stops where it is and stays there ({centre})"
            yield subject.at_device("RW321", message, name)
        else:
            message = f"on {when} {name} is free, and a load may move it ({centre})"
            yield subject.at_device("RW322", message, name)


def not_held(subject: Subject) -> Iterator[Diagnostic]:
    """RW323: a step waits with a cylinder away from its rest and both ports open to tank."""
    for step in subject.chart.steps:
        for actuator in subject.machine.actuators:
            floats = actuator.valve.centre is not None and not actuator.valve.centre.holds
            waits = not (step.initial or step.fault) and subject.exits(step)
            if floats and waits and subject.centred(step, actuator) and subject.sent(step, actuator) != actuator.rest:
                message = f"{actuator.name} is not held in this step: its valve has a float centre"
                yield subject.at_words("RW323", message, subject.place_of(step))


def driven_at_rest(subject: Subject) -> Iterator[Diagnostic]:
    """RW327: the cycle is over, and a three-position valve still drives its cylinder."""
    for step in (step for step in subject.chart.steps if step.name in subject.shape.rest):
        on = {action.output for action in step.actions}
        for actuator in subject.machine.actuators:
            left_on = [name for name in actuator.valve.opposed if name in on]
            if actuator.valve.centre is not None and len(left_on) == 1:
                into = next((t.words for t in subject.entries(step)), step.words)
                message = f"at rest {left_on[0]} is left on and goes on driving {actuator.name}"
                yield subject.at_words("RW327", message, into, cure=f"end the cycle with: stop {actuator.name}")


def extends_without_supply(subject: Subject) -> Iterator[Diagnostic]:
    """RW324: a cylinder that rests extended goes out on STOP and on a lost supply."""
    for actuator in subject.machine.actuators:
        if actuator.rest is End.END and actuator.valve.kind is ValveKind.SPRING_RETURN:
            message = f"on STOP or a lost supply {actuator.name} extends"
            yield subject.at_device("RW324", message, actuator.name)


def quick_strokes(subject: Subject) -> Iterator[Diagnostic]:
    """RW325 and RW326: a quick stroke that is no quicker, and its solenoid on where it does nothing."""
    for actuator in subject.machine.actuators:
        rapid, name = actuator.valve.rapid, actuator.name
        if rapid is None:
            continue
        if rapid.time.usual_us >= actuator.extend_time.usual_us:
            quick, slow = time_text(rapid.time.usual_us), time_text(actuator.extend_time.usual_us)
            message = f"with {rapid.solenoid} on {name} extends in {quick}, without it in {slow}"
            yield subject.at_device("RW325", message, rapid.solenoid)
        for step in subject.chart.steps:
            on = any(action.output == rapid.solenoid for action in step.actions)
            goes_back = subject.sent(step, actuator) is End.HOME or subject.centred(step, actuator)
            if on and goes_back:
                message = f"{rapid.solenoid} is on, and {name} is not sent out"
                yield subject.at_words("RW326", message, subject.place_of(step))
