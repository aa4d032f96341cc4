"""Blocks go by indentation: what belongs to what, what one line may hold, and what is told when it is not plain."""

from __future__ import annotations

import pytest

from grammar.diagnostic import render
from grammar.sequence import tree
from grammar.sequence.blocks import DEEPEST_BLOCK
from grammar.sequence.judge import every
from grammar.sequence.read import read
from grammar.source import Source


def _codes(text: str) -> list[str]:
    return [d.code for d in read(Source("<t>", text)).diagnostics]


def _shape(nodes: tuple[tree.Statement, ...]) -> list[object]:
    """The blocks of a row of statements, each step as the time it holds."""
    said: list[object] = []
    for node in nodes:
        match node:
            case tree.CycleStep(duration=tree.Quantity(number)):
                said.append(int(number))
            case tree.Together(branches):
                said.append(["together", *(_shape(b.steps) for b in branches)])
            case tree.Choice(cases):
                said.append(["if", *(_shape(c.steps) for c in cases)])
            case tree.Repeat(steps):
                said.append(["repeat", *_shape(steps)])
            case _:
                said.append(type(node).__name__)
    return said


@pytest.mark.parametrize(
    ("text", "shape"),
    [
        ("repeat 2 times\n    hold 1 s\nhold 2 s", [["repeat", 1], 2]),
        ("repeat 2 times\n hold 1 s\n hold 2 s\nhold 3 s", [["repeat", 1, 2], 3]),
        ("repeat 2 times, hold 1 s\nhold 2 s", [["repeat", 1], 2]),
        ("repeat 2 times, hold 1 s then hold 2 s\n    hold 3 s\nhold 4 s", [["repeat", 1, 2, 3], 4]),
        ("repeat 2 times\n repeat 3 times\n  hold 1 s\n hold 2 s\nhold 3 s", [["repeat", ["repeat", 1], 2], 3]),
        ("repeat 2 times\n    repeat 3 times\n        hold 1 s\nhold 2 s", [["repeat", ["repeat", 1]], 2]),
        ("if A, hold 1 s, otherwise hold 2 s, hold 3 s", [["if", [1], [2, 3]]]),
        ("if A then hold 1 s\notherwise if B then hold 2 s\notherwise hold 3 s", [["if", [1], [2], [3]]]),
        ("if A\n    hold 1 s\nif B\n    hold 2 s\notherwise\n    hold 3 s", [["if", [1]], ["if", [2], [3]]]),
        ("if A\n    if B\n        hold 1 s\n    otherwise\n        hold 2 s", [["if", [["if", [1], [2]]]]]),
        ("if A\n    if B\n        hold 1 s\notherwise\n    hold 2 s", [["if", [["if", [1]]], [2]]]),
        ("together\n    hold 1 s\nmeanwhile\n        hold 2 s\nmeanwhile hold 3 s", [["together", [1], [2], [3]]]),
        (
            "together\n  if A\n    hold 1 s\n  hold 2 s\nmeanwhile\n  repeat 2 times\n    hold 3 s\nhold 4 s",
            [["together", [["if", [1]], 2], [["repeat", 3]]], 4],
        ),
        ("repeat 2 times\n    hold 1 s\n\n    # a remark\n\n    hold 2 s", [["repeat", 1, 2]]),
        ("repeat 2 times\n    wait\n until LS1\n    hold 2 s", [["repeat", "CycleStep", 2]]),
        ("repeat 2 times\n\thold 1 s\nhold 2 s", [["repeat", 1], 2]),
    ],
)  # fmt: skip
def test_what_is_indented_under_a_block_belongs_to_it(text: str, shape: list[object]) -> None:
    reading = read(Source("<t>", "cycle\n" + "\n".join("    " + line for line in text.split("\n"))))
    if "\t" not in text:
        assert reading.sound, reading.diagnostics
    else:
        reading = read(Source("<t>", text))
        assert reading.diagnostics == ()
    (cycle,) = reading.tree.declarations
    assert isinstance(cycle, tree.Cycle)
    assert _shape(cycle.steps) == shape


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        # columns
        ("repeat 2 times\n        hold 1 s\n    hold 2 s", ["RW156"]),
        ("repeat 2 times\n        hold 1 s\n    hold 2 s\n    hold 3 s", ["RW156"]),  # told once
        ("hold 1 s\n    hold 2 s\n    hold 3 s\nhold 4 s", ["RW128"]),
        ("if A\n    hold 1 s\n  otherwise\n    hold 2 s", ["RW158"]),
        ("if A\n    hold 1 s\n    otherwise\n        hold 2 s", ["RW158"]),
        ("repeat 2 times\n    hold 1 s\notherwise\n    hold 2 s", ["RW158"]),
        ("if A\n    hold 1 s\nhold 2 s\notherwise\n    hold 3 s", ["RW158"]),
        ("if A\n    hold 1 s\nmeanwhile\n    hold 2 s", ["RW158"]),
        ("meanwhile\n    hold 1 s", ["RW158"]),
        ("if A\n    hold 1 s\notherwise\n    hold 2 s\notherwise if B\n    hold 3 s", ["RW158"]),
        ("if A\n\thold 1 s\n    hold 2 s", ["RW167"]),
        ("cycle\n\thold 1 s\n    hold 2 s", ["RW011"]),  # no block goes by it
        # nothing in it
        ("repeat 2 times", ["RW157"]),
        ("repeat 2 times\nhold 1 s", ["RW157"]),
        ("if A\notherwise\n    hold 1 s", ["RW157"]),
        ("if A\n    hold 1 s\notherwise", ["RW157"]),
        ("together\nmeanwhile\n    hold 1 s", ["RW157"]),
        ("routine R", ["RW157"]),
        ("routine R\nhold 1 s", ["RW157"]),  # not indented, so a cycle of its own
        ("when STOP is pressed, return home", ["RW157"]),
        ("when STOP is pressed, return home\nhold 1 s", ["RW157"]),
        ("together\n    hold 1 s\n    hold 2 s", ["RW161"]),
        # one line
        ("hold 1 s, repeat 2 times, hold 2 s", ["RW159"]),
        ("if A, repeat 2 times, hold 1 s", ["RW159"]),
        ("cycle, repeat 2 times, hold 1 s", ["RW159"]),
        # what goes on with a head, and what ends a cycle
        ("repeat 2 times, counted by N, counted by M\n    hold 1 s", ["RW121"]),
        ("repeat 2 times\n    hold 1 s, counted by N", ["RW121"]),
        ("again while A\nhold 1 s", ["RW162"]),
        ("hold 1 s\nagain while A\nagain while B", ["RW162"]),
        ("repeat 2 times\n    hold 1 s\n    again while A", ["RW162"]),
        ("routine R\n    hold 1 s\n    again while A", ["RW162"]),
        ("routine R\n    when START is pressed\n    hold 1 s", ["RW122"]),
        ("when A is on, stop at end of cycle when B is on", ["RW122"]),
        ("stop at end of cycle", ["RW121"]),
        ("finish the stroke", ["RW121"]),
        # one fault brings no other
        ("if PART is maade\n    hold 1 s\nothrwise\n    hold 2 s", ["RW102", "RW102"]),
        ("if @\n    hold 1 s\notherwise\n    hold 2 s", ["RW101"]),
        ("repeat\n    hold 1 s\n    hold 2 s\nhold 3 s", ["RW165"]),
        ("repeat 2 times\n    @", ["RW104"]),
        ("together\n    @\nmeanwhile\n    hold 1 s", ["RW104"]),
        ("routine R\n    @", ["RW104"]),
        ("repeat 2 times\n    hold 1 s, @\n    hold 2 s", ["RW104"]),
    ],
)  # fmt: skip
def test_what_is_not_plain_is_told_once(text: str, codes: list[str]) -> None:
    assert _codes(text) == codes


