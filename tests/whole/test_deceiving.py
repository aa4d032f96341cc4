"""Characters that hide what they do are refused in whatever language they are typed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from grammar import rungs, sfc, structured_text
from grammar.reading import Reading
from grammar.sequence.read import read as read_sequence
from grammar.source import Source, Span

_RUNGS = 'circuit "press"\n# a note\npushbutton "A B"\nlamp L\nrung 1: "A B", feeds L # lit\n'
_BLOCK = "FUNCTION_BLOCK Press\nVAR_INPUT\n    A : BOOL; (* a button *)\nEND_VAR\nEND_FUNCTION_BLOCK\n"
_CHART = (
    "FUNCTION_BLOCK Press\nVAR\n    A : BOOL; (* a button *)\nEND_VAR\n"
    "INITIAL_STEP S0:\nEND_STEP\nSTEP S1: (* on *)\nEND_STEP\n"
    "TRANSITION FROM S0 TO S1 := A;\nEND_TRANSITION\nTRANSITION FROM S1 TO S0 := NOT A;\nEND_TRANSITION\n"
    "END_FUNCTION_BLOCK\n"
)
_SEQUENCE = 'machine "press" # mine\n'
_READERS: dict[str, Callable[[Source], Reading[Any]]] = {
    "rungs": rungs.read,
    "st": structured_text.read,
    "sfc": sfc.read,
    "seq": read_sequence,
}


@pytest.mark.parametrize("sign", ["\u202e", "\u2066", "\u200f", "\x08", "\u2028"])
@pytest.mark.parametrize(
    ("language", "text", "beside"),
    [
        ("rungs", _RUNGS, "ess"),
        ("rungs", _RUNGS, " note"),
        ("rungs", _RUNGS, "lit"),
        ("st", _BLOCK, "button"),
        ("sfc", _CHART, "button"),
        ("sfc", _CHART, "on *"),
        ("seq", _SEQUENCE, "ess"),
        ("seq", _SEQUENCE, "mine"),
    ],
)
def test_what_turns_round_or_hides_is_refused_by_its_place(language: str, text: str, beside: str, sign: str) -> None:
    read, at = _READERS[language], text.index(beside)
    sound = [found.code for found in read(Source("t", text)).diagnostics]
    spoilt = read(Source("t", text[:at] + sign + text[at:])).diagnostics
    assert [found.code for found in spoilt if found.span == Span(at, at + 1)] in (["RW015"], ["RW412"])
    assert sorted(found.code for found in spoilt if found.span != Span(at, at + 1)) == sorted(sound)


def test_a_quoted_name_that_turns_round_is_refused_once_for_each_line() -> None:
    found = rungs.read(Source("t", _RUNGS.replace("A B", "A \u202eB"))).diagnostics
    assert [(one.code, one.cure) for one in found] == [("RW015", "delete it")] * 2


def test_joiners_that_scripts_need_are_left_alone() -> None:
    assert not rungs.read(Source("t", _RUNGS.replace("A B", "\u0645\u06cc\u200c\u0634\u0648\u062f"))).diagnostics
