"""The shape of a text: lines, indentation, clauses and comments, whatever the words mean."""

from __future__ import annotations

import pytest

from grammar.layout import lay_out
from grammar.source import Source


def _clauses(text: str) -> list[list[str]]:
    return [[c.text for c in line.clauses] for line in lay_out(Source("<t>", text)).lines]


def _codes(text: str) -> list[str]:
    return [d.code for d in lay_out(Source("<t>", text)).diagnostics]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("a, b,c", ["a", "b", "c"]),
        ("a (b, c), d", ["a (b, c)", "d"]),
        ('fault "a, (b # c", d', ['fault "a, (b # c"', "d"]),
        ("a, b,", ["a", "b"]),
        ("a,, b", ["a", "b"]),
        ("a (b, c", ["a (b", "c"]),  # an open bracket does not swallow what follows
        ("LS1 at 5,LS2 at 6", ["LS1 at 5", "LS2 at 6"]),
        ("hold 2,5 s", ["hold 2.5 s"]),
        ("LS1,2LS", ["LS1", "2LS"]),
        ("«a» “b” „c“ ＂d＂", ['"a" "b" "c" "d"']),
        ('stroke 3", bore 2”', ["stroke 3″", "bore 2″"]),
        ("at\u2011end isn’t", ["at-end isn't"]),
        ("a\u00a0b\tc", ["a b c"]),
        ("PLA\u200bTEN", ["PLATEN"]),
        ("L\u0410MP ＬＳ１ СТОЛ", ["LAMP LS1 СТОЛ"]),
        ('"L\u0410MP"', ['"L\u0410MP"']),
    ],
)
def test_a_line_falls_into_clauses(text: str, wanted: list[str]) -> None:
    assert _clauses(text) == [wanted]


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ('"a', ["RW010"]),
        ('"a“', []),
        ("  a\n\tb", ["RW011"]),
        ("    a\n        b", []),
        ("1,000 mm", ["RW012"]),
        ("ＬＳ１", ["RW013"]),
        ("СТОЛ", []),
        ("a\u200db", ["RW014"]),
        ("# \u0646\u200c\u0645", []),  # a joiner that Persian needs, in a comment
        ("# a\u202eb", ["RW015"]),
        ('"a\u2066b"', ["RW015"]),
        ("a (b", ["RW016"]),
        ("a b)", ["RW016"]),
        ("(" * 51 + ")" * 51, ["RW017"]),
        ("(" * 50 + ")" * 50, []),
        ("a,,b", ["RW018"]),
        ("a,b,", []),
    ],
)
def test_what_is_at_fault_in_signs(text: str, codes: list[str]) -> None:
    assert _codes(text) == codes


def test_a_tab_counts_to_the_next_multiple_of_four() -> None:
    lines = lay_out(Source("<t>", "\ta\n  \tb\n    \tc\n      d")).lines
    assert [line.indent for line in lines] == [4, 4, 8, 6]


def test_comments_are_kept_apart() -> None:
    lines = lay_out(Source("<t>", "# above\n\na  # beside\n#\nb #")).lines
    assert [line.comment for line in lines] == ["above", "beside", "", ""]
    assert [line.number for line in lines] == [1, 3, 4, 5]


def test_a_thousands_comma_gets_both_ways_out() -> None:
    (found,) = lay_out(Source("<t>", "stroke 1,000 mm")).diagnostics
    assert found.cure == "write 1.000, or 1000 if that is meant"


@pytest.mark.parametrize(
    ("text", "unsure"),
    [
        ("a\n\tb\n\tc", None),
        ("a\n\tb\n\t    c", None),  # further right whatever a tab is
        ("a\n\tb\n    c", 3),
        ("a\n        b\n\t\tc", 3),
        ("a\n    b\n      \tc", None),
        ("a\n  \tb\n    c", 3),
    ],
)
def test_a_margin_that_hangs_on_the_width_of_a_tab_is_known(text: str, unsure: int | None) -> None:
    source = Source("<t>", text)
    place = lay_out(source).unsure
    assert (place and source.place(place.start).line) == unsure
