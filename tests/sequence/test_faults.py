"""Messages: every code has an entry whose example shows it, and every named mistake is met by its own words."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import grammar
from grammar.diagnostic import Entry, render
from grammar.faults import ENTRIES as LAYOUT_ENTRIES
from grammar.sequence.faults import ENTRIES
from grammar.sequence.mistakes import MISTAKES, Mistake
from grammar.sequence.read import read
from grammar.source import Source

_FOLDER = Path(grammar.__file__).parent
_ALL = (*LAYOUT_ENTRIES, *ENTRIES)


def _raised() -> set[str]:
    files = [*_FOLDER.glob("*.py"), *(_FOLDER / "sequence").rglob("*.py")]
    text = "\n".join(f.read_text(encoding="utf-8") for f in files if f.name != "faults.py")
    return set(re.findall(r'"(RW[01]\d\d)"', text))


def test_codes_raised_and_entries_are_the_same() -> None:
    codes = [e.code for e in _ALL]
    assert len(codes) == len(set(codes))
    assert set(codes) == _raised()


@pytest.mark.parametrize("entry", [e for e in _ALL if e.code > "RW003"], ids=lambda e: e.code)
def test_the_example_of_an_entry_shows_it(entry: Entry) -> None:
    found = read(Source("<test>", entry.example)).diagnostics
    assert entry.code in {d.code for d in found}
    assert all(d.severity is entry.severity for d in found if d.code == entry.code)


@pytest.mark.parametrize("entry", [e for e in ENTRIES if e.code != "RW128"], ids=lambda e: e.code)
def test_one_fault_is_told_once(entry: Entry) -> None:
    """No example makes a second message follow from the first."""
    found = read(Source("<test>", entry.example)).diagnostics
    assert [d.code for d in found] == [entry.code]


@pytest.mark.parametrize("row", MISTAKES, ids=lambda r: r.example)
def test_a_named_mistake_gets_its_own_message(row: Mistake) -> None:
    source = Source("<test>", "hydraulic cylinder X\n" + row.example)
    (found,) = read(source).diagnostics
    pattern = "[^{}]*".join(map(re.escape, re.split(r"\{\w+\}", row.message)))
    assert found.code == row.code
    assert re.fullmatch(pattern, found.message)
    assert found.span is not None
    assert source.words(found.span).strip()


_EXACT = {
    "extend unitl at-end": """<t>:1:8: fault RW102: 'unitl' is not understood here
    1 | extend unitl at-end
      |        ^^^^^
    try: did you mean 'until'?""",
    "hold 12": """<t>:1:6: fault RW149: 12 has no unit
    1 | hold 12
      |      ^^
    try: 12 s""",
    "extend until LS1 and": """<t>:1:14: fault RW103: something is missing after 'LS1 and'
    1 | extend until LS1 and
      |              ^^^^^^^
    expected: a condition (such as LS1 is made, PLATEN is at-end, after 5 s)""",
    "bore 25mm rod 10mm stroke 0.1 m": """<t>:1:11: fault RW151: a comma is missing before 'rod'
    1 | bore 25mm rod 10mm stroke 0.1 m
      |           ^^^
    try: a comma or a new line before 'rod'""",
    "lamp off": """<t>:1:6: fault RW130: 'off' is a word of the language; no device can be called that
    1 | lamp off
      |      ^^^
    try: to switch it, say: turn off and its name""",
    "hold 5 s retract": """<t>:1:10: fault RW101: 'retract' does not follow '5 s'
    1 | hold 5 s retract
      |          ^^^^^^^
    expected: 'within' or the end of the line
    try: a comma or a new line before 'retract'""",
    "hold 2,5 s": """<t>:1:6: fault RW012: a decimal is written with a point; a comma parts clauses
    1 | hold 2,5 s
      |      ^^^
    try: write 2.5""",
    "lamp L\u0410MP1": """<t>:1:6: fault RW013: 'L\u0410MP1' looks like 'LAMP1' \
but its letter 2 is Cyrillic capital letter a (U+0410)
    1 | lamp L\u0410MP1
      |      ^^^^^
    try: type LAMP1 again with Latin letters""",
    'machine "Hide press': """<t>:1:9: fault RW010: this text is not closed
    1 | machine "Hide press
      |         ^^^^^^^^^^^
    try: close it with " on the same line""",
    "hydralic cylinder P\n    bore 80": """<t>:1:1: fault RW102: 'hydralic' is not understood here
    1 | hydralic cylinder P
      | ^^^^^^^^
    try: did you mean 'hydraulic'?
<t>:2:10: fault RW149: 80 has no unit
    2 |     bore 80
      |          ^^
    try: 80 mm""",
}


@pytest.mark.parametrize("text", _EXACT)
def test_messages_to_the_letter(text: str) -> None:
    """What a user should see, judged by eye: place, underline, what was expected and the way out."""
    source = Source("<t>", text)
    assert "\n".join(render(d, source) for d in read(source).diagnostics) == _EXACT[text]


def test_no_message_speaks_of_the_parser() -> None:
    """Terminal names, and the parser's own wording, never reach a user."""
    parser_words = re.compile(r"lark|token|terminal|nexpected|\bNAME\b|QUANTITY|_[A-Z]{2,}|\$END|LPAR|RPAR|Traceback")
    wrong = [
        "extend until",
        "x @ y",
        "hold and",
        "(",
        "lamp",
        "when",
        "never x while",
        "bore",
        "1",
        '"a"',
        "within 8 s or",
    ]
    for text in [*wrong, *(m.example for m in MISTAKES), *(e.example for e in ENTRIES)]:
        source = Source("<t>", text)
        for d in read(source).diagnostics:
            said = " ".join([d.message, d.expected, d.cure]).replace("'hydraulic cylinder NAME'", "")
            said = said.replace("'pneumatic cylinder NAME'", "")
            assert not parser_words.search(said), said
