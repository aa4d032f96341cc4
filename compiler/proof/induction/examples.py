"""Inputs with which something moves, for every part of a logic that moves in one look: worked out, not guessed."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence

from compiler.proof.induction.diagrams import FALSE, TRUE, Diagrams, TooLarge
from compiler.proof.induction.reading import Cases, Reader
from compiler.proof.induction.written import Written

__all__ = ["Example", "examples"]

Example = dict[int, bool]
"""Some inputs of a logic, by their places; the others do not matter."""

_MOST_NODES = 30_000
_OF_EACH = 3


def examples(side: Written, values: Sequence[Sequence[int]], rng: random.Random) -> list[Example]:
    """A few for every value that a part may take. ``values`` are those that each part is known to have; what is not
    known leads nowhere. None at all where there is too much to be worked out."""
    diagrams = Diagrams(_MOST_NODES)
    try:
        return list(_found(side, values, rng, diagrams))
    except TooLarge:
        return []


def _found(
    side: Written, values: Sequence[Sequence[int]], rng: random.Random, diagrams: Diagrams
) -> Iterator[Example]:
    reader = Reader(diagrams, side.tables, TRUE)
    inputs: list[Cases] = [{} for _ in side.logic.inputs]
    parts: list[Cases] = [{} for _ in values]
    for is_part, k in side.order_of_use():
        if is_part:
            parts[k] = parts[k] or _free(diagrams, values[k])
        else:
            inputs[k] = inputs[k] or reader.cases(diagrams.variable())
    parts = [part or _free(diagrams, known) for part, known in zip(parts, values, strict=True)]
    places = {v: k for k, one in enumerate(inputs) if one for v in diagrams.support(one[True])}
    inputs = [one or reader.cases(FALSE) for one in inputs]
    after, _, _ = side.looked(reader, parts, inputs, [reader.cases(diagrams.variable()) for _ in side.timers])
    for before, now in zip(parts, after, strict=True):
        for value, f in now.items():
            comes = diagrams.both(f, before.get(value, FALSE) ^ 1)
            for _ in range(_OF_EACH if comes != FALSE else 0):
                yield {places[v]: on for v, on in diagrams.way(comes, rng).items() if v in places}


def _free(diagrams: Diagrams, known: Sequence[int]) -> Cases:
    """A part that may have any of these values."""
    cases: Cases = {}
    left = TRUE
    for value in known[:-1]:
        bit = diagrams.variable()
        cases[value] = diagrams.both(left, bit)
        left = diagrams.both(left, bit ^ 1)
    cases[known[-1]] = left
    return cases
