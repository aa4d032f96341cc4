"""The plainest condition of a truth table is true where the table says so, and nothing in it can be left out."""

from __future__ import annotations

from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from compiler.condition import And, Condition, Not, Or, Signal, walk
from compiler.retell.table import plainest

NAMES = ("A", "B", "C", "D")
ROWS = list(product((True, False), repeat=len(NAMES)))


def true_in(condition: Condition, row: dict[str, bool]) -> bool:
    match condition:
        case Signal(device=device):
            return row[device]
        case Not(of=of):
            return not true_in(of, row)
        case And(of=parts):
            return all(true_in(part, row) for part in parts)
        case Or(of=parts):
            return any(true_in(part, row) for part in parts)
        case _:
            return True


@given(st.sets(st.sampled_from(ROWS), min_size=1, max_size=len(ROWS) - 1))
def test_is_true_in_just_those_rows(rows: set[tuple[bool, ...]]) -> None:
    found = plainest(NAMES, lambda row: tuple(row[name] for name in NAMES) in rows)
    assert found is not None
    assert {row for row in ROWS if true_in(found, dict(zip(NAMES, row, strict=True)))} == rows


@given(st.sets(st.sampled_from(ROWS), min_size=1, max_size=len(ROWS) - 1), st.sampled_from(NAMES))
def test_speaks_only_of_what_matters(rows: set[tuple[bool, ...]], name: str) -> None:
    place = NAMES.index(name)
    even = rows | {(*row[:place], not row[place], *row[place + 1 :]) for row in rows}
    found = plainest(NAMES, lambda row: tuple(row[n] for n in NAMES) in even)
    assert found is not None
    assert name not in {part.device for part in walk(found) if isinstance(part, Signal)}


def test_textbook_case() -> None:
    """A'B'C' + A'B'C + A'BC + ABC + ABC' + AB'C' has three primes in a cover (a common textbook exercise)."""
    wanted = {(0, 0, 0), (0, 0, 1), (0, 1, 1), (1, 1, 1), (1, 1, 0), (1, 0, 0)}
    found = plainest("ABC", lambda row: (int(row["A"]), int(row["B"]), int(row["C"])) in wanted)
    assert isinstance(found, Or)
    assert len(found.of) in (3, 4)
    assert all(isinstance(part, And) and len(part.of) == 2 for part in found.of)


def test_never_is_no_condition() -> None:
    assert plainest(NAMES, lambda row: False) is None
