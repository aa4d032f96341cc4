"""No input makes a traceback: any text, any bytes, any spoilt program; and the work stays within bounds."""

from __future__ import annotations

import time

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from grammar.diagnostic import render, to_json
from grammar.layout import lay_out
from grammar.sequence.read import MOST_FAULTS, read
from grammar.sequence.words import WORDS
from grammar.sequence.write import format_text, write
from grammar.source import Source
from grammar.text import decode, normalise
from tests.strategies_program import programs

_SLOW = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
_PIECES = st.sampled_from(
    [p for w in WORDS for p in w.phrases]
    + [
        "LS1",
        "PLATEN",
        "START",
        "12 s",
        "80mm",
        "5",
        ",",
        "\n",
        "\n    ",
        "\n        ",
        "\n\t",
        "A+",
        "B -",
        "+",
        "/",
        "5 times",
        "(",
        ")",
        '"',
        '"x"',
        "#",
        "'",
        "@",
        "3″",
        "-",
    ]
)


def _check(text: str) -> None:
    source = Source("<any>", normalise(text))
    reading = read(source)
    for diagnostic in reading.diagnostics:
        assert render(diagnostic, source)
        assert to_json(diagnostic, source)
        assert diagnostic.span is None or 0 <= diagnostic.span.start <= diagnostic.span.end <= len(source.text)
    tidy, _ = format_text(source)
    if reading.sound:
        again = read(Source("<again>", tidy))
        assert again.sound, (tidy, again.diagnostics)
        assert write(again.tree) == tidy
    else:
        assert tidy == source.text


@_SLOW
@given(st.text(max_size=200))
@example("")
@example("\ufeff")
@example("\x00")
@example("\ud800 extend")
def test_any_text(text: str) -> None:
    _check(text)


@_SLOW
@given(st.lists(_PIECES, max_size=25).map(" ".join))
def test_any_row_of_known_words(text: str) -> None:
    _check(text)


@_SLOW
@given(programs(), st.data())
def test_any_spoilt_program(program: object, data: st.DataObject) -> None:
    text = write(program)  # type: ignore[arg-type]  # the strategy's type is a Program
    for _ in range(data.draw(st.integers(1, 3))):
        k = data.draw(st.integers(0, max(0, len(text) - 1)))
        put = data.draw(
            st.sampled_from(["", " ", ",", "\n", '"', "(", ")", "x", "-", "#", "\u200b", "\u0410", "until"])
        )
        text = text[:k] + put + text[k + data.draw(st.integers(0, 4)) :]
    _check(text)


@_SLOW
@given(st.binary(max_size=200) | st.text(max_size=60).map(lambda t: t.encode("utf-8", "replace")))
def test_any_bytes(data: bytes) -> None:
    source, fault = decode("<bytes>", data)
    assert fault is None or (source.text == "" and render(fault, source))
    _check(source.text)


_HUGE = {
    "brackets": "wait until " + "(" * 100_000 + "LS1" + ")" * 100_000,
    "nots": "wait until " + "not " * 50_000 + "LS1",
    "ands": "wait until LS1" + " and LS1" * 10_000,
    "faults": "abc def\n" * 50_000,
    "clauses": "1,2,@ " * 50_000,
    "quotes": "“a”" * 50_000,
    "hidden": ",\u200b" * 50_000,
    "sentences": "whenever A, B within 1 s, " * 10_000,
    "unended": "whenever A, " * 50_000,
    "word": "a" * 200_000,
    "blocks": "\n".join(" " * k + "repeat 2 times" for k in range(1000)) + "\n" + " " * 1000 + "hold 1 s",
    "stairs": "\n".join(" " * k + "hold 1 s" for k in range(1000)),
    "cases": "if A\n    hold 1 s\n" + "otherwise if A\n    hold 1 s\n" * 10_000,
    "strays": "otherwise\nmeanwhile\n" * 20_000,
    "letters": "A+ B- " * 30_000,
    "compact": "A+B-" * 30_000,
    "hyphens": "a-" * 100_000,
    "group": "(" + "A+ " * 30_000 + ")",
    "digits": "hold " + "1" * 200_000,
}


@pytest.mark.parametrize("name", _HUGE)
def test_large_input_is_read_in_bounded_time(name: str) -> None:
    """Thirty seconds is far above what any takes; work that grows with the square would take hours."""
    start = time.process_time()
    found = read(Source("<huge>", _HUGE[name])).diagnostics
    assert time.process_time() - start < 30
    assert len(found) <= MOST_FAULTS + 1
    assert name in ("ands", "sentences", "cases", "letters", "compact", "hyphens") or found


def test_layout_keeps_every_place() -> None:
    """Each letter of a clause that was not read as something else is the letter of the source it points at."""
    source = Source("<t>", 'extend PLA\u200bTEN until\u00a0(LS1), hold 2,5 s  # x\n\tstroke 3"\n')
    for line in lay_out(source).lines:
        for clause in line.clauses:
            for letter, place in zip(clause.text, clause.offsets, strict=False):
                assert letter == source.text[place] or (letter, source.text[place]) in {
                    (" ", "\u00a0"),
                    (".", ","),
                    ("″", '"'),
                }
