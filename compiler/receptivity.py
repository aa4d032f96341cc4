"""Conditions of a chart as tests of a view: the steps active, the inputs, edges, times and counts at one moment."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

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
)
from compiler.logic import Bits
from compiler.timers import Phase

__all__ = ["Places", "Test", "View", "receptivity"]


class View(NamedTuple):
    """What a condition may look at in one round; ``rises`` are those of the inputs that have an edge to remember.
    ``commanded`` are the outputs that the steps call for, a bit each (interlocks only)."""

    active: int
    inputs: Bits
    rises: Bits
    phases: tuple[Phase, ...]
    counts: tuple[int, ...]
    commanded: int = 0


Test = Callable[[View], bool]


class Places(NamedTuple):
    """Where to find in a view what a condition names."""

    inputs: Mapping[str, int]
    edges: Mapping[str, int]
    steps: Mapping[str, int]
    timed: Sequence[Condition]
    counters: Mapping[str, int]
    outputs: Mapping[str, int]


def receptivity(condition: Condition, names: Places) -> Test:
    """The test of a condition. Raises KeyError for a name that there is not."""
    match condition:
        case Always():
            return lambda view: True
        case Signal(device=name) if name not in names.inputs:
            commanded = 1 << names.outputs[name]
            return lambda view: bool(view.commanded & commanded)
        case Signal(device=name):
            k = names.inputs[name]
            return lambda view: view.inputs[k]
        case Rise(device=name):
            k = names.edges[name]
            return lambda view: view.rises[k]
        case Active(step=name):
            bit = 1 << names.steps[name]
            return lambda view: bool(view.active & bit)
        case Elapsed() | Sustained():
            k = names.timed.index(condition)
            return lambda view: view.phases[k] is Phase.DONE
        case Counted(counter=name, at_least=number):
            k = names.counters[name]
            return lambda view: view.counts[k] >= number
        case Not(of=part):
            test = receptivity(part, names)
            return lambda view: not test(view)
        case And(of=parts):
            tests = [receptivity(part, names) for part in parts]
            return lambda view: all(test(view) for test in tests)
        case Or(of=parts):
            tests = [receptivity(part, names) for part in parts]
            return lambda view: any(test(view) for test in tests)
