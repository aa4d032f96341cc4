"""The rung language: text to tree and back, and every message to the word."""

from __future__ import annotations

import io
import logging
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import grammar.rungs.tree as tree
from grammar.diagnostic import Severity, render
from grammar.rungs import read, write
from grammar.rungs.faults import ENTRIES
from grammar.rungs.parse import parser
from grammar.rungs.tree import Circuit, Contact, Form, Name, Parallel, Series, contacts
from grammar.source import Source
from tests.relay.strategies import circuits

HERE = Path(__file__).parent
ROOT = HERE.parent.parent


def texts(name: str) -> list[str]:
    """The paragraphs of a fixture file, parted by lines of dashes."""
    return [p.strip("\n") + "\n" for p in re.split(r"^-{5,}$", (HERE / name).read_text("utf-8"), flags=re.M)]


@pytest.mark.parametrize("text", texts("canonical.rungs"))
def test_canonical_text_comes_back_unchanged(text: str) -> None:
    reading = read(Source("list", text))
    assert reading.sound, [render(d, reading.source) for d in reading.diagnostics]
    assert write(reading.tree) == text


@pytest.mark.parametrize("pair", texts("loose.rungs"))
def test_loose_text_is_written_in_its_canonical_form(pair: str) -> None:
    loose, canonical = pair.split("=>\n")
    reading = read(Source("list", loose))
    assert reading.sound, [render(d, reading.source) for d in reading.diagnostics]
    assert write(reading.tree) == canonical.lstrip("\n")


@pytest.mark.parametrize("case", texts("mistakes.rungs"))
def test_mistakes_are_told_to_the_word(case: str) -> None:
    wrong, told = case.split("=>\n")
    source = Source("list", wrong)
    assert "\n".join(render(d, source) for d in read(source).diagnostics) + "\n" == told.lstrip("\n")


def test_every_code_has_an_entry_and_a_mistake_that_raises_it() -> None:
    """Codes raised, entries and mistakes shown are one set (three need a machine, RW422 a hundred faults)."""
    sources = [*(ROOT / "grammar" / "rungs").glob("*.py"), *(ROOT / "compiler" / "circuit").glob("*.py")]
    raised = {code for p in sources if p.name != "faults.py" for code in re.findall(r'"(RW4\d\d)"', p.read_text())}
    codes = [entry.code for entry in ENTRIES]
    assert sorted(raised) == codes
    shown = set(re.findall(r"RW4\d\d", (HERE / "mistakes.rungs").read_text("utf-8")))
    assert set(codes) - shown == {"RW422", "RW425", "RW426", "RW430"}


def test_severities_are_as_the_entries_say() -> None:
    severity = {entry.code: entry.severity for entry in ENTRIES}
    for case in texts("mistakes.rungs"):
        for found in read(Source("list", case.split("=>\n")[0])).diagnostics:
            assert found.severity is severity[found.code]


@settings(max_examples=60, deadline=None)
@given(circuits(masters=True))
def test_what_is_written_reads_back_the_same(circuit: Circuit) -> None:
    reading = read(Source("list", write(circuit)))
    assert reading.sound, [render(d, reading.source) for d in reading.diagnostics]
    assert reading.tree == circuit
    assert write(reading.tree) == write(circuit)


@settings(max_examples=40, deadline=None)
@given(circuits(leaves=4, masters=True), st.data())
def test_a_damaged_list_is_told_and_never_raises(circuit: Circuit, data: st.DataObject) -> None:
    text = write(circuit)
    at = data.draw(st.integers(0, len(text)))
    put = data.draw(st.text(st.sampled_from('(),":#\n\t ab1“é–\u200b\x00'), max_size=3))
    source = Source("list", text[:at] + put + text[at + data.draw(st.integers(0, 4)) :])
    reading = read(source)
    for diagnostic in reading.diagnostics:
        assert render(diagnostic, source)
        assert diagnostic.span is not None
        assert 0 <= diagnostic.span.start < diagnostic.span.end <= max(1, len(source.text) + 1)


