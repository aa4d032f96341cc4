"""What cylinders and motors are told as a step begins, in plain words."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.chart import Step
from compiler.findings.subject import Subject
from compiler.machine import Actuator, End, Motor

__all__ = ["motion_words", "stop_words"]

_VERB = {End.END: "extend", End.HOME: "retract"}


def stop_words(subject: Subject, step: Step) -> Iterator[str]:
    """Every cylinder that its valve stops on its way, and every motor that is stopped, as a step begins."""
    before = _before(subject, step)
    for actuator in subject.machine.actuators:
        stops = subject.centred(step, actuator) and actuator.name in subject.concern(step)
        if stops and any(not subject.centred(b, actuator) for b in before):
            yield f"stop {actuator.name}"
    for motor in subject.machine.motors:
        beside = (subject.step(name) for t in subject.entries(step) for name in t.targets)
        if any(_running(motor, b) for b in before) and not any(_running(motor, b) for b in (step, *beside)):
            yield f"stop {motor.name}"


def motion_words(subject: Subject, step: Step) -> Iterator[str]:
    """Every stroke that begins with a step or changes its speed there, and every motor that sets out or turns."""
    before = _before(subject, step)
    begun = {actuator.name: toward for actuator, toward in subject.begun(step)}
    for actuator in subject.machine.actuators:
        toward, quick = begun.get(actuator.name), _quick(subject, step, actuator)
        if toward is not None:
            yield f"{_VERB[toward]} {actuator.name}{' rapidly' if quick else ''}"
        elif _goes_out(subject, step, actuator) and any(_quick(subject, b, actuator) is not quick for b in before):
            yield f"extend {actuator.name} {'rapidly' if quick else 'slowly'}"
    for motor in subject.machine.motors:
        way = _running(motor, step)
        if way and any(_running(motor, b) != way for b in before):
            yield f"run {motor.name} {way}"


def _before(subject: Subject, step: Step) -> list[Step]:
    """The steps that lead to a step."""
    return [subject.step(name) for t in subject.entries(step) for name in t.sources]


def _goes_out(subject: Subject, step: Step, actuator: Actuator) -> bool:
    return subject.sent(step, actuator) is End.END and not subject.centred(step, actuator)


def _quick(subject: Subject, step: Step, actuator: Actuator) -> bool:
    """Whether a step makes the stroke out quick."""
    rapid = actuator.valve.rapid
    on = rapid is not None and any(action.output == rapid.solenoid for action in step.actions)
    return on and _goes_out(subject, step, actuator)


def _running(motor: Motor, step: Step) -> str:
    on = {action.output for action in step.actions}
    forward, reverse = motor.forward in on, motor.reverse in on
    return "forward" if forward and not reverse else "in reverse" if reverse and not forward else ""