def test_blocks_stand_inside_one_another_to_a_depth() -> None:
    def nested(depth: int) -> str:
        return "\n".join("  " * k + "repeat 2 times" for k in range(depth)) + "\n" + "  " * depth + "hold 1 s"

    assert _codes(nested(DEEPEST_BLOCK)) == []
    assert _codes(nested(DEEPEST_BLOCK + 1)) == ["RW160"]
    assert _codes(nested(DEEPEST_BLOCK + 5)) == ["RW160"]
    assert _codes(nested(DEEPEST_BLOCK + 5) + "\nhold 2 s") == ["RW160"]


@pytest.mark.parametrize(
    ("said", "moves"),
    [
        ("A+ B+ B- A-", ["A+", "B+", "B-", "A-"]),
        ("A+,B+,B-,A-", ["A+", "B+", "B-", "A-"]),
        ("A+B+B-A-", ["A+", "B+", "B-", "A-"]),
        ("a +  a -", ["a+", "a-"]),
        ("A+ B+ / B- A-", ["A+", "B+", "B-", "A-"]),
        ("A+ | B+ B- | A-", ["A+", "B+", "B-", "A-"]),
        ("A+ (B+ C+) B\u2212 C\u2013 A\u2014", ["A+", "B+ C+", "B-", "C-", "A-"]),
        ("(A+, B+) (A- B-)", ["A+ B+", "A- B-"]),
        ("(A+)", ["A+"]),
        ("CLAMP+ FEED-2+ CLAMP- FEED-2-", ["CLAMP+", "FEED-2+", "CLAMP-", "FEED-2-"]),
        ("A1+ A2+ A1-A2-", ["A1+", "A2+", "A1-", "A2-"]),
        ("Stößel+ Stößel-", ["Stößel+", "Stößel-"]),
    ],
)
def test_letters_are_moves_in_order(said: str, moves: list[str]) -> None:
    """A letter and its sign: + out, - back; in brackets together (the usual displacement-step notation)."""
    reading = read(Source("<t>", said))
    assert reading.diagnostics == ()
    (letters,) = (n for n in every(reading.tree) if isinstance(n, tree.Letters))
    assert [" ".join(f"{m.actuator.text}{'+' if m.out else '-'}" for m in group) for group in letters.moves] == moves


