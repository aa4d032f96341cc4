"""The language reference: every example in it is read and compiled, and every form of the language is in it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import grammar
from compiler.tell import tell
from compiler.understand import understand
from grammar.diagnostic import Severity
from grammar.layout import lay_out
from grammar.sequence.build import NODES
from grammar.sequence.joining import in_letters, joined, leads_to
from grammar.sequence.parse import Stopped, TooDeep, parse
from grammar.sequence.read import read
from grammar.sequence.write import write
from grammar.source import Source

_TEXT = (Path(grammar.__file__).parent / "README.md").read_text(encoding="utf-8")
_EXAMPLES = re.findall(r"^```text ?(\w*)\n(.*?)^```$", _TEXT, re.M | re.S)
(_MACHINE,) = (text for kind, text in _EXAMPLES if kind == "machine")


@cache
def programs() -> tuple[str, ...]:
    return tuple(text if kind == "complete" else _MACHINE + text for kind, text in _EXAMPLES if kind != "machine")


@pytest.mark.parametrize("number", range(len(programs())))
def test_every_example_compiles(number: int) -> None:
    understood = understand(Source("<README>", programs()[number]))
    assert not understood.said(Severity.FAULT)
    assert understood.chart is not None


def _rules(text: str) -> Iterator[str]:
    """The rules of the grammar that a program makes use of."""
    for line in lay_out(Source("<README>", text)).lines:
        for k, clause in enumerate(joined(line.clauses)):
            start = "letters" if in_letters(clause) else "leads_to" if leads_to(clause) else "clause"
            parsed = parse(clause.text, start)
            if isinstance(parsed, Stopped) and k:
                parsed = parse(clause.text, "another")
            assert not isinstance(parsed, Stopped | TooDeep), clause.text
            yield from (str(t.data) for t in parsed.iter_subtrees())


def test_every_form_of_the_language_is_shown() -> None:
    shown = {rule for text in programs() for rule in _rules(text)}
    assert set(NODES) - shown == set()


@pytest.mark.parametrize("number", range(len(programs())))
def test_every_example_means_the_same_formatted(number: int) -> None:
    source = Source("<README>", programs()[number])
    formatted = Source("<README>", write(read(source).tree))
    assert write(read(formatted).tree) == formatted.text
    before, after = understand(source), understand(formatted)
    assert before.chart is not None
    assert after.chart is not None
    assert after.machine == before.machine
    assert tell(after.machine, after.chart) == tell(before.machine, before.chart)
