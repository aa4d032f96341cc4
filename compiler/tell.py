"""What a machine does, in plain words, told from its Chart (so it tells what is checked, not what was typed)."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from compiler.chart import ActionKind, Chart, Requirement, Response, Step, Transition
from compiler.condition import (
    Active,
    Always,
    And,
    Condition,
    Counted,
    Elapsed,
    Not,
    Or,
    Rise,
    Signal,
    Sustained,
    both,
)
from compiler.findings.subject import Subject
from compiler.machine import InputKind, LoadKind, Machine
from compiler.motion_words import motion_words, stop_words
from compiler.shape import shape_of
from compiler.spoken import spans, spoken
from compiler.tell_net import goes_in_one_line, tell_beside, tell_net
from compiler.units import time_text
from compiler.valve_words import valve_words

__all__ = ["condition_words", "tell"]

_STATES = {
    InputKind.PUSHBUTTON: ("held", "released"),
    InputKind.SELECTOR: ("on", "off"),
}


def tell(machine: Machine, chart: Chart) -> list[str]:
    """One sentence for the start, one numbered line for each step, what STOP and faults do, and what valves do
    with their solenoids off."""
    subject = Subject(machine, chart)

    words = spoken(chart, machine, lambda condition: condition_words(condition, machine))
    lines = _in_one_line(subject) if goes_in_one_line(subject) else list(tell_net(subject, words, _doing))
    if chart.forcing is not None and not chart.forcing.steps:
        lines.append(f"While {words(chart.forcing.condition)}, everything drops out.")
    lines += tell_beside(chart, words)
    lines += valve_words(machine)
    for requirement in chart.requirements:
        lines.append(f"{_requirement_words(requirement, machine)}.")
    return lines


def _in_one_line(subject: Subject) -> list[str]:
    chart, rest = subject.chart, subject.shape.rest
    first = next((t for t in chart.transitions if chart.step(t.sources[0]).initial), None)
    lines = [] if first is None else [f"When {condition_words(first.condition, subject.machine)}:"]
    for number, step in enumerate((s for s in chart.steps if not (s.fault or s.name in rest)), 1):
        lines.append(f"{number:>3}. {_step_words(subject, step)}")
    return lines if first is None else [*lines, f"     {_ending(subject)}"]


def _doing(subject: Subject, step: Step) -> list[str]:
    """What a step does, one thing after another."""
    return [*_switched(subject, step), *stop_words(subject, step), *motion_words(subject, step)]


def _requirement_words(requirement: Requirement | Response, machine: Machine) -> str:
    """What must be so. Never the opposite of something, which is always that."""
    match requirement:
        case Requirement(never=Not(of=of)):
            return f"Always: {condition_words(of, machine)}"
        case Requirement(never=And(of=(Not(of=of), *meanwhile))):
            return f"Always: {condition_words(of, machine)}, while {condition_words(both(*meanwhile), machine)}"
        case Requirement(never=never):
            return f"Never: {condition_words(never, machine)}"
        case Response(whenever=cause, then=effect, within_us=time):
            cause_words, effect_words = condition_words(cause, machine), condition_words(effect, machine)
            return f"Whenever {cause_words}: {effect_words}, within {time_text(time)}"


def condition_words(condition: Condition, machine: Machine) -> str:
    """A condition as it would be said at the machine, with brackets only where they are needed."""
    match condition:
        case Always():
            return "at once"
        case Signal(device=name):
            return f"{name} is {_state(machine, name, True)}"
        case Not(of=Signal(device=name)):
            return f"{name} is {_state(machine, name, False)}"
        case Rise(device=name):
            return f"{name} is pressed"
        case Active(step=step):
            return f"{step} is active"
        case Not(of=Active(step=step)):
            return f"{step} is not active"
        case Elapsed(time_us=time):
            return f"{time_text(time)} {'has' if time_text(time).startswith('1 ') else 'have'} passed in the step"
        case Counted(counter=name, at_least=number):
            return f"{name} has reached {number}"
        case Not(of=Counted(counter=name, at_least=number)):
            return f"{name} has not reached {number}"
        case Sustained(of=of, time_us=time):
            return f"{_bracketed(of, machine)} for {time_text(time)}"
        case Not(of=Or(of=parts)) if (steps := _steps_among(parts)) is not None:
            return f"none of {steps} is active"
        case Not(of=of):
            return f"not ({condition_words(of, machine)})"
        case And(of=parts):
            return " and ".join(_one_after_another(parts, machine))
        case Or(of=parts) if (steps := _steps_among(parts)) is not None:
            return f"one of {steps} is active"
        case Or(of=parts):
            return " or ".join(_bracketed(part, machine) for part in parts)


def _one_after_another(parts: tuple[Condition, ...], machine: Machine) -> Iterator[str]:
    """The parts of a condition, inputs that follow one another and stand alike said together: "LS1, LS2 and LS3 are
    made". That several are *not* made is said of each, for "not" of several could be less."""
    for words, group in groupby(parts, key=lambda part: _alike(part, machine)):
        names = [part.device for part in group if isinstance(part, Signal)] if words else []
        if len(names) > 1:
            yield f"{', '.join(names[:-1])} and {names[-1]} are {words}"
        elif names:
            yield f"{names[0]} is {words}"
        else:
            yield from (_bracketed(part, machine) for part in group)


