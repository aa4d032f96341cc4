"""What never comes about in a chart, whatever its inputs do: shown by the same induction, of the chart by itself."""

from __future__ import annotations

from collections.abc import Sequence

from compiler.chart_logic import ChartLogic
from compiler.condition import Active, Always, And, Condition, Not, Or, Signal, walk
from compiler.machine import Machine
from compiler.proof.induction.diagrams import FALSE, TRUE, TooLarge
from compiler.proof.induction.induct import MOST_NODES, possible_of
from compiler.proof.induction.pair import Pair
from compiler.proof.induction.passing import Pass
from compiler.proof.induction.written import Settled

__all__ = ["never_in"]


def never_in(logic: ChartLogic, machine: Machine, conditions: Sequence[Condition]) -> list[bool] | None:
    """For each condition whether it is shown never to hold in a settled situation, whatever the inputs do, or
    whatever they do one after another. None where not even that was shown that the chart always settles. A condition
    that asks for edges, times or counts is never shown; what is not shown may hold all the same.

    Raises KeyError when a chart reads an input that the machine does not have.
    """
    pair = Pair.of(logic, logic, machine)
    for one_by_one in (False, True):
        possible = possible_of(pair, one_by_one=one_by_one)
        if possible is not None:
            try:
                return _never(logic, machine, conditions, Pass(possible, MOST_NODES))
            except TooLarge:
                return [False] * len(conditions)
    return None


def _never(logic: ChartLogic, machine: Machine, conditions: Sequence[Condition], once: Pass) -> list[bool]:
    never = [all(isinstance(part, _UNDERSTOOD) for part in walk(condition)) for condition in conditions]
    for care, inputs, (settled, _) in once.reactions():
        seen = _Seen(logic, machine, once, settled, [one.get(True, FALSE) for one in inputs])
        for k, condition in enumerate(conditions):
            never[k] = never[k] and once.diagrams.both(care, seen.when(condition)) == FALSE
    return never


_UNDERSTOOD = (Always, Signal, Active, Not, And, Or)


class _Seen:
    """What a condition sees after a reaction, as functions."""

    def __init__(self, logic: ChartLogic, machine: Machine, once: Pass, settled: Settled, inputs: list[int]) -> None:
        self.diagrams = once.diagrams
        steps = settled.parts[: len(logic.chart.steps)]
        self.active = {step.name: f.get(True, FALSE) for step, f in zip(logic.chart.steps, steps, strict=True)}
        self.on = {load.name: FALSE for load in machine.loads}
        self.on |= dict(zip((device.name for device in machine.inputs), inputs, strict=True))
        self.on |= dict(zip(logic.outputs, settled.outputs, strict=True))

    def when(self, condition: Condition) -> int:
        """The function that says when it holds; anywhere for what is not understood."""
        match condition:
            case Signal(device=name):
                return self.on[name]
            case Active(step=name):
                return self.active[name]
            case Not(of=part):
                return self.when(part) ^ 1
            case And(of=parts):
                return self.diagrams.all(map(self.when, parts))
            case Or(of=parts):
                return self.diagrams.any(map(self.when, parts))
            case _:
                return TRUE
