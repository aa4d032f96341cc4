"""Every way through a logic is found, and no other: against all values of all inputs."""

from __future__ import annotations

from itertools import product as every

from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.proof.leaves import Look, TooMany, plain, ways

INPUTS = 4


def formulas() -> st.SearchStrategy[str]:
    """Python expressions over a to d, as the logics write them."""
    atoms = st.sampled_from(["a", "b", "c", "d"])
    return st.recursive(
        atoms,
        lambda inner: st.one_of(
            st.tuples(inner, st.sampled_from(["and", "or", "!=", "=="]), inner).map(
                lambda t: f"({t[0]} {t[1]} {t[2]})"
            ),
            inner.map(lambda f: f"(not {f})"),
            st.tuples(inner, inner, inner).map(lambda t: f"({t[0]} if {t[1]} else {t[2]})"),
            inner.map(lambda f: f"(False, True)[{f}]"),
            inner.map(lambda f: f"bool({f} * 2 + 1 > 1)"),
        ),
        max_leaves=8,
    )


@given(formula=formulas())
@settings(max_examples=300, deadline=None)
def test_the_answers_are_those_of_all_values(formula: str) -> None:
    code = compile(formula, "<formula>", "eval")

    def answer(a: object, b: object, c: object, d: object) -> bool:
        return bool(eval(code, {"a": a, "b": b, "c": c, "d": d}))

    def run(values: dict[int, bool]) -> tuple[dict[int, bool], bool]:
        found = answer(*(Look(values, k) for k in range(INPUTS)))
        return dict(values), found

    found = list(ways(run, most=1000))
    for values in every((False, True), repeat=INPUTS):
        matching = [told for looked, told in found if all(values[k] is v for k, v in looked.items())]
        assert matching == [answer(*values)]  # one way for every set of values, with the right answer


def test_only_what_is_looked_at_is_tried() -> None:
    seen: list[dict[int, bool]] = []

    def run(values: dict[int, bool]) -> None:
        a, b = Look(values, 0), Look(values, 1)
        bool(a and b)
        seen.append(dict(values))

    assert len(list(ways(run, most=10))) == 3
    assert seen == [{0: False}, {0: True, 1: False}, {0: True, 1: True}]


def test_too_many_ways_are_given_up() -> None:
    def run(values: dict[int, bool]) -> None:
        for k in range(10):
            bool(Look(values, k))

    try:
        list(ways(run, most=100))
    except TooMany:
        return
    raise AssertionError("there are 1,024 ways")


def test_a_kept_input_is_looked_at() -> None:
    values: dict[int, bool] = {}
    assert plain((Look(values, 3), (1, Look(values, 4, opposite=True)))) == (False, (1, True))
    assert values == {3: False, 4: False}
