"""What steps switch: solenoids against each other, loads left on, faults nobody sees."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.findings.subject import Subject
from compiler.machine import End, LoadKind, ValveKind
from compiler.shape import shape_of
from grammar.diagnostic import Diagnostic

__all__ = ["both_solenoids", "cycle_comes_back", "faults_shown"]


def both_solenoids(subject: Subject) -> Iterator[Diagnostic]:
    """RW305: a step switches both solenoids of one valve on, or both directions of a motor."""
    for step in subject.chart.steps:
        on = {action.output for action in step.actions}
        valves = [a.valve.opposed for a in subject.machine.actuators]
        for pair in (*valves, *((m.forward, m.reverse) for m in subject.machine.motors)):
            if pair and on.issuperset(pair):
                yield subject.at_words("RW305", f"{' and '.join(pair)} are both on", subject.place_of(step))


def cycle_comes_back(subject: Subject) -> Iterator[Diagnostic]:
    """RW314: after a cycle something is not as it was before the first one."""
    rest = shape_of(subject.chart).rest
    for step in subject.chart.steps:
        ends_cycle = step.name in rest or not (step.fault or subject.exits(step))
        into = [t for t in subject.chart.transitions if step.name in t.targets]
        if not ends_cycle or not into:
            continue
        left_on = [action.output for action in step.actions]
        away = [
            f"{a.name} is left {'extended' if a.rest is End.HOME else 'retracted'}"
            for a in subject.machine.actuators
            if subject.sent(step, a) not in (a.rest, None) or _strays(subject, step.name, a.rest, a.name)
        ]
        solenoids = {load.name for load in subject.machine.loads if load.kind is LoadKind.SOLENOID}
        loads = [f"{name} is left on" for name in left_on if name not in solenoids]
        if away or loads:
            yield subject.at_words("RW314", f"at the end of the cycle {', '.join(away + loads)}", into[0].words)


def _strays(subject: Subject, step: str, rest: End, actuator: str) -> bool:
    """Whether the way into a step leaves a cylinder that no spring brings home where it does not rest."""
    before = [subject.chart.step(name) for t in subject.chart.transitions if step in t.targets for name in t.sources]
    machine = subject.machine
    return any(subject.sent(b, machine.actuator(actuator)) not in (rest, None) for b in before) and (
        machine.actuator(actuator).valve.kind is not ValveKind.SPRING_RETURN
    )


def faults_shown(subject: Subject) -> Iterator[Diagnostic]:
    """RW316: fault steps that switch no lamp or horn on. Told once, for one statement mends them all."""
    dark = [step for step in subject.chart.steps if step.fault and not step.actions]
    if dark:
        others = f", nor any of the {len(dark) - 1} other faults" if len(dark) > 1 else ""
        yield subject.at_words("RW316", f'nothing shows the fault "{dark[0].fault}"{others}', dark[0].words)
