"""Reading by lark's table is reading as lark does: the same lines, the same words, the same shape."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from lark import Token, Tree
from lark.exceptions import UnexpectedInput

from grammar.rungs.parse import parser
from grammar.tables import Tables, Word

_LINES = {
    "circuit": ['circuit "Hide press"'],
    "device": ["pushbutton START, STOP", 'limit switch "AT END", LS2', "control relay CR1"],
    "timer": ["timer TR1, on-delay 30 s", "time relay T2 retriggerable one-shot, 2.5min"],
    "counter": ["counter CT1, preset 5", "counter CT1 counts to 12 pieces"],
    "rung": [
        "rung 1: (START and LS2) or CR1, STOP NC, TR1 NCTO, feeds CR1",
        "12: ((A or B and C) or D) and E n.o., feeds TR1 supply, CR2 and KR1 latch",
        'rung: "A (1)" or CR1\nfeeds SOL1 ',
        "rung 3: feeds HORN1",
    ],
    "master": ["master: STOP NC, (A or B):", "master MCR"],
    "end": ["end master ", "end"],
}
_STARTS = tuple(_LINES)
_WORDS = sorted({word for lines in _LINES.values() for line in lines for word in line.split()} | {"(", ")", ",", ":"})


@cache
def _tables() -> Tables:
    return Tables(parser(), _STARTS, {})


def _by_lark(text: str, start: str) -> Any:
    try:
        return _plain(parser().parse(text, start=start))
    except UnexpectedInput:
        return None


def _plain(part: Tree[Token] | Token) -> Any:
    if isinstance(part, Token):
        return Word(part.type, str(part), part.start_pos or 0, part.end_pos or 0)
    return [_plain(child) for child in part.children]


@st.composite
def _lines(draw: st.DrawFn) -> tuple[str, str]:
    """A line that can be read, or one with some of its words put out, in or elsewhere."""
    start = draw(st.sampled_from(_STARTS))
    words = draw(st.sampled_from(_LINES[start])).split(" ")
    for _ in range(draw(st.integers(0, 3))):
        at = draw(st.integers(0, len(words)))
        words[at : at + draw(st.integers(0, 2))] = draw(st.lists(st.sampled_from(_WORDS), max_size=2))
    return draw(st.sampled_from(_STARTS)) if draw(st.integers(0, 9)) == 9 else start, " ".join(words)


@given(_lines())
@example(("rung", "rung 1: A feeds B \n"))
@example(("end", ""))
@settings(max_examples=150, deadline=None)
def test_a_line_is_read_just_as_lark_reads_it(line: tuple[str, str]) -> None:
    start, text = line
    assert _tables().read(text, start) == _by_lark(text, start)


@pytest.mark.campaign
@given(_lines())
@settings(max_examples=20_000, deadline=None)
def test_many_lines_are_read_just_as_lark_reads_them(line: tuple[str, str]) -> None:
    start, text = line
    assert _tables().read(text, start) == _by_lark(text, start)


def test_every_sample_is_read() -> None:
    """Or else the comparison above would compare nothing with nothing."""
    for start, lines in _LINES.items():
        for text in lines:
            assert _tables().read(text, start) is not None, text


def test_makers_get_parts_in_order_and_places_count_from_where_the_text_stands() -> None:
    made = Tables(parser(), _STARTS, {"name": lambda parts: parts[0].text, "contact": tuple, "group": len})
    found = made.read("rung 2: (A or B), C NC, feeds D", "rung", 100)
    assert found[:3] == [Word("RUNG", "rung", 100, 104), Word("NUMBER", "2", 105, 106), Word("COLON", ": ", 106, 108)]
    assert found[3] == 3  # a bracket, what is in it, a bracket
    assert found[5] == ("C", Word("FORM", "NC", 120, 122))
    assert found[-1] == ["D"]
