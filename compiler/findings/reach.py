"""Steps that are never reached, and steps that are never left."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.findings.subject import Subject
from grammar.diagnostic import Diagnostic

__all__ = ["dead_ends", "unreachable_steps"]


def unreachable_steps(subject: Subject) -> Iterator[Diagnostic]:
    """RW301: no way leads there from the initial situation, nor from where STOP leads (conditions are not judged)."""
    chart = subject.chart
    forced = () if chart.forcing is None else chart.forcing.steps
    reached = {*(step.name for step in chart.steps if step.initial), *forced}
    waiting = list(reached)
    while waiting:
        for t in subject.exits(subject.step(waiting.pop())):
            if reached.issuperset(t.sources):
                found = [name for name in t.targets if name not in reached]
                reached.update(found)
                waiting += found
    for step in chart.steps:
        if step.name not in reached:
            yield subject.at_words("RW301", f"step {step.name} is never reached", step.words)


def dead_ends(subject: Subject) -> Iterator[Diagnostic]:
    """RW302: nothing leaves the step but STOP, and it is no fault step."""
    for step in subject.chart.steps:
        if not step.fault and not subject.exits(step):
            yield subject.at_words("RW302", f"nothing leads on from step {step.name}", step.words)