@settings(max_examples=200, deadline=None)
@given(st.text())
def test_any_text_is_read_or_told(text: str) -> None:
    source = Source("list", text)
    reading = read(source)
    assert reading.sound or all(render(d, source) for d in reading.diagnostics)


def test_spans_cover_their_words() -> None:
    text = "pushbutton GO\nrelay CR1\nrung 1: (GO NC or CR1),\n    go NC  # why\n    feeds CR1\n"
    source = Source("list", text)
    (rung,) = read(source).tree.rungs
    assert [source.words(c.span) for c in contacts(rung.network)] == ["GO NC", "CR1", "go NC"]
    assert [c.name.text for c in contacts(rung.network)] == ["GO", "CR1", "GO"]
    assert [source.words(feed.span) for feed in rung.feeds] == ["CR1"]
    assert source.words(rung.span).startswith("rung 1")
    assert source.words(rung.span).endswith("feeds CR1")


def test_and_binds_closer_than_or_and_a_comma_least() -> None:
    """As in every boolean notation: A or B and C is A or (B and C) (common practice)."""
    text = "sensor A, B, C\nrelay R\nrung 1: A or B and C, B, feeds R\n"
    (rung,) = read(Source("list", text)).tree.rungs
    a, b, c = (Contact(Name(n), Form.NO) for n in "ABC")
    assert rung.network == Series((Parallel((a, Series((b, c)))), b))


def test_the_grammar_has_no_conflicts() -> None:
    from lark import Lark, logger

    log = io.StringIO()
    handler = logging.StreamHandler(log)
    logger.addHandler(handler)
    level = logger.level
    logger.setLevel(logging.DEBUG)
    try:
        grammar = (ROOT / "grammar" / "rungs" / "rungs.lark").read_text("utf-8")
        starts = ["circuit", "device", "timer", "counter", "rung", "master", "end"]
        Lark(grammar, parser="lalr", start=starts, debug=True)
    finally:
        logger.removeHandler(handler)
        logger.setLevel(level)
    assert "conflict" not in log.getvalue().lower()


def test_each_rule_has_its_node() -> None:
    """Rules and nodes correspond; what a rule without a node of its own becomes is said here."""
    rules = {str(rule.origin.name) for rule in parser().rules if not rule.origin.name.startswith("_")}
    becomes = {
        "branch": "Parallel",
        "chain": "Series",
        "timer": "Device",
        "counter": "Device",
        "master": "Master",
        "end": "Comments",
        "part": "Contact",
        "circuit": "Circuit",
        "device": "Device",
        "rung": "Rung",
        "contact": "Contact",
        "feed": "Feed",
        "name": "Name",
    }
    assert rules == set(becomes)
    nodes = {
        n for n, v in vars(tree).items() if isinstance(v, type) and issubclass(v, tree.Node) and v is not tree.Node
    }
    assert nodes == (set(becomes.values()) - {"Comments"}) | {"Preset"}


def test_thousands_of_rungs_are_read_with_all_their_faults_capped() -> None:
    """No timing here (the benchmarks do that): that it comes back at all, whole, is the point."""
    count = 5_000
    devices = "".join(f"relay CR{k}\n" for k in range(count))
    rungs = "".join(f"rung {k + 1}: CR{k // 2} or CR{k}, CR{k // 3} NC, feeds CR{k}\n" for k in range(count))
    assert len(read(Source("list", devices + rungs)).tree.rungs) == count
    told = read(Source("list", rungs.replace("feeds CR", "feeds R"))).diagnostics
    assert len(told) == 101
    assert told[-1].code == "RW422"


_HOSTILE = [
    '"#' * 200_000,
    "(" * 300_000,
    "%" * 300_000,
    "rung 1: A\n" + "   A\n" * 50_000,
    "master A:\n" * 5_000,
    "master A:\n rung: A, feeds B\n" * 2_000,
    "end\n" * 5_000,
    "quatsch A B\n" * 5_000,
]


@pytest.mark.parametrize("text", _HOSTILE)
def test_hostile_texts_are_told(text: str) -> None:
    assert any(d.severity is Severity.FAULT for d in read(Source("list", text)).diagnostics)
