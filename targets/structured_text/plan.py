"""What the function block of a chart is made of: step numbers, variables and blocks, each with its name."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from compiler.chart import ActionKind, Chart, Step
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
    either,
    walk,
)
from compiler.machine import InputKind, Machine
from grammar.structured_text.literals import duration_text
from targets.structured_text.names import mangled

__all__ = ["STORED", "Plan", "expression", "output_condition", "plan", "writes"]

_ACTUATED = {InputKind.PUSHBUTTON: "pressed", InputKind.SELECTOR: "selected"}
STORED = {
    ActionKind.SET_ON_ENTRY: (True, "TRUE"),
    ActionKind.RESET_ON_ENTRY: (True, "FALSE"),
    ActionKind.SET_ON_EXIT: (False, "TRUE"),
    ActionKind.RESET_ON_EXIT: (False, "FALSE"),
}
"""Stored actions: whether they are written as the step is entered, and what is written."""


@dataclass(frozen=True)
class Plan:
    """Names for everything. ``wires`` are device variables; ``actuated`` say that an input is actuated, whatever
    its wiring; ``timers`` are the blocks of times; ``stored`` the outputs with a memory of their own."""

    chart: Chart
    numbers: dict[str, int]
    wires: dict[str, str]
    actuated: dict[str, str]
    edges: tuple[str, ...]
    timers: dict[Condition, str]
    stored: tuple[str, ...]


def plan(machine: Machine, chart: Chart) -> Plan:
    """The plan of a chart that one step number can tell."""
    numbers = {step.name: 10 * k for k, step in enumerate(chart.steps)}
    wires = mangled(device.name for device in (*machine.inputs, *machine.loads))
    used = [part for condition in chart.conditions for part in walk(condition)]
    rising = {part.device for part in used if isinstance(part, Rise)}
    timers = list(dict.fromkeys(part for part in used if isinstance(part, Elapsed | Sustained)))
    sustained = [part for part in timers if isinstance(part, Sustained)]
    written = {a.output for step in chart.steps for a in step.actions if a.kind in STORED}
    return Plan(
        chart,
        numbers,
        wires,
        {i.name: f"{wires[i.name]}_{_ACTUATED.get(i.kind, 'made')}" for i in machine.inputs},
        tuple(i.name for i in machine.inputs if i.name in rising),
        {
            part: f"Step{numbers[part.step]}_after_{duration_text(part.time_us)[2:]}"
            if isinstance(part, Elapsed)
            else f"Sustained_{sustained.index(part) + 1}"
            for part in timers
        },
        tuple(load.name for load in machine.loads if load.name in written),
    )


def output_condition(chart: Chart, output: str) -> Condition:
    """When an output is on: in which steps, and whether a stored action left it on (then it is a Signal)."""
    parts = [
        both(Active(step=step.name), action.condition)
        for step in chart.steps
        for action in step.actions
        if action.output == output and action.kind is ActionKind.CONTINUOUS
    ]
    if any(a.output == output and a.kind in STORED for step in chart.steps for a in step.actions):
        parts.append(Signal(device=output))
    return either(*parts) if parts else Not(of=Always())


def writes(made: Plan, left: Step | None, entered: Step) -> Iterator[str]:
    """The stored actions of going from one step to another, in the order of the chart's steps.

    ``left`` is None at power-up, when the initial step is entered from nowhere.
    """
    for step in made.chart.steps:
        for action in step.actions:
            if action.kind in STORED:
                on_entry, value = STORED[action.kind]
                if step is (entered if on_entry else left):
                    yield f"{made.wires[action.output]}_stored := {value};"


def expression(made: Plan, condition: Condition) -> str:
    """A condition in structured text, with brackets wherever operators mix."""
    match condition:
        case Always():
            return "TRUE"
        case Signal(device=name) if name in made.actuated:
            return made.actuated[name]
        case Signal(device=name):
            return f"{made.wires[name]}_stored"
        case Rise(device=name):
            return f"{made.wires[name]}_rose"
        case Active(step=step):
            return f"(StepNo = {made.numbers[step]})"
        case Counted():
            raise AssertionError(condition)  # refused: see refuse.py
        case Elapsed() | Sustained():
            return f"{made.timers[condition]}.Q"
        case Not(of=Always()):
            return "FALSE"
        case Not(of=of):
            return f"NOT {_operand(made, of)}"
        case And(of=parts):
            return " AND ".join(_operand(made, part) for part in parts)
        case Or(of=parts):
            return " OR ".join(_operand(made, part) for part in parts)


def _operand(made: Plan, condition: Condition) -> str:
    text = expression(made, condition)
    simple = not isinstance(condition, And | Or | Not) or text.count(" ") <= 1
    return text if simple and not text.startswith("NOT NOT") else f"({text})"
