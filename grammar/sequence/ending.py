"""A step and the clauses that go on with it: what ends it, how long it lasts, its time limit."""

from __future__ import annotations

from dataclasses import replace

from grammar.diagnostic import Diagnostic, Severity
from grammar.sequence import clauses as part
from grammar.sequence import tree
from grammar.sequence.words import dimension
from grammar.source import Span

__all__ = ["astray", "ended", "limited", "lost", "need_for", "no_fault", "twice_limited"]


def ended(step: tree.CycleStep, node: tree.Until | part.Duration) -> tree.CycleStep | Diagnostic:
    """``extend, until at-end``: the step with what ends it, or what is wrong with that."""
    if step.until is not None or step.duration is not None:
        return _fault("RW126", "what ends this step has been said", node.span, "delete one of the two")
    span = step.span.to(node.span)
    if isinstance(node, tree.Until):
        return replace(step, until=node, span=span)
    return need_for(step, node) or replace(step, duration=node.time, span=span)


def need_for(step: tree.CycleStep, said: part.Duration | None) -> Diagnostic | None:
    """A bare time is plain after a hold or a wait only."""
    if said is None or not said.bare or any(isinstance(c, tree.Wait) for c in step.commands):
        return None
    time = said.time
    message, cure = "how long a command lasts is said with 'for'", f"for {time.number} {time.unit}"
    if dimension(time.unit) == "length":
        message = "a stroke ends at a switch or after a time, not at a length"
        cure = f"put a limit switch at {time.number} {time.unit} and say until that switch is made"
    return _fault("RW137", message, time.span, cure)


def limited(step: tree.CycleStep, time: tree.Quantity, message: tree.Text, span: Span) -> tree.CycleStep:
    """The step with its time limit and the fault that comes with it."""
    within = tree.Within(time, tree.Fault(message, span=message.span), span=span)
    return replace(step, within=within, span=step.span.to(span))


def twice_limited(span: Span) -> Diagnostic:
    """A second time limit for one step."""
    return _fault("RW126", "this step already has a time limit", span, "delete one of the two")


def no_fault(span: Span) -> Diagnostic:
    """A time limit after which nothing happens."""
    message = "nothing is said to happen when this time is over"
    return _fault("RW127", message, span, 'within 8 s or fault "what did not happen"')


def astray(name: tree.Name) -> Diagnostic:
    """A name after ``hold`` or ``wait``."""
    message = f"what {name.text} is to do is not said: 'hold' and 'wait' take no name"
    return _fault("RW135", message, name.span, f"extend {name.text}, or wait until {name.text}")


_WANTED: dict[type[tree.Node], tuple[str, str]] = {
    tree.Until: ("a step before it", "extend until at-end"),
    part.Duration: ("a step before it", "extend until at-end"),
    part.WithinClause: ("a step before it", 'extend until at-end, within 8 s or fault "did not arrive"'),
    part.FaultClause: ("'within' and a time before it", 'within 8 s or fault "did not arrive"'),
    part.CountedBy: ("'repeat' and a number of times before it", "repeat 5 times, counted by PARTS"),
}


def lost(node: tree.Until | part.Duration | part.WithinClause | part.FaultClause | part.CountedBy) -> Diagnostic:
    """A clause that goes on with nothing."""
    wanted, cure = _WANTED[type(node)]
    message = "this continues something that is not there"
    return Diagnostic("RW121", Severity.FAULT, message, node.span, expected=wanted, cure=cure)


def _fault(code: str, message: str, span: Span, cure: str) -> Diagnostic:
    return Diagnostic(code, Severity.FAULT, message, span, cure=cure)
