"""The grammar itself, and trees that come back from their own text."""

from __future__ import annotations

import logging
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lark import Lark
from lark import logger as lark_logger

from grammar.source import Source
from grammar.structured_text import is_reserved, read, tree, write
from grammar.structured_text.parse import grammar_text
from grammar.structured_text.tree import Assignment, IfStatement, Unit
from tests.structured_text.strategies import NAMES, units


def test_the_grammar_has_no_conflict(caplog: pytest.LogCaptureFixture) -> None:
    lark_logger.setLevel(logging.DEBUG)
    try:
        with caplog.at_level(logging.DEBUG, logger=lark_logger.name):
            Lark(grammar_text(), parser="lalr", lexer="basic", debug=True)
    finally:
        lark_logger.setLevel(logging.CRITICAL)
    assert not [r.getMessage() for r in caplog.records if "onflict" in r.getMessage() or "nused" in r.getMessage()]


def test_rules_and_nodes_correspond() -> None:
    """Each rule makes one class of node and each node has a rule."""
    rules = set(re.findall(r"(?m)^\??([a-z]\w*)\s*:", grammar_text())) | set(re.findall(r"-> (\w+)", grammar_text()))
    inlined = set(re.findall(r"(?m)^\?(\w+)", grammar_text()))
    ours = (
        rules
        - inlined
        - {"start", "body", "broken"}
        - {r for r in rules if r.startswith("broken_") or r.endswith("_label")}
    )
    nodes = {re.sub(r"(?<!^)(?=[A-Z])", "_", name).lower() for name in tree.__all__}
    assert ours == nodes - {"argument", "expression", "statement", "link", "node"}


@settings(max_examples=60, deadline=None)
@given(units())
def test_every_tree_comes_back_from_its_text(unit: Unit) -> None:
    reading = read(Source("t.st", write(unit)))
    assert reading.sound
    assert reading.tree == unit


@settings(max_examples=30, deadline=None)
@given(units(), st.randoms(use_true_random=False))
def test_letter_case_blanks_and_comments_change_nothing(unit: Unit, random: object) -> None:
    text = write(unit)
    for word in ("IF", "THEN", "END_IF", "CASE", "OF", "NOT", "AND", "OR", "END_VAR", "VAR"):
        text = re.sub(rf"\b{word}\b", word.lower(), text)
    text = text.replace("\n", "  (* a; b *)\r\n\t").replace(";", " ; // END_IF\n /* x */ ")
    reading = read(Source("t.st", text.replace("\r\n", "\n")))
    assert reading.sound
    assert reading.tree == unit


def test_spans_stand_at_their_words() -> None:
    text = "PROGRAM P VAR n : INT; b : BOOL; END_VAR IF n > 2 THEN b := NOT b; END_IF; END_PROGRAM"
    reading = read(Source("t.st", text))
    assert reading.tree is not None
    (branching,) = reading.tree.body
    assert isinstance(branching, IfStatement)
    assert reading.source.words(branching.span) == "IF n > 2 THEN b := NOT b; END_IF"
    assert reading.source.words(branching.branches[0].condition.span) == "n > 2"
    inner = branching.branches[0].body[0]
    assert isinstance(inner, Assignment)
    assert reading.source.words(inner.value.span) == "NOT b"


def test_names_used_here_are_free() -> None:
    assert not [n.text for n in NAMES if is_reserved(n.text)]