def _alike(part: Condition, machine: Machine) -> str:
    """How an input is that a condition wants made, on or held; empty for any other condition."""
    return _state(machine, part.device, True) if isinstance(part, Signal) else ""


def _steps_among(parts: tuple[Condition, ...]) -> str | None:
    """Three steps or more, the station they share named once and those in a row as such; None where there is anything
    else among the parts."""
    names = [part.step for part in parts if isinstance(part, Active)]
    if len(names) < max(len(parts), 3):
        return None
    station = names[0].rpartition("_")[0]
    if station and all(name.rpartition("_")[0] == station for name in names):
        return f"{station}_{spans([name.rpartition('_')[2] for name in names])}"
    return spans(names)


def _bracketed(condition: Condition, machine: Machine) -> str:
    words = condition_words(condition, machine)
    return f"({words})" if isinstance(condition, And | Or) else words


def _state(machine: Machine, name: str, actuated: bool) -> str:
    kind = next((i.kind for i in machine.inputs if i.name == name), None)
    yes, no = ("on", "off") if kind is None else _STATES.get(kind, ("made", "not made"))
    return yes if actuated else no


def _step_words(subject: Subject, step: Step) -> str:
    doing = [*_switched(subject, step), *stop_words(subject, step)]
    strokes = list(motion_words(subject, step))
    onward = subject.onward(step)
    if not doing and not strokes and len(onward) == 1 and isinstance(onward[0].condition, Elapsed):
        return f"hold {time_text(onward[0].condition.time_us)}{_faults(subject, step)}"
    doing += strokes or ["wait"]
    ending = f" {_until(onward, subject.machine)}" if onward else ", for good"
    return f"{' and '.join(doing)}{ending}{_faults(subject, step)}"


def _until(onward: list[Transition], machine: Machine) -> str:
    condition = onward[0].condition
    if isinstance(condition, Elapsed):
        return f"for {time_text(condition.time_us)}"
    return f"until {condition_words(condition, machine)}"


def _faults(subject: Subject, step: Step) -> str:
    said = ""
    for t in subject.exits(step):
        fault = next((subject.step(name).fault for name in t.targets if subject.step(name).fault), "")
        time = next((part.time_us for part in _parts(t.condition) if isinstance(part, Elapsed)), None)
        if fault:
            said += f'; if not within {time_text(time)}, fault "{fault}"' if time else f'; or fault "{fault}"'
    return said


def _parts(condition: Condition) -> tuple[Condition, ...]:
    return condition.of if isinstance(condition, And) else (condition,)


def _switched(subject: Subject, step: Step) -> Iterator[str]:
    """Lamps, horns and motors that run one way which change with a step, in the order of the machine."""
    ways = subject.entries(step)
    for load in subject.machine.loads:
        if load.kind in (LoadKind.SOLENOID, LoadKind.CONTACTOR):
            continue
        stored = [action.kind for action in step.actions if action.output == load.name]
        on = any(kind in (ActionKind.CONTINUOUS, ActionKind.SET_ON_ENTRY) for kind in stored)
        was = any(_on(subject, name, load.name) for t in ways for name in t.sources)
        # Where branches begin, what one leaves on another may not mention: the first of them tells what goes off.
        beside = any(_on(subject, name, load.name) for t in ways for name in t.targets)
        tells_off = all(t.targets[0] == step.name for t in ways) and not beside
        if on and not was:
            yield f"turn on {load.name}"
        elif (was and tells_off) or ActionKind.RESET_ON_ENTRY in stored:
            yield f"turn off {load.name}"


def _on(subject: Subject, step: str, output: str) -> bool:
    return any(a.output == output and a.kind is ActionKind.CONTINUOUS for a in subject.step(step).actions)


def _ending(subject: Subject) -> str:
    chart = subject.chart
    resting = shape_of(chart)
    after = resting.rest - resting.initial or resting.initial
    rest = next(step for step in chart.steps if step.name in after)
    doing = [*_switched(subject, rest), *stop_words(subject, rest)]
    doing += motion_words(subject, rest)
    return f"Then {' and '.join(doing)}, and rest." if doing else "Then rest."
