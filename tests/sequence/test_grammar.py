"""The grammar itself: no conflicts, every rule has its node, and one reading for one clause."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from importlib.resources import files

import pytest
from hypothesis import given, settings

from grammar.sequence import clauses, tree
from grammar.sequence.build import NODES
from grammar.sequence.judge import every
from grammar.sequence.parse import STARTS, grammar_text
from grammar.sequence.read import read
from grammar.sequence.words import WORDS, dimension, unit
from grammar.sequence.write import write
from grammar.source import Source
from tests.strategies_program import programs

_RULE = re.compile(r"^(\??)([a-z_]+)\s*:", re.M)


def _rules() -> Iterator[str]:
    text = files("grammar.sequence").joinpath("sequence.lark").read_text(encoding="utf-8")
    for silent, name in _RULE.findall(text):
        if not silent and not name.startswith("_"):
            yield name


def _conflicts(text: str, starts: list[str]) -> list[str]:
    """What lark says of shift/reduce conflicts, which it otherwise resolves in silence (lark manual, ``debug``)."""
    from lark import Lark, logger

    said: list[str] = []
    handler = logging.Handler()
    handler.emit = lambda record: said.append(record.getMessage())  # type: ignore[method-assign]  # a listener
    logger.addHandler(handler)
    before, logger.level = logger.level, logging.DEBUG
    try:
        Lark(text, parser="lalr", lexer="contextual", start=starts, debug=True)
    finally:
        logger.removeHandler(handler)
        logger.level = before
    return [s for s in said if "conflict" in s.lower()]


def test_the_grammar_has_no_conflicts() -> None:
    assert _conflicts('a: "x" | a "y" a', ["a"]), "the listener hears a conflict where there is one"
    assert not _conflicts(grammar_text(), list(STARTS))


def test_every_rule_has_its_node_and_every_node_its_rule() -> None:
    assert set(_rules()) == set(NODES)
    made_otherwise = {
        # joined from several clauses, or part of another node
        "Node", "Line", "Item", "Cylinder", "Cycle", "CycleStep", "Program", "Trigger", "StopRule", "OnFault",
        "DoubleSolenoid", "ThreePosition", "LimitSwitch", "PressureSwitch", "Switch", "Within", "Fault", "PlaceIs",
        "AtRest", "MotorDevice", "Pump", "Together", "Branch", "Choice", "Case", "Repeat", "Routine", "FinishCycle",
    }  # fmt: skip
    nodes = {
        name
        for module in (tree, clauses)
        for name, kind in vars(module).items()
        if isinstance(kind, type) and issubclass(kind, tree.Node) and name == kind.__name__
    }
    assert {kind.__name__ for kind in NODES.values()} == nodes - made_otherwise


@settings(max_examples=12, deadline=None)
@given(programs())
def test_every_node_knows_its_words(program: tree.Program) -> None:
    source = Source("<t>", write(program))
    for node in every(read(source).tree):
        assert source.words(node.span).strip() or isinstance(node, tree.DropOut), node
        if isinstance(node, tree.Name | tree.Text):
            assert node.text in source.words(node.span)


_MEANINGS = {
    # for binds before not, not before and, and before or (the language's own definition)
    "A or B and C": "A or (B and C)",
    "not A and B": "(not A) and B",
    "not A for 1 s": "not (A for 1 s)",
    "A and B for 1 s": "A and (B for 1 s)",
    "A or not B for 1 s and C": "A or ((not (B for 1 s)) and C)",
    "A": "A is made",
    "A is not pressed": "A is released",
    "A not on": "A is off",
    "A isn't closed": "A is open",
    "not made": None,
    "A is extended": "A is at-end",
    "A at home": "A is at-home",
    "A is operated": "A is made",
    "A is false": "A is not made",
}


@pytest.mark.parametrize("said", _MEANINGS)
def test_conditions_have_one_meaning(said: str) -> None:
    short = read(Source("<t>", f"wait until {said}"))
    meant = _MEANINGS[said]
    if meant is None:
        assert not short.sound
        return
    long = read(Source("<t>", f"wait until {meant}"))
    assert short.sound
    assert long.sound
    assert short.tree == long.tree


@pytest.mark.parametrize("phrase", [p for w in WORDS if w.kind.startswith("a command") for p in w.phrases])
def test_every_command_word_is_read(phrase: str) -> None:
    tail = {"turn": "X on", "switch": "X on"}.get(
        phrase, "5 s" if phrase in ("hold", "dwell", "pause", "wait") else "X"
    )
    assert read(Source("<t>", f"{phrase} {tail}")).sound


def test_units_of_every_spelling() -> None:
    """Spellings in common use in the trade."""
    for spelling, meant in {"sec": "s", "Seconds": "s", "LPM": "L/min", "µs": "us", "PSI": "psi", "MM": "mm"}.items():
        assert unit(spelling) == meant
    assert [dimension(u) for u in ("in", "bar", "gpm", "min")] == ["length", "pressure", "flow", "time"]


_NAMES = ["1LS", "1-CR", "Ölpumpe", "СТАНОК", "油缸", "STOP", "OUT", "x_1", "FAULT", "5m2"]
_WORDS_TOO = [
    "RUN",
    "RESET",
    "COUNT",
    "CLEAR",
    "SIGNAL",
    "COUNTER",
    "REPEAT",
    "DO",
    "STATION",
    "REVERSE",
    "FAST",
    "TIME",
]


@pytest.mark.parametrize("name", [*_NAMES, *_WORDS_TOO])
def test_names_a_machine_may_use(name: str) -> None:
    reading = read(Source("<t>", f"lamp {name}\nturn on {name} until {name} is on"))
    assert reading.sound, reading.diagnostics
    assert reading.tree.declarations[0] == tree.LoadDevice("lamp", tree.Name(name))


def test_a_quantity_wins_over_a_name() -> None:
    assert not read(Source("<t>", "lamp 5m")).sound


def test_an_accented_name_is_the_same_however_it_is_stored() -> None:
    """Unicode has two ways to store ö (Unicode normal forms C and D)."""
    one, two = (read(Source("<t>", f"lamp {name}")).tree for name in ("\u00d6L", "O\u0308L"))
    assert one == two
