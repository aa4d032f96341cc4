"""The cycle becomes a Chart: one step for each stretch of time, each listing every output that is on in it.

Commanded motion persists. A spring-return solenoid stays on from ``extend`` to ``retract``; a memory valve's
solenoid is on for the step that commands the stroke, for the valve remembers. Commands that wait for nothing
join the step that follows.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from compiler.chart import Action, Chart, Forcing, Requirement, Response, Step, Transition, Words
from compiler.condition import Condition, Elapsed, Rise, Signal, both, negated, walk
from compiler.lowering.conditions import (
    Setting,
    end_switch,
    find_actuator,
    find_device,
    lower_condition,
)
from compiler.lowering.devices import Devices
from compiler.lowering.requirements import lower_requirements
from compiler.machine import Actuator, End, Input, InputKind, Load, Machine, ValveKind
from compiler.units import microseconds
from grammar.diagnostic import Diagnostic
from grammar.sequence import tree
from grammar.source import Source, Span

__all__ = ["LoweredCycle", "lower_cycle"]

# A memory valve shifts on a pulse of at least 50 ms; 100 ms is the usual minimum (common practice).
_SHIFT_PULSE_US = 100_000
_ENDS = {"extend": End.END, "retract": End.HOME}


@dataclass(frozen=True, slots=True)
class LoweredCycle:
    """The finished Machine and Chart, and the faults met on the way to the Chart."""

    machine: Machine
    chart: Chart | None
    faults: tuple[Diagnostic, ...] = ()


@dataclass
class _Run:
    """The cycle under construction."""

    devices: Devices
    source: Source
    on: set[str] = field(default_factory=set)  # outputs that stay on until told otherwise
    pulses: set[str] = field(default_factory=set)  # solenoids of memory valves, on for the coming step
    joined: list[Span] = field(default_factory=list)  # words of commands that wait for nothing
    steps: list[Step] = field(default_factory=list)
    ends: list[tuple[Condition, Words]] = field(default_factory=list)  # what ends each of the steps
    faults: list[tuple[Step, Transition]] = field(default_factory=list)
    shown: tuple[Action, ...] = ()  # what is on in a fault step

    def words(self, span: Span) -> Words:
        return Words(text=" ".join(self.source.words(span).split()), start=span.start, end=span.end)

    def actions(self, on: set[str]) -> tuple[Action, ...]:
        return tuple(Action(output=load.name) for load in self.devices.loads if load.name in on)

    @property
    def next_step(self) -> str:
        return f"S{len(self.steps) + 1}"


def lower_cycle(program: tree.Program, devices: Devices, source: Source) -> LoweredCycle:
    """The Chart of a program's cycle. A fault anywhere still lets the rest be looked at."""
    cycles = [d for d in program.declarations if isinstance(d, tree.Cycle)]
    before = len(devices.faults)
    for extra in cycles[1:]:
        devices.fault("RW211", "the program already has a cycle", extra.span)
    if not cycles or not cycles[0].steps:
        devices.fault("RW212", "there is no cycle", program.span)
    run = _Run(devices, source)
    run.shown = run.actions(_shown_on_fault(program, devices))
    trigger, trigger_words = _trigger(program, cycles[0] if cycles else None, run)
    for step in cycles[0].steps if cycles else ():
        _lower_step(run, step)
    _close(run)
    if cycles and cycles[0].steps and not run.steps and not run.on:
        devices.fault("RW212", "nothing in the cycle lasts or is waited for", cycles[0].steps[0].span)
    forcing, stop = _stop_rule(program, run)
    requirements = lower_requirements(program, devices, run.words)
    start = _button(devices, trigger)
    machine = devices.machine(start=start, stop=stop)
    faults = tuple(devices.faults[before:])
    del devices.faults[before:]
    broken = any(d.severity == "fault" for d in (*devices.faults, *faults))
    if broken or trigger is None:
        return LoweredCycle(machine, None, faults)
    chart = _assemble(run, machine, (trigger, trigger_words), forcing, requirements)
    return LoweredCycle(machine, chart, faults)


