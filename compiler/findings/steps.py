"""What steps switch: solenoids against each other, loads left on, faults nobody sees."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.chart import ActionKind, Step
from compiler.condition import Active, Signal, walk
from compiler.findings.subject import Subject, conjuncts, switches_of
from compiler.machine import Actuator, End, LoadKind, ValveKind
from grammar.diagnostic import Diagnostic

__all__ = ["both_solenoids", "cycle_comes_back", "faults_shown", "missed_by_a_branch"]


def both_solenoids(subject: Subject) -> Iterator[Diagnostic]:
    """RW305: a step switches both solenoids of one valve on, or both directions of a motor."""
    for step in subject.chart.steps:
        on = {a.output for a in step.actions if a.kind in (ActionKind.CONTINUOUS, ActionKind.SET_ON_ENTRY)}
        valves = [a.valve.opposed for a in subject.machine.actuators]
        for pair in (*valves, *((m.forward, m.reverse) for m in subject.machine.motors)):
            if pair and on.issuperset(pair):
                yield subject.at_words("RW305", f"{' and '.join(pair)} are both on", subject.place_of(step))


def cycle_comes_back(subject: Subject) -> Iterator[Diagnostic]:
    """RW314: after a cycle something is not as it was before the first one."""
    rest = subject.shape.rest
    for step in subject.chart.steps:
        ends_cycle = step.name in rest or not (step.fault or subject.exits(step))
        into = subject.entries(step)
        if not ends_cycle or not into:
            continue
        left_on = [action.output for action in step.actions if action.kind is ActionKind.CONTINUOUS]
        away = [
            f"{a.name} is left {'extended' if a.rest is End.HOME else 'retracted'}"
            for a in subject.machine.actuators
            if a.name in subject.concern(step)
            and (subject.sent(step, a) not in (a.rest, None) or _strays(subject, step, a))
        ]
        solenoids = {load.name for load in subject.machine.loads if load.kind is LoadKind.SOLENOID}
        loads = [f"{name} is left on" for name in left_on if name not in solenoids]
        if away or loads:
            yield subject.at_words("RW314", f"at the end of the cycle {', '.join(away + loads)}", into[0].words)


def _strays(subject: Subject, step: Step, actuator: Actuator) -> bool:
    """Whether the way into a step leaves a cylinder that no spring brings home where it does not rest."""
    before = [subject.step(name) for t in subject.entries(step) for name in t.sources]
    charged = [b for b in before if actuator.name in subject.concern(b)]
    sprung = actuator.valve.kind is ValveKind.SPRING_RETURN
    return not sprung and any(subject.sent(b, actuator) not in (actuator.rest, None) for b in charged)


def missed_by_a_branch(subject: Subject) -> Iterator[Diagnostic]:
    """RW338: a branch waits for a switch that another one makes and lets go again, and asks nothing of this one."""
    sent: dict[str, dict[End, list[Step]]] = {}
    for step in subject.chart.steps:
        for actuator, toward in subject.begun(step):
            sent.setdefault(actuator.name, {}).setdefault(toward, []).append(step)
    for step in subject.chart.steps:
        awaited = _awaited(subject, step)
        for actuator in subject.machine.actuators:
            ways = sent.get(actuator.name, {})
            switches = sorted(awaited & switches_of(actuator))
            if not switches or len(ways) < len(End) or actuator.name in subject.concern(step):
                continue
            if _one_station(step, ways) and not _answers(subject, actuator, step):
                message = f"{switches[0]} may be let go again before this branch waits for it"
                yield subject.at_words("RW338", f"{message}: another one sends {actuator.name} back", step.words)


def _awaited(subject: Subject, step: Step) -> set[str]:
    """The switches, and the steps, that a step waits for."""
    parts = [part for t in subject.onward(step) for part in conjuncts(t.condition)]
    steps = {part.step for t in subject.onward(step) for part in walk(t.condition) if isinstance(part, Active)}
    return {part.device for part in parts if isinstance(part, Signal)} | steps


def _answers(subject: Subject, actuator: Actuator, step: Step) -> bool:
    """Whether the branch that has charge of a cylinder waits somewhere for the branch of a step, or for a signal."""
    mine = {n for a in subject.machine.actuators if a.name in subject.concern(step) for n in switches_of(a)}
    steps = {other.name for other in subject.chart.steps} - subject.shape.memory
    charged = (s for s in subject.chart.steps if actuator.name in subject.concern(s) and not s.initial)
    beside = (s for s in charged if subject.concern(s).isdisjoint(subject.concern(step)))
    return any(_awaited(subject, other) & (mine | steps) for other in beside)


def _one_station(step: Step, ways: dict[End, list[Step]]) -> bool:
    """Whether all these steps belong to the station of a step, which the names of its steps begin with."""
    station = step.name.rpartition("_")[0]
    return all(other.name.rpartition("_")[0] == station for steps in ways.values() for other in steps)


def faults_shown(subject: Subject) -> Iterator[Diagnostic]:
    """RW316: fault steps that switch no lamp or horn on. Told once, for one statement mends them all."""
    shown = {s.name for s in subject.chart.steps for a in s.actions if a.kind is ActionKind.CONTINUOUS}
    dark = [step for step in subject.chart.steps if step.fault and step.name not in shown]
    if dark:
        others = {1: "", 2: ", nor the other one"}.get(len(dark), f", nor any of the {len(dark) - 1} other faults")
        yield subject.at_words("RW316", f'nothing shows the fault "{dark[0].fault}"{others}', dark[0].words)
