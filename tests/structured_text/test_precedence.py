"""Operators and their precedence against IEC 61131-3:2003 Table 55 and grammar B.3.1."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.program.value import quotient, remainder, wrapped
from grammar.source import Source
from grammar.structured_text import read
from grammar.structured_text.tree import Assignment
from grammar.structured_text.write import expression
from tests.structured_text.clock import logic_of

NAMES = "ABCE"


def truth(text: str) -> list[bool]:
    """The truth table of an expression over A, B, C, E."""
    declared = "VAR_INPUT A, B, C, E : BOOL; END_VAR VAR_OUTPUT y : BOOL; END_VAR"
    logic = logic_of(f"FUNCTION_BLOCK F {declared} y := {text}; END_FUNCTION_BLOCK", tuple(NAMES), ("y",))
    return [logic.power_up(bits).outputs[0] for bits in product((False, True), repeat=4)]


GROUPED = {
    "A OR B XOR C AND E": "A OR (B XOR (C AND E))",
    "NOT A AND B": "(NOT A) AND B",
    "A = B OR C": "(A = B) OR C",
    "A & B OR C & E": "(A AND B) OR (C AND E)",
    "A XOR B AND C": "A XOR (B AND C)",
    "A <> B = C": "(A <> B) = C",
    "NOT A = B": "(NOT A) = B",
    "A AND B = C": "A AND (B = C)",
    "A OR NOT B AND C": "A OR ((NOT B) AND C)",
}


@pytest.mark.parametrize("text", GROUPED)
def test_precedence_is_as_bracketed(text: str) -> None:
    assert truth(text) == truth(GROUPED[text])


def value(text: str) -> int:
    """The INT value of an expression, remembered by the block since it is read before it is written."""
    declared = "VAR_OUTPUT y : BOOL; n : INT; END_VAR"
    logic = logic_of(f"FUNCTION_BLOCK F {declared} y := n = 0; n := {text}; END_FUNCTION_BLOCK", (), ("y",))
    return int(next(w for w in logic.lit(logic.power_up(()).state) if w.startswith("n = "))[4:])


@pytest.mark.parametrize(("text", "result"), [
    ("2 + 3 * 4", 14), ("(2 + 3) * 4", 20), ("7 - 2 - 1", 4), ("-7 MOD 3", -1), ("7 MOD -3", 1), ("5 MOD 0", 0),
    ("-7 / 2", -3), ("7 / -2", -3), ("20 / 2 * 3", 30), ("2 * -3", -6), ("- 5 + 8", 3), ("16#10 + 2#11", 19),
    ("32767 + 1", -32768),
])  # fmt: skip
def test_arithmetic(text: str, result: int) -> None:
    """MOD takes the sign of its left side, by zero it is 0 (Table 29, from memory); overflow wraps round."""
    assert value(text) == result


def test_power_binds_looser_than_a_minus_sign() -> None:
    """Table 55: ``-2**2`` is (-2)**2. Its value needs REAL numbers and is refused, its shape is read."""
    reading = read(Source("t.st", "PROGRAM P VAR n : INT; END_VAR n := -2**2; n := -(2**2); END_PROGRAM"))
    assert reading.tree is not None
    first, second = (s for s in reading.tree.body if isinstance(s, Assignment))
    assert (expression(first.value), expression(second.value)) == ("-2 ** 2", "-(2 ** 2)")
    assert first.value != second.value
    assert {d.code for d in reading.diagnostics} == {"RW503"}


@given(st.integers(-32768, 32767), st.integers(-32768, 32767))
def test_division_and_remainder_belong_together(left: int, right: int) -> None:
    if right:
        assert wrapped(quotient(left, right) * right + remainder(left, right)) == wrapped(left)
        assert abs(remainder(left, right)) < abs(right)


@st.composite
def loose(draw: st.DrawFn, depth: int = 3) -> tuple[str, str]:
    """A formula without needless brackets, and the same in Python with all of them."""
    if depth == 0 or draw(st.integers(0, 3)) == 0:
        name = draw(st.sampled_from("ABC"))
        return name, name
    text, python = draw(loose(depth - 1))
    if draw(st.booleans()):
        return f"NOT ({text})", f"(not ({python}))"
    return f"({text})", f"({python})"


# Highest first, as the table has them; each with its Python meaning.
LEVELS = [("=", "=="), ("AND", "and"), ("XOR", "!="), ("OR", "or")]


@settings(max_examples=35, deadline=None)
@given(st.lists(st.tuples(loose(), st.integers(0, 3)), min_size=2, max_size=6))
def test_a_row_of_operators_is_worked_highest_first(row: list[tuple[tuple[str, str], int]]) -> None:
    """Independent evaluation: fold the row level by level from the left, as the table says, in Python."""
    text = row[0][0][0] + "".join(f" {LEVELS[level][0]} {operand[0]}" for operand, level in row[1:])
    operands = [operand[1] for operand, _ in row]
    levels = [level for _, level in row[1:]]
    for level, (_, python) in enumerate(LEVELS):
        k = 0
        while k < len(levels):
            if levels[k] == level:
                operands[k : k + 2] = [f"(({operands[k]}) {python} ({operands[k + 1]}))"]
                del levels[k]
            else:
                k += 1
    meant = eval(f"lambda A, B, C: bool({operands[0]})")
    assert truth(text) == [meant(a, b, c) for a, b, c, _ in product((False, True), repeat=4)]
