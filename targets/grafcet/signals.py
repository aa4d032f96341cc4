"""Signals between stations. In a Chart they are steps that are active; a drawing shows them as who wrote the sequence
named them: an action in every step in which the signal is on, and its name where a transition waits for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from compiler.chart import Chart
from compiler.condition import Active, And, Condition, Not, Or
from compiler.machine import Machine
from compiler.spoken import called, with_the_rest
from compiler.tell import condition_words

__all__ = ["Signals", "signals"]


@dataclass(frozen=True, slots=True)
class Signals:
    """``on``: the signals that are on in a step, by its name. ``said``: what conditions on steps are called."""

    on: Mapping[str, tuple[str, ...]]
    said: Mapping[Condition, str]

    def words(self, condition: Condition, machine: Machine) -> str:
        """A condition in words, with what it asks of signals by their names."""
        parts = condition.of if isinstance(condition, And) else (condition,)
        named = [self.said[part] for part in parts if part in self.said]
        rest = [part for part in parts if part not in self.said]
        return " and ".join(with_the_rest(named, rest, lambda part: condition_words(part, machine)))


def signals(chart: Chart, machine: Machine) -> Signals:
    """The signals that transitions of a chart ask for."""
    on: dict[str, dict[str, None]] = {}
    said: dict[Condition, str] = {}
    for condition, phrase in called(chart, machine).items():
        name, _, state = phrase.partition(" is ")
        positive = condition.of if state == "off" and isinstance(condition, Not) else condition
        steps = _steps(positive) if state in ("on", "off") else ()
        if steps and (state == "on" or positive is not condition):
            said[condition] = phrase
            for step in steps:
                on.setdefault(step, {})[name] = None
    return Signals({step: tuple(names) for step, names in on.items()}, said)


def _steps(condition: Condition) -> tuple[str, ...]:
    """The steps of which one is to be active, where a condition asks for nothing else."""
    parts = condition.of if isinstance(condition, Or) else (condition,)
    steps = tuple(part.step for part in parts if isinstance(part, Active))
    return steps if len(steps) == len(parts) else ()
