"""A text beside the logic that it is the text of: runs of the logic, and what the text says of every reaction."""

from __future__ import annotations

import random
from dataclasses import dataclass

from compiler.logic import Bits, Chattering, Reaction
from compiler.proof.induction.patterns import Patterns
from compiler.proof.induction.reading import Cases, Reader
from compiler.proof.induction.written import Settled, Unsettled, Written

__all__ = ["faithful"]

_SEED = 2
_AFRESH = 12


@dataclass(frozen=True, slots=True)
class _Step:
    before: Reaction | None
    inputs: Bits
    expired: frozenset[int]
    after: Reaction


def faithful(side: Written, *, reactions: int = 60) -> bool:
    """Whether text and logic agree in so many reactions, whatever the timers do. Power comes on time and again."""
    steps = _run(side, random.Random(_SEED), reactions)
    try:
        first, others = [[s for s in steps if (s.before is None) is first] for first in (True, False)]
        return _agree(side, first) and _agree(side, others)
    except Unsettled:
        return False


def _run(side: Written, rng: random.Random, reactions: int) -> list[_Step]:
    logic, steps = side.logic, list[_Step]()
    before: Reaction | None = None
    inputs = tuple(rng.random() < 0.5 for _ in logic.inputs)
    for number in range(reactions):
        inputs = tuple(bit != (rng.random() < 0.2) for bit in inputs)
        running = sorted(before.running) if before is not None else []
        expired = frozenset(timer for timer in running if rng.random() < 0.3)
        try:
            after = logic.power_up(inputs) if before is None else logic.react(before.state, inputs, expired)
        except Chattering:
            before = None
            continue
        steps.append(_Step(before, inputs, expired, after))
        before = after if number % _AFRESH else None
    return steps


def _agree(side: Written, steps: list[_Step]) -> bool:
    """All of these reactions are read at once, a lane for each."""
    patterns = Patterns(len(steps))
    reader = Reader(patterns, side.tables, patterns.true)

    def bits(values: list[bool]) -> int:
        return sum(1 << lane for lane, on in enumerate(values) if on)

    def part(values: list[int]) -> Cases:
        return {value: bits([other == value for other in values]) for value in set(values)}

    inputs = [reader.cases(bits([step.inputs[k] for step in steps])) for k in range(len(side.logic.inputs))]
    timers = range(len(side.timers))
    if not steps:
        return True
    if steps[0].before is None:
        told = side.power_up(reader, inputs)
    else:
        states = [side.parts_of(step.before.state) for step in steps if step.before is not None]
        expired = [reader.cases(bits([timer in step.expired for step in steps])) for timer in timers]
        told = side.react(reader, [part(list(values)) for values in zip(*states, strict=True)], inputs, expired)
    after = [side.parts_of(step.after.state) for step in steps]
    return (
        _same_parts(told, [part(list(values)) for values in zip(*after, strict=True)])
        and all(
            on & patterns.true == bits([step.after.outputs[k] for step in steps]) for k, on in enumerate(told.outputs)
        )
        and all(told.started.get(timer, 0) == bits([timer in s.after.started for s in steps]) for timer in timers)
    )


def _same_parts(told: Settled, after: list[Cases]) -> bool:
    return all(
        {value: f for value, f in one.items() if f} == {value: f for value, f in other.items() if f}
        for one, other in zip(told.parts, after, strict=True)
    )
