"""What a supply that comes back brings about by itself: nothing, where every cycle begins with a press.

As the supply comes on the initial steps are active and no input has risen, nothing has been counted and no time has
passed. Whatever leads on from there without a press may begin a cycle with nobody at the machine. What is printed is
proved against the sequence with the supply lost and back at any moment, so it holds of that as well.
"""

from __future__ import annotations

from dataclasses import dataclass

from compiler.chart import ActionKind, Chart
from compiler.condition import Active, Always, And, Condition, Counted, Not, Or, Rise
from compiler.machine import Machine
from compiler.shape import shape_of
from compiler.spoken import spoken
from compiler.tell import condition_words
from compiler.truth import possible

__all__ = ["WithSupply", "with_supply"]

_NEVER = Not(of=Always())


@dataclass(frozen=True, slots=True)
class WithSupply:
    """``begins`` are the conditions, in words, on which a cycle begins without a press; ``on`` are the outputs that
    come on at once. Nothing in either is good news."""

    begins: tuple[str, ...] = ()
    on: tuple[str, ...] = ()


def with_supply(chart: Chart, machine: Machine) -> WithSupply:
    """What the supply brings about by itself. Of a condition with very many parts it is taken that it may hold."""
    shape = shape_of(chart)
    initial = {step.name for step in chart.steps if step.initial}
    leaving = [t for t in chart.transitions if initial.issuperset(t.sources) and not shape.memory & set(t.sources)]
    words = spoken(chart, machine, lambda condition: condition_words(condition, machine))
    begins = [words(t.condition) for t in leaving if possible(_unpressed(t.condition, initial))]
    on = [
        action.output
        for step in chart.steps
        for action in step.actions
        if step.initial and action.kind in (ActionKind.CONTINUOUS, ActionKind.SET_ON_ENTRY)
    ]
    return WithSupply(tuple(dict.fromkeys(begins)), tuple(dict.fromkeys(on)))


def _unpressed(condition: Condition, initial: set[str]) -> Condition:
    """A condition as the supply comes on: nothing rises, nothing is counted, and these steps are active."""
    match condition:
        case Rise() | Counted():
            return _NEVER
        case Active(step=step):
            return Always() if step in initial else _NEVER
        case Not(of=of):
            return Not(of=_unpressed(of, initial))
        case And(of=parts):
            return And(of=tuple(_unpressed(part, initial) for part in parts))
        case Or(of=parts):
            return Or(of=tuple(_unpressed(part, initial) for part in parts))
        case _:
            return condition
