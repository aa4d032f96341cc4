"""Decision diagrams and patterns beside truth tables."""

from __future__ import annotations

import random
from itertools import product as every

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.proof.induction.diagrams import FALSE, TRUE, Diagrams, TooLarge
from compiler.proof.induction.patterns import Patterns, lanes_of

VARIABLES = 5
ROWS = list(every((False, True), repeat=VARIABLES))
WHOLE = (1 << len(ROWS)) - 1
Formula = tuple[str, tuple["Formula", ...]] | int


def formulas() -> st.SearchStrategy[Formula]:
    return st.recursive(
        st.integers(0, VARIABLES - 1),
        lambda inner: st.one_of(
            st.tuples(st.just("no"), st.tuples(inner)),
            st.tuples(st.sampled_from(["both", "either"]), st.tuples(inner, inner)),
            st.tuples(st.sampled_from(["choose", "all", "any"]), st.tuples(inner, inner, inner)),
        ),
        max_leaves=12,
    )


def table(formula: Formula) -> int:
    """The truth table of a formula, a bit for each row."""
    if isinstance(formula, int):
        return sum(1 << k for k, row in enumerate(ROWS) if row[formula])
    operator, parts = formula
    tables = [table(part) for part in parts]
    match operator:
        case "no":
            return WHOLE & ~tables[0]
        case "both" | "all":
            return tables[0] & tables[1] & (tables[2] if len(tables) > 2 else WHOLE)
        case "either" | "any":
            return tables[0] | tables[1] | (tables[2] if len(tables) > 2 else 0)
        case _:
            return tables[0] & tables[1] | WHOLE & ~tables[0] & tables[2]


def built(formula: Formula, algebra: Diagrams | Patterns, variables: list[int]) -> int:
    if isinstance(formula, int):
        return variables[formula]
    operator, parts = formula
    of = [built(part, algebra, variables) for part in parts]
    match operator:
        case "all":
            return algebra.all(of)
        case "any":
            return algebra.any(of)
        case _:
            found: int = getattr(algebra, operator)(*of)
            return found


@given(formula=formulas(), other=formulas())
@settings(max_examples=400, deadline=None)
def test_functions_are_equal_when_their_tables_are(formula: Formula, other: Formula) -> None:
    diagrams = Diagrams(100_000)
    variables = [diagrams.variable() for _ in range(VARIABLES)]
    f, g = built(formula, diagrams, variables), built(other, diagrams, variables)
    assert (f == g) is (table(formula) == table(other))
    assert (f == TRUE, f == FALSE) == (table(formula) == WHOLE, table(formula) == 0)


@given(formula=formulas(), seed=st.integers(0, 99))
@settings(max_examples=200, deadline=None)
def test_a_way_makes_a_function_hold_whatever_the_rest_is(formula: Formula, seed: int) -> None:
    diagrams = Diagrams(100_000)
    f = built(formula, diagrams, [diagrams.variable() for _ in range(VARIABLES)])
    if f == FALSE:
        return
    way = diagrams.way(f, random.Random(seed))
    assert set(way) <= diagrams.support(f)
    for k, row in enumerate(ROWS):
        if all(row[v] is on for v, on in way.items()):
            assert table(formula) >> k & 1


@given(formula=formulas())
@settings(max_examples=200, deadline=None)
def test_patterns_are_truth_tables(formula: Formula) -> None:
    patterns = Patterns(len(ROWS))
    variables = [table(k) for k in range(VARIABLES)]
    assert built(formula, patterns, variables) == table(formula)
    assert list(lanes_of(table(formula))) == [k for k in range(len(ROWS)) if table(formula) >> k & 1]


def test_the_support_is_what_a_function_depends_on() -> None:
    diagrams = Diagrams(1_000)
    a, b, c = (diagrams.variable() for _ in range(3))
    assert diagrams.support(diagrams.choose(b, diagrams.both(a, c), diagrams.both(c, a))) == {0, 2}
    assert diagrams.support(TRUE) == frozenset()


def test_too_many_nodes_are_given_up() -> None:
    diagrams = Diagrams(50)
    left, right = [diagrams.variable() for _ in range(8)], [diagrams.variable() for _ in range(8)]
    with pytest.raises(TooLarge):
        diagrams.any(diagrams.both(a, b) for a, b in zip(left, right, strict=True))
