"""Steps of a chart of which never two are active at once, as far as its structure tells, whatever its conditions say.

Source: A. Kovalyov, "Concurrency relations and the safety problem for Petri nets", 1992 (from memory): which two
places may be marked together, found from which two were before.
"""

from __future__ import annotations

from itertools import combinations

from compiler.chart import Chart, Transition

__all__ = ["exclusive_steps"]


def exclusive_steps(chart: Chart) -> list[frozenset[int]]:
    """For each step, by its place, those that are never active beside it. Two transitions from one step count as
    exclusive."""
    places = {step.name: k for k, step in enumerate(chart.steps)}
    beside = [0] * len(places)
    met = 0

    def meet(some: int, others: int) -> None:
        nonlocal met
        met |= some | others
        for k in _bits(some):
            beside[k] |= others & ~(1 << k)
        for k in _bits(others):
            beside[k] |= some & ~(1 << k)

    starts = [tuple(step.name for step in chart.steps if step.initial)]
    starts += [chart.forcing.steps] if chart.forcing is not None and chart.forcing.steps else []
    for names in starts:
        meet(_mask(places, names), _mask(places, names))
    before: list[int] = []
    while before != [met, *beside]:
        before = [met, *beside]
        for t in chart.transitions:
            sources = _mask(places, t.sources)
            if sources & ~met or any(not beside[p] >> q & 1 for p, q in combinations(_bits(sources), 2)):
                continue
            meet(_mask(places, t.targets), _mask(places, t.targets) | _staying(places, t, beside))
    whole = range(len(places))
    return [frozenset(k for k in whole if k != p and not beside[p] >> k & 1) for p in whole]


def _staying(places: dict[str, int], t: Transition, beside: list[int]) -> int:
    """The steps that may be active as a transition clears, and stay so."""
    found = -1
    for name in t.sources:
        found &= beside[places[name]]
    return found & ~_mask(places, (*t.sources, *t.aborts)) & ((1 << len(places)) - 1)


def _mask(places: dict[str, int], names: tuple[str, ...]) -> int:
    return sum(1 << places[name] for name in dict.fromkeys(names))


def _bits(mask: int) -> list[int]:
    return [k for k in range(mask.bit_length()) if mask >> k & 1]
