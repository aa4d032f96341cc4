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
from grammar.structured_text.blocks import BLOCKS, Kind
from grammar.structured_text.parse import grammar_text
from grammar.structured_text.tree import (
    Assignment,
    Boolean,
    Branch,
    Call,
    CaseStatement,
    Chain,
    Declaration,
    Duration,
    Empty,
    Entry,
    Expression,
    Given,
    IfStatement,
    Integer,
    Label,
    Link,
    Name,
    Negation,
    Negative,
    Pin,
    Section,
    Statement,
    Taken,
    Unit,
    Variable,
)


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


# --- whole programs, made sound -------------------------------------------------------------------------------

BOOLS = [Name(n) for n in ("x1", "flag", "_Aux")]
INTS = [Name(n) for n in ("StepNo", "n2")]
INPUTS = [Name(n) for n in ("START", "Ls_1")]
INSTANCES = {kind: Name(f"b{kind}") for kind in BLOCKS}

bool_atoms: st.SearchStrategy[Expression] = st.one_of(
    st.booleans().map(Boolean),
    st.sampled_from([*BOOLS, *INPUTS]).map(Variable),
    st.sampled_from(["TON", "R_TRIG", "SR"]).map(lambda k: Pin(INSTANCES[k], Name("Q1" if k == "SR" else "Q"))),
    st.sampled_from(["BOOL#1", "0"]).map(Integer),
)
int_atoms: st.SearchStrategy[Expression] = st.one_of(
    st.sampled_from(["2", "16#FF", "INT#-5", "1_000", "2#101"]).map(Integer),
    st.sampled_from(INTS).map(Variable),
    st.just(Pin(INSTANCES["CTU"], Name("CV"))),
)


def chain(operands: st.SearchStrategy[Expression], level: tuple[str, ...]) -> st.SearchStrategy[Expression]:
    links = st.lists(st.builds(Link, st.sampled_from(level), operands), min_size=1, max_size=2).map(tuple)
    return st.builds(Chain, operands, links)


ints = st.recursive(
    int_atoms,
    lambda inner: st.one_of(inner.map(Negative), chain(inner, ("+", "-")), chain(inner, ("*", "/", "MOD"))),
    max_leaves=4,
)
comparison = st.builds(
    lambda a, op, b: Chain(a, (Link(op, b),)), ints, st.sampled_from(["<", ">", "<=", ">=", "=", "<>"]), ints
)
bools = st.recursive(
    bool_atoms | comparison,
    lambda inner: st.one_of(
        inner.map(Negation), *(chain(inner, level) for level in (("AND",), ("XOR",), ("OR",), ("=", "<>")))
    ),
    max_leaves=5,
)


@st.composite
def calls(draw: st.DrawFn) -> Statement:
    kind = draw(st.sampled_from(sorted(BLOCKS)))
    times = st.sampled_from(["T#5s", "t#1m30s"]).map(Duration)
    of_kind = {Kind.BOOL: bools, Kind.INT: ints, Kind.TIME: times}
    given_pins = [Given(Name(pin), draw(of_kind[k])) for pin, k in BLOCKS[kind].inputs.items() if draw(st.booleans())]
    taken = (
        [Taken(Name("Q"), draw(st.sampled_from(BOOLS)))]
        if "Q" in BLOCKS[kind].outputs and draw(st.booleans())
        else []
    )
    return Call(INSTANCES[kind], (*given_pins, *taken))


plain = st.one_of(
    st.just(Empty()),
    st.builds(Assignment, st.sampled_from(BOOLS), bools),
    st.builds(Assignment, st.sampled_from(INTS), ints),
    calls(),
)


def compound(inner: st.SearchStrategy[Statement]) -> st.SearchStrategy[Statement]:
    body = st.lists(inner, max_size=2).map(tuple)
    branch = st.builds(Branch, bools, body)
    labels = st.lists(st.integers(-50, 50), unique=True, min_size=1, max_size=4).map(sorted)

    @st.composite
    def case(draw: st.DrawFn) -> Statement:
        numbers = [Integer(str(n)) if n >= 0 else Negative(Integer(str(-n))) for n in draw(labels)]
        entries = tuple(Entry((Label(n),), draw(body)) for n in numbers)
        wide = (Entry((Label(Integer("60"), Integer("70")), Label(Integer("80"))), draw(body)),)
        return CaseStatement(draw(ints), entries + wide, draw(st.none() | body))

    ifs = st.builds(IfStatement, st.lists(branch, min_size=1, max_size=3).map(tuple), st.none() | body)
    return st.one_of(ifs, case())


statements: st.SearchStrategy[Statement] = st.recursive(plain, compound, max_leaves=6)
SECTIONS = (
    Section("VAR_INPUT", (), (Declaration(tuple(INPUTS), Name("BOOL")),)),
    Section("VAR", ("RETAIN",), (Declaration(tuple(BOOLS), Name("bool"), Boolean(True)),)),
    Section("VAR", (), (Declaration((INTS[0],), Name("INT"), Integer("10")), Declaration((INTS[1],), Name("INT")))),
    Section("VAR", (), tuple(Declaration((name,), Name(kind)) for kind, name in INSTANCES.items())),
    Section("VAR", ("CONSTANT",), (Declaration((Name("dwell"),), Name("TIME"), Duration("T#2s")),)),
)
units = st.builds(
    Unit,
    st.sampled_from(["FUNCTION_BLOCK", "PROGRAM"]),
    st.just(Name("Press_1")),
    st.just(SECTIONS),
    st.lists(statements, max_size=4).map(tuple),
)


@settings(max_examples=60, deadline=None)
@given(units)
def test_every_tree_comes_back_from_its_text(unit: Unit) -> None:
    reading = read(Source("t.st", write(unit)))
    assert not reading.diagnostics
    assert reading.tree == unit


@settings(max_examples=30, deadline=None)
@given(units, st.randoms(use_true_random=False))
def test_letter_case_blanks_and_comments_change_nothing(unit: Unit, random: object) -> None:
    text = write(unit)
    for word in ("IF", "THEN", "END_IF", "CASE", "OF", "NOT", "AND", "OR", "END_VAR", "VAR"):
        text = re.sub(rf"\b{word}\b", word.lower(), text)
    text = text.replace("\n", "  (* a; b *)\r\n\t").replace(";", " ; // END_IF\n /* x */ ")
    reading = read(Source("t.st", text.replace("\r\n", "\n")))
    assert not reading.diagnostics
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
    assert not [n.text for n in (*BOOLS, *INTS, *INPUTS, *INSTANCES.values()) if is_reserved(n.text)]
