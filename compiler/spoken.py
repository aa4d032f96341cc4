"""What conditions about steps are called by who wrote the sequence: that a station is at rest, that a signal is on.

In a Chart these are steps that are active. Their words stand beside each transition, as they were written.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from compiler.chart import Chart
from compiler.condition import Active, And, Condition, Not, Or, both
from compiler.machine import Machine

__all__ = ["called", "spans", "spoken", "with_the_rest"]

_PHRASE = re.compile(r"\b([\w-]+) is (?:not )?(?:on|off|at rest)\b")


def spoken(chart: Chart, machine: Machine, words: Callable[[Condition], str]) -> Callable[[Condition], str]:
    """How to say a condition, with what it asks about steps in the words of the sequence, those steps behind them."""
    names = called(chart, machine)

    def say(condition: Condition) -> str:
        parts = condition.of if isinstance(condition, And) else (condition,)
        named = [f"{names[part]} ({words(part)})" for part in parts if part in names]
        rest = [part for part in parts if part not in names]
        return " and ".join(with_the_rest(named, rest, words))

    return say


def with_the_rest(named: Sequence[str], rest: Sequence[Condition], words: Callable[[Condition], str]) -> list[str]:
    """What is to be joined by "and": parts of a condition that have words of their own, and the ``rest`` of it, in
    brackets where it would read as an "or" to all that is before it."""
    if not rest:
        return [*named]
    whole = both(*rest)
    told = words(whole)
    return [*named, f"({told})" if named and isinstance(whole, Or) and " or " in told else told]


def called(chart: Chart, machine: Machine) -> dict[Condition, str]:
    """Conditions about steps alone, and what they are called wherever one such stands beside one such phrase."""
    devices = {device.name for device in (*machine.inputs, *machine.loads, *machine.actuators)}
    found: dict[Condition, set[str]] = {}
    for t in chart.transitions:
        parts = t.condition.of if isinstance(t.condition, And) else (t.condition,)
        about = [part for part in parts if _steps(part)]
        phrases = {m[0] for m in _PHRASE.finditer(t.words.text) if m[1] not in devices | set(chart.counters)}
        if len(about) == len(phrases) == 1:
            found.setdefault(about[0], set()).update(phrases)
    return {part: phrases.pop() for part, phrases in found.items() if len(phrases) == 1}


def _steps(condition: Condition) -> tuple[str, ...]:
    """The steps a condition asks for, or asks not to be active; empty where it asks for anything else."""
    match condition:
        case Active(step=step):
            return (step,)
        case Not(of=of):
            return _steps(of)
        case Or(of=parts) if all(isinstance(part, Active) for part in parts):
            return tuple(part.step for part in parts if isinstance(part, Active))
        case _:
            return ()


def spans(names: Sequence[str]) -> str:
    """Steps by their names, those that are numbered one after another as ``S1 to S4``."""
    runs: list[list[str]] = []
    for name in names:
        if runs and _next(runs[-1][-1]) == name:
            runs[-1].append(name)
        else:
            runs.append([name])
    told = [part for run in runs for part in (run if len(run) < 3 else [f"{run[0]} to {run[-1]}"])]
    return " and ".join([", ".join(told[:-1]), told[-1]] if len(told) > 1 else told)


def _next(name: str) -> str:
    stem = name.rstrip("0123456789")
    return f"{stem}{int(name[len(stem) :]) + 1}" if stem != name else ""