def _assemble(
    run: _Run,
    machine: Machine,
    trigger: tuple[Condition, Words],
    forcing: Forcing | None,
    requirements: tuple[Requirement | Response, ...],
) -> Chart:
    """Steps in a ring: S0, the steps in order, and back to S0, or to a rest step where something stays on."""
    resting = Step(name="R1", actions=run.actions(run.on)) if run.on else None
    names = [step.name for step in run.steps]
    rest = resting.name if resting else "S0"
    first = names[0] if names else rest
    links = [("S0", first, *trigger)]
    following = [*names[1:], rest] if names else []
    links += [(name, then, *end) for name, then, end in zip(names, following, run.ends, strict=True)]
    if resting and names:
        links.append((rest, first, *trigger))
    transitions = [
        Transition(name=f"T{k}", sources=(here,), targets=(there,), condition=condition, words=words)
        for k, (here, there, condition, words) in enumerate(links, 1)
    ]
    transitions += [transition for _, transition in run.faults]
    steps = [Step(name="S0", initial=True), *run.steps, *([resting] if resting else [])]
    return Chart(
        title=machine.title,
        inputs=tuple(i.name for i in machine.inputs),
        outputs=tuple(load.name for load in machine.loads),
        steps=(*steps, *(step for step, _ in run.faults)),
        transitions=tuple(transitions),
        forcing=forcing,
        requirements=requirements,
    )


# --- steps ----------------------------------------------------------------------------------------------------


def _lower_step(run: _Run, step: tree.CycleStep) -> None:
    moving: dict[str, End] = {}
    strokes: list[Actuator] = []
    for command in step.commands:
        match command:
            case tree.Stroke():
                actuator = _stroke(run, command, moving)
                if actuator is not None:
                    strokes.append(actuator)
            case tree.Turn(on=on, load=load):
                _turn(run, load, on=on)
            case tree.Wait() if step.until is None and step.duration is None:
                message = f'"{command.word}" needs a time, or "until" and what to wait for'
                run.devices.fault("RW207", message, step.span)
            case tree.Wait():
                pass
    name = run.next_step
    end = _end_of(run, step, Setting(step=name, moving=tuple(strokes)), moving)
    if end is None:
        if step.within is not None:
            run.devices.fault("RW207", '"within" needs something to wait for', step.within.span,
                              expected='"until" and a condition before it')  # fmt: skip
        run.joined.append(step.span)
        return
    if step.within is not None:
        _add_fault(run, step.within, name, end)
    _add_step(run, end, step.span)


def _add_step(run: _Run, end: Condition, span: Span) -> None:
    spans = [*run.joined, span]
    told = ", ".join(run.words(each).text for each in spans)  # not what stands between them: a comment, say
    words = Words(text=told, start=spans[0].start, end=span.end)
    run.steps.append(Step(name=run.next_step, actions=run.actions(run.on | run.pulses), words=words))
    run.ends.append((end, run.words(span)))
    run.joined, run.pulses = [], set()


def _stroke(run: _Run, stroke: tree.Stroke, moving: dict[str, End]) -> Actuator | None:
    devices = run.devices
    if stroke.actuator is not None:
        actuator = find_actuator(devices, stroke.actuator)
    elif len(devices.actuators) == 1:
        actuator = devices.actuators[0]
    else:
        actuator = None
        names = ", ".join(a.name for a in devices.actuators)
        devices.fault("RW205", f"{stroke.direction} which cylinder?", stroke.span, expected=names or "a cylinder")
    if actuator is None:
        return None
    toward = _ENDS[stroke.direction]
    if moving.get(actuator.name, toward) is not toward:
        devices.fault("RW210", f"{actuator.name} is told to extend and to retract at once", stroke.span)
    moving[actuator.name] = toward
    valve = actuator.valve
    wanted, other = (valve.extend, valve.retract) if toward is End.END else (valve.retract, valve.extend)
    if valve.kind is ValveKind.MEMORY:
        run.pulses -= {other or ""}
        run.pulses |= {wanted or ""}
    elif wanted is not None:
        run.on.add(wanted)
    else:
        run.on.discard(other or "")
    return actuator


def _turn(run: _Run, name: tree.Name, *, on: bool) -> None:
    load = find_device(run.devices, name)
    if load is None:
        return
    if not isinstance(load, Load):
        loads = ", ".join(d.name for d in run.devices.loads) or "a lamp, horn or motor"
        message = f"{load.name} cannot be turned {'on' if on else 'off'}"
        run.devices.fault("RW216", message, name.span, expected=loads)
        return
    if on:
        run.on.add(load.name)
    else:
        run.on.discard(load.name)


