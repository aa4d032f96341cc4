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
_MOST = 5


@dataclass(frozen=True, slots=True)
class _Step:
    before: Reaction | None
    inputs: Bits
    expired: frozenset[int]
    after: Reaction | None
    """None where the logic never settles."""


def faithful(side: Written, *, reactions: int = 60) -> bool:
    """Whether text and logic agree in so many reactions, whatever the timers do. Power comes on time and again."""
    steps = _run(side, random.Random(_SEED), reactions)
    settled = [step for step in steps if step.after is not None]
    unsettled = [step for step in steps if step.after is None]
    try:
        first, others = [[s for s in settled if (s.before is None) is first] for first in (True, False)]
        return _agree(side, first) and _agree(side, others) and not any(_settles(side, s) for s in unsettled[:_MOST])
    except Unsettled:
        return False


def _settles(side: Written, step: _Step) -> bool:
    try:
        _told(side, [step])
    except Unsettled:
        return False
    return True


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
            steps.append(_Step(before, inputs, expired, None))
            before = None
            continue
        steps.append(_Step(before, inputs, expired, after))
        before = after if number % _AFRESH else None
    return steps


def _told(side: Written, steps: list[_Step]) -> Settled:
    """What the text says of all of these reactions at once, a lane for each; all have supply before, or none has."""
    patterns = Patterns(len(steps))
    reader = Reader(patterns, side.tables, patterns.true)
    inputs = [reader.cases(_bits([step.inputs[k] for step in steps])) for k in range(len(side.logic.inputs))]
    if steps[0].before is None:
        return side.power_up(reader, inputs)
    before = [side.parts_of(step.before.state) for step in steps if step.before is not None]
    expired = [reader.cases(_bits([timer in step.expired for step in steps])) for timer in range(len(side.timers))]
    return side.react(reader, _parts(before), inputs, expired)


def _agree(side: Written, steps: list[_Step]) -> bool:
    if not steps:
        return True
    told, after = _told(side, steps), [step.after for step in steps if step.after is not None]
    whole = (1 << len(steps)) - 1
    return (
        _same_parts(told, _parts([side.parts_of(reaction.state) for reaction in after]))
        and all(on & whole == _bits([one.outputs[k] for one in after]) for k, on in enumerate(told.outputs))
        and all(
            told.started.get(timer, 0) == _bits([timer in one.started for one in after])
            for timer in range(len(side.timers))
        )
    )


def _bits(values: list[bool]) -> int:
    return sum(1 << lane for lane, on in enumerate(values) if on)


def _parts(situations: list[tuple[int, ...]]) -> list[Cases]:
    """For each part by value the lanes in which it has it."""
    return [
        {value: _bits([other == value for other in values]) for value in set(values)}
        for values in zip(*situations, strict=True)
    ]


def _same_parts(told: Settled, after: list[Cases]) -> bool:
    return all(
        {value: f for value, f in one.items() if f} == {value: f for value, f in other.items() if f}
        for one, other in zip(told.parts, after, strict=True)
    )