@pytest.mark.parametrize(
    ("said", "code", "words"),
    [
        ("A+ (B+ B-) A-", "RW166", "B-"),
        ("A+ (B+ C+ b+) A-", "RW166", "b+"),
        ("A+ (B+ C+ A-", "RW016", "("),
        ("A+ B+) A-", "RW016", ")"),
        ("A+ ((B+ C+) D+)", "RW146", "("),
        ("A+ B", "RW146", "B"),
        ("A+ then B+", "RW146", "A+"),
        ("A + B", "RW146", "B"),
        ("A+ ()", "RW146", "()"),
    ],
)
def test_letters_at_fault(said: str, code: str, words: str) -> None:
    source = Source("<t>", said)
    (found,) = read(source).diagnostics
    assert found.span is not None
    assert (found.code, source.words(found.span)) == (code, words)


@pytest.mark.parametrize(
    "text",
    [
        "hydraulic cylinder A\n    double solenoid valve S-A extends, S-B retracts",
        "lamp A-1, B-2\nturn on A-1 and B-2",
        "wait until A-B",
    ],
)
def test_a_hyphen_in_a_name_is_no_sign(text: str) -> None:
    reading = read(Source("<t>", text))
    assert reading.sound, reading.diagnostics
    assert not [n for n in every(reading.tree) if isinstance(n, tree.Letters)]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("motor PUMP\nstop PUMP", tree.Turn(False, tree.Name("PUMP"))),
        ("signal S\nstop s", tree.Turn(False, tree.Name("s"))),
        ("stop SOL1", tree.Turn(False, tree.Name("SOL1"))),
        ("motor PUMP\nrun PUMP", tree.Turn(True, tree.Name("PUMP"))),
        ("hydraulic motor W, A forward, B reverse\nstop W", tree.Halt(tree.Name("W"))),
        ("hydraulic motor W, A forward, B reverse\nrun W backwards", tree.Run(tree.Name("W"), "reverse")),
        ("hydraulic cylinder PRESS\nstop PRESS", tree.Halt(tree.Name("PRESS"))),
        ("if A\n    repeat 2 times\n        stop PUMP\nmotor PUMP", tree.Turn(False, tree.Name("PUMP"))),
    ],
)
def test_what_stops_depends_on_what_it_is(text: str, wanted: tree.Command) -> None:
    reading = read(Source("<t>", text))
    assert reading.sound, reading.diagnostics
    (command,) = (n for n in every(reading.tree) if isinstance(n, tree.Command))
    assert command == wanted


_EXACT = {
    "extend\nmeanwhile\n    retract": """<t>:2:1: fault RW158: 'meanwhile' goes on with the 'together' above it, \
and there is none at its column
    2 | meanwhile
      | ^^^^^^^^^
    try: begin with 'together', and start 'meanwhile' at the same column""",
    "extend\notherwise\n    retract": """<t>:2:1: fault RW158: 'otherwise' goes on with the 'if' above it, \
and there is none at its column
    2 | otherwise
      | ^^^^^^^^^
    try: begin with 'if', and start 'otherwise' at the same column""",
    "repeat 3 times\nextend": """<t>:1:1: fault RW157: nothing is said to be done under 'repeat'
    1 | repeat 3 times
      | ^^^^^^^^^^^^^^
    try: write its steps under it, indented""",
    "repeat\n    extend": """<t>:1:1: fault RW165: how often is not said
    1 | repeat
      | ^^^^^^
    try: repeat 5 times, repeat until PART is made - or, as the last line of a cycle, again while AUTO is on""",
    "do": """<t>:1:1: fault RW103: something is missing after 'do'
    1 | do
      | ^^
    expected: the name of a routine""",
    "togehter\n    extend A\nmeanwhile\n    extend B": """<t>:1:1: fault RW102: 'togehter' is not understood here
    1 | togehter
      | ^^^^^^^^
    try: did you mean 'together'?""",
    "repeat 3 times\n        extend\n    retract": """<t>:3:5: fault RW156: this line starts at no column where a \
line above starts, so it is not plain what it belongs to
    3 |     retract
      |     ^
    try: start it right under the line it follows, or further right under the block it belongs to""",
    "together\n    extend A\n    extend B": """<t>:1:1: fault RW161: only one line of work stands under 'together', \
and its steps come one after another
    1 | together
      | ^^^^^^^^
    try: put 'meanwhile' before what goes on at the same time, or join commands with 'and'""",
}


@pytest.mark.parametrize("text", _EXACT)
def test_messages_to_the_letter(text: str) -> None:
    source = Source("<t>", text)
    assert "\n".join(render(d, source) for d in read(source).diagnostics) == _EXACT[text]
