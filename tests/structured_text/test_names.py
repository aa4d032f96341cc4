"""Device names as identifiers: reversible, distinct ignoring letter case, valid and not reserved."""

from __future__ import annotations

import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from grammar.structured_text import is_reserved
from targets.controller.names import borne, mangle, mangled, unmangle

VALID = re.compile(r"_?[A-Za-z0-9]+(_[A-Za-z0-9]+)*")  # IEC 61131-3:2003 2.1.2, single underscores from memory
tricky = st.text(alphabet="aAzZuUlLxX_nN19-", min_size=1, max_size=10)
names = (
    st.text(min_size=1, max_size=12)
    | tricky
    | st.sampled_from(["ON", "on", "S1", "1CR", "StepNo", "N_A", "LS1_made"])
)


@given(names, st.booleans())
@example("N_ZLon", False)
@example("__", False)
@example("_", False)
@example("Z", True)
def test_names_come_back_letter_for_letter(name: str, clashes: bool) -> None:
    made = mangle(name, clashes=clashes)
    assert unmangle(made) == name
    assert VALID.fullmatch(made)
    assert not made[0].isdigit()
    assert not is_reserved(made)


@given(st.lists(names, unique=True, max_size=8))
def test_distinct_names_stay_distinct_whatever_the_letter_case(listed: list[str]) -> None:
    made = mangled(listed)
    assert list(made) == listed
    assert len({identifier.casefold() for identifier in made.values()}) == len(listed)


@given(names)
def test_a_change_of_letter_case_does_not_matter(name: str) -> None:
    made = mangle(name, clashes=True)
    assert unmangle(made.swapcase()) == name


@pytest.mark.parametrize(
    ("name", "made"),
    [("LS1", "LS1"), ("LIM_SW_5", "LIM_SW_5"), ("_12V7", "_12V7"), ("1CR", "N_1CR"), ("3LS", "N_3LS"), ("ON", "N_ON"),
     ("LS-1", "N_LSZ2DX1"), ("A__B", "N_AZ5FX_B"), ("StepNo", "N_SZLtepZUNZLo")],
)  # fmt: skip
def test_names_a_machine_has(name: str, made: str) -> None:
    """JIC device tags start with a digit (common practice) and have to be escaped."""
    if name == "A__B":
        assert unmangle(mangle(name)) == name
        assert "__" not in mangle(name)
    else:
        assert mangle(name) == made


@pytest.mark.parametrize("name", ["N_", "N_Z", "N_ZQ", "N_A-"])
def test_what_was_never_made_is_refused(name: str) -> None:
    if name == "N_":
        assert unmangle(name) == ""
    else:
        with pytest.raises(ValueError, match=re.escape(name[2:])):
            unmangle(name)


def test_a_hand_written_program_may_bear_a_risky_name() -> None:
    """Printed programs bear the mangled name, which goes first; names that differ in letter case only never match."""
    assert mangled(["S1", "START"]) == {"S1": "N_S1", "START": "START"}
    assert borne(["S1", "START"], {"s1", "start"}) == {"S1": "S1", "START": "START"}
    assert borne(["S1", "START"], {"n_s1", "s1"}) == {"S1": "N_S1", "START": "START"}
    assert borne(["S1", "START"], set()) == {"S1": "N_S1", "START": "START"}
    assert borne(["a1", "A1"], {"a1"}) == mangled(["a1", "A1"])
