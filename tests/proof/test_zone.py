"""Zones against two outsiders: shortest paths by networkx, and real arithmetic by z3.

A zone is canonical when every bound is a shortest path in the graph of its bounds (Dill 1989, from memory). A strict
bound is a weight just under a whole one: ``c * MANY - 1``, MANY being more than any path has edges.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from itertools import product

import networkx as nx  # type: ignore[import-untyped]
import pytest
import z3  # type: ignore[import-untyped]
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.proof.zone import (
    INFINITE,
    Zone,
    at_least,
    at_most,
    choice,
    covers,
    delay,
    less_than,
    more_than,
    start,
    tighten,
)

MANY = 1000
Bound = tuple[int, bool]
"""At most so much, or (True) less."""
Bounds = dict[tuple[int, int], Bound]

TIMES = st.integers(0, 6)
CLOCKS = 3


def told(zone: Zone) -> Bounds:
    """The bounds of a zone in this file's own terms."""
    size = int(len(zone) ** 0.5)
    assert size * size == len(zone)
    return {
        (i, j): (zone[i * size + j] // 2, zone[i * size + j] % 2 == 0)
        for i, j in product(range(size), repeat=2)
        if zone[i * size + j] != INFINITE
    }


def closed(bounds: Bounds, size: int) -> Bounds | None:
    """Every bound as tight as the others make it; None when nothing is within them all."""
    graph = nx.DiGraph()
    graph.add_nodes_from(range(size))
    for (i, j), (most, strict) in bounds.items():
        weight = most * MANY - strict
        if not graph.has_edge(i, j) or weight < graph[i][j]["weight"]:
            graph.add_edge(i, j, weight=weight)
    if nx.negative_edge_cycle(graph):
        return None
    lengths = nx.floyd_warshall(graph)
    return {
        (i, j): (-(-length // MANY), length % MANY != 0)
        for i in range(size)
        for j, length in lengths[i].items()
        if length != float("inf")
    }


def tighter(bounds: Bounds, more: Iterable[tuple[int, int, Bound]]) -> Bounds:
    result = dict(bounds)
    for i, j, (most, strict) in more:
        here = result.get((i, j))
        if here is None or (most, not strict) < (here[0], not here[1]):
            result[i, j] = (most, strict)
    return result


def encoded(bound: Bound) -> int:
    most, strict = bound
    return less_than(most) if strict else at_most(most)


@st.composite
def zones(draw: st.DrawFn, size: int = CLOCKS + 1) -> Zone:
    """Zones that a search could meet: clocks that start, wait, are kept within bounds and start again."""
    zone = start(size - 1)
    for _ in range(draw(st.integers(1, 6))):
        kind = draw(st.integers(0, 2))
        after: Zone | None = zone
        if kind == 0:
            limits = draw(st.dictionaries(st.integers(1, size - 1), TIMES, max_size=2))
            after = delay(zone, size, tuple(limits.items()))
        elif kind == 1:
            i, j = draw(st.permutations(range(size)))[:2]
            bound = (draw(TIMES) * (-1 if i == 0 else 1), draw(st.booleans()))
            after = tighten(zone, size, i, j, encoded(bound))
        else:
            after = choice([draw(st.integers(0, size - 1)) for _ in range(size - 1)], size)(zone)
        zone = zone if after is None else after
    return zone


def within(zone: Zone, point: list[Fraction]) -> bool:
    """Whether clock readings, that of clock 0 first, are in a zone."""
    return all(
        point[i] - point[j] < most or (not strict and point[i] - point[j] == most)
        for (i, j), (most, strict) in told(zone).items()
    )


POINTS = st.lists(st.integers(0, 28).map(lambda k: Fraction(k, 4)), min_size=CLOCKS, max_size=CLOCKS).map(
    lambda clocks: [Fraction(0), *clocks]
)


def test_bounds_are_what_their_names_say() -> None:
    assert [told(start(1))[0, 1], told(start(1))[1, 0]] == [(0, False), (0, False)]
    waited = delay(start(1), 2, [(1, 5)])
    assert waited is not None
    assert told(waited) == {(0, 0): (0, False), (0, 1): (0, False), (1, 0): (5, False), (1, 1): (0, False)}
    later = tighten(waited, 2, 0, 1, more_than(2))
    assert later is not None
    assert told(later)[0, 1] == (-2, True)
    assert tighten(later, 2, 1, 0, at_most(2)) is None
    assert tighten(waited, 2, 1, 0, less_than(0)) is None
    assert tighten(waited, 2, 0, 1, at_least(5)) is not None
    assert tighten(waited, 2, 0, 1, more_than(5)) is None


@given(zones())
def test_every_zone_is_canonical_and_not_empty(zone: Zone) -> None:
    assert closed(told(zone), CLOCKS + 1) == told(zone)


@given(zones(), st.permutations(range(CLOCKS + 1)), st.integers(-6, 6), st.booleans())
def test_a_tighter_bound_is_all_shortest_paths_anew(zone: Zone, order: list[int], most: int, strict: bool) -> None:
    i, j = order[:2]
    after = tighten(zone, CLOCKS + 1, i, j, encoded((most, strict)))
    expected = closed(tighter(told(zone), [(i, j, (most, strict))]), CLOCKS + 1)
    assert (None if after is None else told(after)) == expected


@given(zones(), st.dictionaries(st.integers(1, CLOCKS), TIMES, max_size=CLOCKS))
def test_waiting_drops_upper_bounds_and_takes_the_limits(zone: Zone, limits: dict[int, int]) -> None:
    free = {(i, j): bound for (i, j), bound in told(zone).items() if j != 0 or i == 0}
    expected = closed(tighter(free, [(clock, 0, (limit, False)) for clock, limit in limits.items()]), CLOCKS + 1)
    after = delay(zone, CLOCKS + 1, tuple(limits.items()))
    assert (None if after is None else told(after)) == expected


@given(zones(), st.lists(st.integers(0, CLOCKS), max_size=4), st.lists(POINTS, max_size=5))
def test_a_choice_of_clocks_reads_what_they_read(zone: Zone, clocks: list[int], points: list[list[Fraction]]) -> None:
    """A clock taken twice stays equal to itself, and one that starts reads 0."""
    after = told(choice(clocks, CLOCKS + 1)(zone))
    assert closed(after, len(clocks) + 1) == after
    for point in points:
        if within(zone, point):
            kept = [Fraction(0), *(point[c] if c else Fraction(0) for c in clocks)]
            assert within(choice(clocks, CLOCKS + 1)(zone), kept)
    for (i, j), bound in after.items():
        assert told(zone)[[0, *clocks][i], [0, *clocks][j]] == bound


def _formula(zone: Zone, clocks: list[object]) -> object:
    return z3.And(
        [
            clocks[i] - clocks[j] < most if strict else clocks[i] - clocks[j] <= most  # type: ignore[operator]
            for (i, j), (most, strict) in told(zone).items()
        ]
    )


def _clocks() -> list[object]:
    return [z3.RealVal(0), *(z3.Real(f"x{k}") for k in range(1, CLOCKS + 1))]


@settings(deadline=None)
@given(zones(), zones())
def test_one_covers_another_when_arithmetic_says_so(larger: Zone, smaller: Zone) -> None:
    solver = z3.Solver()
    solver.add(_formula(smaller, _clocks()))
    assert solver.check() == z3.sat
    solver.add(z3.Not(_formula(larger, _clocks())))
    assert covers(larger, smaller) == (solver.check() == z3.unsat)


@settings(deadline=None)
@given(zones(), st.permutations(range(CLOCKS + 1)), st.integers(-6, 6), st.booleans())
def test_a_zone_is_empty_when_arithmetic_says_so(zone: Zone, order: list[int], most: int, strict: bool) -> None:
    i, j = order[:2]
    clocks = _clocks()
    solver = z3.Solver()
    solver.add(_formula(zone, clocks))
    difference = clocks[i] - clocks[j]  # type: ignore[operator]
    solver.add(difference < most if strict else difference <= most)
    after = tighten(zone, CLOCKS + 1, i, j, encoded((most, strict)))
    assert (after is not None) == (solver.check() == z3.sat)


@settings(deadline=None)
@given(zones(), st.dictionaries(st.integers(1, CLOCKS), TIMES, max_size=CLOCKS), POINTS)
def test_waiting_reaches_what_some_wait_reaches(zone: Zone, limits: dict[int, int], point: list[Fraction]) -> None:
    waited = z3.Real("waited")
    solver = z3.Solver()
    solver.add(waited >= 0)
    solver.add(_formula(zone, [z3.RealVal(0), *(z3.RealVal(str(at)) - waited for at in point[1:])]))
    reached = solver.check() == z3.sat and all(point[clock] <= limit for clock, limit in limits.items())
    after = delay(zone, CLOCKS + 1, tuple(limits.items()))
    assert (after is not None and within(after, point)) == reached


@pytest.mark.parametrize("clocks", [0, 1, 2, 5])
def test_all_clocks_start_equal(clocks: int) -> None:
    zone = start(clocks)
    assert set(told(zone).values()) == {(0, False)}
    assert covers(zone, zone)
