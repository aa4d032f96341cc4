"""A sequence told by one step number: a line of steps, with choices and repeats, as ``CASE StepNo OF``."""

from __future__ import annotations

from compiler.chart import Step, Transition
from targets.controller.comment import comment
from targets.controller.page import Marks, wrapped
from targets.controller.plan import Plan, counts, expression, writes
from targets.structured_text.page import Branch, Exit, Numbered

__all__ = ["numbered"]


def numbered(made: Plan, marks: Marks) -> Numbered:
    """The CASE of a chart that has one line of steps."""
    forcing = _forcing(made, marks)
    return Numbered(
        forcing=forcing,
        inset=0 if forcing is None else 4,
        branches=tuple(_branch(made, step, marks) for step in made.chart.steps),
    )


def _forcing(made: Plan, marks: Marks) -> Exit | None:
    forcing = made.chart.forcing
    if forcing is None:
        return None
    (name,) = forcing.steps or [step.name for step in made.chart.steps if step.initial]
    number = made.numbers[name]
    counted = tuple(counts(made, made.chart.step(name)))
    return Exit(
        "IF",
        expression(made, forcing.condition),
        (
            # A step that is active already is not entered again, so nothing is counted.
            *((f"IF StepNo <> {number} THEN {' '.join(counted)} END_IF;",) if counted else ()),
            f"StepNo := {number};",
            *(f"{made.wires[output]}_stored := FALSE;" for output in made.stored),
        ),
        comment(forcing.words.text),
        marks.mark(forcing.words),
    )


def _branch(made: Plan, step: Step, marks: Marks) -> Branch:
    leaving = [t for t in made.chart.transitions if t.sources[0] == step.name]
    what = f'fault "{step.fault}"' if step.fault else step.words.text or ("at rest" if step.initial else "")
    return Branch(
        made.numbers[step.name],
        comment(f"{step.name}: {what}" if what else step.name),
        marks.mark(step.words),
        tuple(_exit(made, step, t, "ELSIF" if k else "IF", marks) for k, t in enumerate(leaving)),
    )


def _exit(made: Plan, step: Step, transition: Transition, word: str, marks: Marks) -> Exit:
    target = made.chart.step(transition.targets[0])
    return Exit(
        word,
        wrapped(expression(made, transition.condition), 20),
        (
            f"StepNo := {made.numbers[target.name]};",
            *writes(made, (step.name,), (target.name,)),
            *counts(made, target),
        ),
        comment(f"{transition.name}: {transition.words.text}" if transition.words.text else transition.name),
        marks.mark(transition.words),
    )