def _end_of(run: _Run, step: tree.CycleStep, setting: Setting, moving: dict[str, End]) -> Condition | None:
    """What ends a step, or None where nothing does and the next one follows at once.

    A condition at fault gives Elapsed of one microsecond, so that the rest of the program is still looked at.
    """
    stand_in = Elapsed(step=setting.step or "S0", time_us=1)
    if step.until is not None:
        return lower_condition(run.devices, step.until.condition, setting) or stand_in
    if step.duration is not None:
        time_us = run.devices.value(microseconds, step.duration)
        return Elapsed(step=setting.step or "S0", time_us=time_us) if time_us else stand_in
    if any(isinstance(command, tree.Wait) for command in step.commands):
        return stand_in
    switches = [end_switch(actuator, moving[actuator.name]) for actuator in setting.moving]
    seen = [Signal(device=name) for name in dict.fromkeys(switches) if name is not None]
    return both(*seen) if seen else None


def _add_fault(run: _Run, within: tree.Within, step: str, end: Condition) -> None:
    """A way out to a fault step when the time is up and the end condition does not hold at that very moment."""
    time_us = run.devices.value(microseconds, within.time)
    message = within.fault.message.text
    if time_us is None:
        return
    name = f"F{len(run.faults) + 1}"
    condition = both(Elapsed(step=step, time_us=time_us), negated(end))
    words = run.words(within.span)
    fault = Step(name=name, actions=run.shown, fault=message, words=words)
    transition = Transition(name=f"T{name}", sources=(step,), targets=(name,), condition=condition, words=words)
    run.faults.append((fault, transition))


def _close(run: _Run) -> None:
    """Give a memory valve that was told last, and that nothing waits for, the pulse it needs."""
    if run.pulses:
        span = run.joined[0].to(run.joined[-1])
        _add_step(run, Elapsed(step=run.next_step, time_us=_SHIFT_PULSE_US), span)


# --- rules ----------------------------------------------------------------------------------------------------


def _trigger(program: tree.Program, cycle: tree.Cycle | None, run: _Run) -> tuple[Condition | None, Words]:
    """What starts the cycle: its "when", or the moment START is pressed; and the home conditions with it."""
    devices = run.devices
    homes = [d for d in program.declarations if isinstance(d, tree.Home)]
    at_home = [lower_condition(devices, home.condition, Setting(moments=False)) for home in homes]
    home = [condition for condition in at_home if condition is not None]
    if cycle is not None and cycle.trigger is not None:
        trigger = lower_condition(devices, cycle.trigger.condition, Setting())
        words = run.words(cycle.trigger.span)
        return (None if trigger is None else both(trigger, *home)), words
    start = devices.find("START")
    if isinstance(start, Input):
        moment = start.kind is InputKind.PUSHBUTTON
        words = Words(text=f"when {start.name} is {'pressed' if moment else 'on'}")
        return both(Rise(device=start.name) if moment else Signal(device=start.name), *home), words
    if cycle is not None:
        devices.fault("RW213", "nothing starts the cycle", Span(cycle.span.start, cycle.span.start + 1))
    return None, Words()


def _button(devices: Devices, trigger: Condition | None) -> str | None:
    """The pushbutton that plays START: the first one the trigger speaks of."""
    if trigger is None:
        return None
    named = [part.device for part in walk(trigger) if isinstance(part, Rise | Signal)]
    inputs = [devices.find(name) for name in named]
    return next((d.name for d in inputs if isinstance(d, Input) and d.kind is InputKind.PUSHBUTTON), None)


def _stop_rule(program: tree.Program, run: _Run) -> tuple[Forcing | None, str | None]:
    """What STOP does: drop out everything, for as long as it is held, unless nothing is called STOP."""
    devices = run.devices
    rules = [d for d in program.declarations if isinstance(d, tree.StopRule)]
    for extra in rules[1:]:
        devices.fault("RW211", "what STOP does is already said", extra.span)
    if rules:
        condition = lower_condition(devices, rules[0].condition, Setting(moments=False))
        if condition is None:
            return None, None
        return Forcing(condition=condition, words=run.words(rules[0].span)), _button(devices, condition)
    stop = devices.find("STOP")
    if isinstance(stop, Input):
        words = Words(text=f"when {stop.name} is pressed, drop out everything")
        return Forcing(condition=Signal(device=stop.name), words=words), stop.name
    return None, None


def _shown_on_fault(program: tree.Program, devices: Devices) -> set[str]:
    names = [turn.load for d in program.declarations if isinstance(d, tree.OnFault) for turn in d.turns if turn.on]
    loads = [(name, find_device(devices, name)) for name in names]
    for name, load in loads:
        if load is not None and not isinstance(load, Load):
            devices.fault("RW216", f"{load.name} cannot be turned on", name.span)
    return {load.name for _, load in loads if isinstance(load, Load)}
