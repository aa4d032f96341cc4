"""What is said about faulty structured text: each fault with its code and its place, all of them in one reading."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from compiler.program import ProgramLogic
from grammar.diagnostic import Severity, render
from grammar.reading import ReadBack
from grammar.source import Source
from grammar.structured_text import is_reserved, read
from grammar.structured_text.faults import ENTRIES
from targets.structured_text import TARGET

HEAD = (
    "FUNCTION_BLOCK FB_T\n"
    "VAR_INPUT a, b : BOOL; END_VAR VAR_OUTPUT y : BOOL; END_VAR\n"
    "VAR n : INT; t : TON; e : R_TRIG; c : CTU; END_VAR\n"
    "VAR CONSTANT k : INT := 5; dwell : TIME := T#2s; END_VAR\n"
)
END = "\nEND_FUNCTION_BLOCK\n"

# A statement, and (code, words at fault) of everything wrong with it.
STATEMENTS: list[tuple[str, list[tuple[str, str]]]] = [
    ("y := a AND NOT b;", []),
    ("y := 1; y := BOOL#0; n := 16#FF; n := -32768;", []),
    ("t(IN := a, PT := dwell, Q => y);", []),
    ("IF a THEN ; ELSIF b THEN y := a; ELSE END_IF;", []),
    ("CASE n OF 1, 3..5: y := a; -2: ; ELSE y := b; END_CASE;", []),
    ("y = a;", [("RW501", "=")]),
    ("y := a\ny := b;", [("RW501", "a")]),
    ("IF a y := b; END_IF;", [("RW501", "y")]),
    ("IF a THEN y := b; END_IF", [("RW501", "END_IF")]),
    ("y := (a AND b;", [("RW501", ";")]),
    ("y := ;", [("RW501", ";")]),
    ("END_IF;", [("RW501", "END_IF")]),
    ("FOR i := 1 TO 5 DO y := a; END_FOR;", [("RW503", "FOR")]),
    ("WHILE a DO y := b; END_WHILE; y := zz;", [("RW503", "WHILE"), ("RW509", "zz")]),
    ("IF a THEN y := b; RETURN; END_IF; y := n;", [("RW510", "n")]),
    ("n++; n += 1; y := zz;", [("RW501", "+"), ("RW501", "+"), ("RW509", "zz")]),
    (
        "y := MAX(a, b); %QX0.0 := a; EXIT; y := n;",
        [("RW503", "("), ("RW503", "%QX0.0"), ("RW503", "EXIT"), ("RW510", "n")],
    ),
    ("IF a THEN y := b; ENDIF; y := n;", [("RW501", "ENDIF"), ("RW510", "n"), ("RW502", "END_FUNCTION_BLOCK")]),
    ("IF a THEN y := b; ELSE IF b THEN y := a; END_IF; y := zz;", [("RW509", "zz"), ("RW502", "END_FUNCTION_BLOCK")]),
    ("y := !a; y := a == b; y := zz;", [("RW505", "!"), ("RW501", "="), ("RW509", "zz")]),
    ("EXIT;", [("RW503", "EXIT")]),
    ("REPEAT y := a; UNTIL b END_REPEAT; y := zz;", [("RW503", "REPEAT"), ("RW509", "zz")]),
    ("FOR i := 1 TO 2 DO FOR j := 1 TO 2 DO y := a; END_FOR; END_FOR; y := n;", [("RW503", "FOR"), ("RW510", "n")]),
    ("CONTINUE;", [("RW503", "CONTINUE")]),
    ("t(a, T#5s); y := n;", [("RW514", "a"), ("RW510", "n")]),
    ("t(a); y := n;", [("RW514", "a"), ("RW510", "n")]),
    ("t(NOT a); y := n;", [("RW514", "NOT"), ("RW510", "n")]),
    ("y := t^.Q;", [("RW503", "^")]),
    ("y := x[1];", [("RW503", "[")]),
    ("IF t.ET > T#1s THEN y := t.ET = T#1s; END_IF;", [("RW503", "ET"), ("RW503", "ET")]),
    ("y := dwell > T#1s;", [("RW503", "dwell > T#1s")]),
    ("y := dwell = T#1s;", [("RW503", "dwell = T#1s")]),
    ("t(IN := a, PT := dwell + T#1s);", [("RW503", "dwell + T#1s")]),
    ("t(IN := a, PT := dwell, ET => n);", [("RW503", "ET")]),
    ("n := MAX(1, 2);", [("RW503", "(")]),
    ("n := 1.5;", [("RW503", "1.5")]),
    ("y := 'on';", [("RW503", "'on'")]),
    ("y := %IX0.0;", [("RW503", "%IX0.0")]),
    ("n := 2 ** 3;", [("RW503", "2 ** 3")]),
    ("y := t.ET;", [("RW503", "ET")]),
    ("CASE n OF k: y := a; 7: y := b; k7, 9, k..12: ; END_CASE;", [("RW509", "k7"), ("RW513", "k..12")]),
    ("CASE n OF RUN: ; END_CASE; y := zz;", [("RW509", "RUN"), ("RW509", "zz")]),
    ("CASE n OF 1: ; n: ; END_CASE;", [("RW516", "n")]),
    ("CASE n OF 1: y : a; END_CASE; y := n;", [("RW510", "y"), ("RW501", "a"), ("RW510", "n")]),
    ("(* (* *)", [("RW504", "(* (* *)")]),
    ("y := a ? b;", [("RW505", "?")]),
    ("y := а;", [("RW505", "а")]),  # a Cyrillic letter
    ("y := zz;", [("RW509", "zz")]),
    ("zz(IN := a);", [("RW509", "zz")]),
    ("y := n;", [("RW510", "n")]),
    ("IF n THEN ; END_IF;", [("RW510", "n")]),
    ("y := n AND a;", [("RW510", "n")]),
    ("y := a = n;", [("RW510", "a = n")]),
    ("y := a < b;", [("RW510", "a"), ("RW510", "b")]),
    ("y := 2;", [("RW510", "2")]),
    ("t(IN := a, PT := T#1m90s);", [("RW511", "T#1m90s")]),
    ("n := 40000;", [("RW512", "40000")]),
    ("n := 2#3;", [("RW512", "2#3")]),
    ("CASE n OF 1..5: ; 5: ; END_CASE;", [("RW513", "5")]),
    ("CASE n OF 5..1: ; END_CASE;", [("RW513", "5..1")]),
    ("t(INN := a, PT := T#1s);", [("RW514", "INN")]),
    ("t(IN := a, IN := b, PT := T#1s);", [("RW514", "IN")]),
    ("t.IN := a; t.PT := T#1s; t(Q => y);", []),
    (
        "t.IN := n; t.PT := a; t.Q := a; a.IN := b;",
        [("RW510", "n"), ("RW510", "a"), ("RW514", "Q"), ("RW514", "a.IN")],
    ),
    ("y := t;", [("RW514", "t")]),
    ("a(IN := b);", [("RW514", "a")]),
    ("y := a.Q;", [("RW514", "a.Q")]),
    ("a := TRUE;", [("RW515", "a")]),
    ("k := 6;", [("RW515", "k")]),
    ("t := a;", [("RW515", "t")]),
    ("t(IN := a, PT := T#0s);", [("RW516", "T#0s")]),
    ("y := zz; n := 40000; y := n;", [("RW509", "zz"), ("RW512", "40000"), ("RW510", "n")]),
    # Where the head of an IF or CASE is broken, its END and ELSE are no further faults, and what follows is read.
    ("IF THEN y := b; ELSE y := zz; END_IF; y := n;", [("RW501", "THEN"), ("RW509", "zz"), ("RW510", "n")]),
    ("IF THEN y := b; ELSIF a THEN y := zz; END_IF; y := n;", [("RW501", "THEN"), ("RW509", "zz"), ("RW510", "n")]),
    ("IF a) THEN y := zz; END_IF; y := n;", [("RW501", ")"), ("RW510", "n")]),
    (
        "IF (THEN IF (THEN y := zz; END_IF; y := n; END_IF; y := zz;",
        [("RW501", "THEN"), ("RW501", "THEN"), ("RW510", "n"), ("RW509", "zz")],
    ),
    ("CASE OF 1: y := zz; END_CASE; y := n;", [("RW501", "OF"), ("RW510", "n")]),
    ("IF zz THEN y := ; END_IF; y := n;", [("RW509", "zz"), ("RW501", ";"), ("RW510", "n")]),
]


@pytest.mark.parametrize(("statement", "faults"), STATEMENTS, ids=[s for s, _ in STATEMENTS])
def test_statements(statement: str, faults: list[tuple[str, str]]) -> None:
    reading = read(Source("t.st", HEAD + statement + END))
    found = [(d.code, reading.source.words(d.span)) for d in reading.diagnostics if d.span]
    assert found == faults
    assert reading.sound == (not faults)


DECLARATIONS: list[tuple[str, list[tuple[str, str]]]] = [
    ("VAR LIM_SW_5, _MAIN, _12V7 : BOOL; END_VAR", []),
    ("VAR 1CR : BOOL; END_VAR", [("RW506", "1CR")]),
    ("VAR LIM__SW5 : BOOL; __X : BOOL; LIM_SW5_ : BOOL; END_VAR",
     [("RW506", "LIM__SW5"), ("RW506", "__X"), ("RW506", "LIM_SW5_")]),
    ("VAR ON : BOOL; Real : BOOL; END_VAR", [("RW507", "ON"), ("RW507", "Real")]),
    ("VAR a1 : BOOL; A1 : BOOL; A_BCD, AB_CD : BOOL; END_VAR", [("RW508", "A1")]),
    ("VAR x : REAL; END_VAR", [("RW503", "REAL")]),
    ("VAR x : BOOOL; END_VAR", [("RW509", "BOOOL")]),
    ("VAR x : ARRAY[1..5] OF INT; z : BOOL; END_VAR", [("RW503", "ARRAY")]),
    ("VAR x AT %IX0.0 : BOOL; z AT %MW3 : INT := 5; END_VAR", []),
    ("VAR x AT %X0.0 : BOOL; END_VAR", [("RW518", "x")]),
    ("VAR x, z AT %IX0.0 : BOOL; END_VAR", [("RW518", "z")]),
    ("VAR_INPUT x AT %QX0.0 : BOOL; END_VAR", [("RW518", "x")]),
    ("VAR_OUTPUT x AT %IX0.0 : BOOL; END_VAR", [("RW518", "x")]),
    ("VAR_TEMP x : INT; END_VAR", []),
    ("VAR_IN_OUT x : INT; END_VAR", [("RW503", "VAR_IN_OUT")]),
    ("VAR_GLOBAL x : INT; END_VAR", [("RW501", "VAR_GLOBAL")]),
    ("VAR x : BOOL R_EDGE; END_VAR", [("RW503", "R_EDGE")]),
    ("VAR x : (IDLE, RUN); END_VAR", [("RW503", "(")]),
    ("VAR x : STRING[20]; z : STRING(20); q : INT(0..5); END_VAR",
     [("RW503", "STRING"), ("RW503", "("), ("RW503", "(")]),
    ("VAR x : POINTER TO INT; END_VAR", [("RW503", "POINTER")]),
    ("VAR x : TON(PT := T#1s); END_VAR", [("RW514", "(")]),
    ("VAR x : BOOL; END_VAR; VAR y : BOOL; END_VAR", []),
    ("VAR x : DINT; z : WORD; END_VAR", [("RW503", "DINT"), ("RW503", "WORD")]),
    ("VAR CONSTANT p : INT := 5; q : INT := p; r : INT := s; s : INT := r; END_VAR",
     [("RW516", "s"), ("RW516", "r")]),
    ("VAR x : BOOL := 5; END_VAR", [("RW510", "5")]),
    ("VAR x : INT := 2 + 3; END_VAR", [("RW516", "2 + 3")]),
    ("VAR_INPUT t : TON; END_VAR", [("RW514", "t")]),
    ("VAR NON_RETAIN x : INT := INT#-7; z : BOOL := TRUE; END_VAR", []),
]  # fmt: skip


@pytest.mark.parametrize(("declaration", "faults"), DECLARATIONS, ids=[d for d, _ in DECLARATIONS])
def test_declarations(declaration: str, faults: list[tuple[str, str]]) -> None:
    """The good and bad identifiers are those of IEC 61131-3:2003 2.1.2 and Table 2 (double and trailing underscores
    from memory)."""
    reading = read(Source("t.st", f"PROGRAM P {declaration}\n;\nEND_PROGRAM"))
    assert [(d.code, reading.source.words(d.span)) for d in reading.diagnostics if d.span] == faults


WHOLE = {
    "": "RW502", "FUNCTION_BLOCK F": "RW502", "hello": "RW501", "PROGRAM p (* x": "RW504", "(" * 100: "RW517",
    "PROGRAM p y := " + "NOT " * 100: "RW517", "x" * 500_001: "RW517", "\0\1\2": "RW505",
    "PROGRAM p END_FUNCTION_BLOCK": "RW501", "PROGRAM p END_PROGRAM PROGRAM q END_PROGRAM": "RW503",
    "TYPE S : INT; END_TYPE PROGRAM p END_PROGRAM": "RW503", "VAR x : INT; END_VAR PROGRAM p END_PROGRAM": "RW501",
}  # fmt: skip


@pytest.mark.parametrize("text", WHOLE, ids=[repr(text[:20]) for text in WHOLE])
def test_texts_that_are_no_program(text: str) -> None:
    reading = read(Source("t.st", text))
    assert reading.diagnostics[0].code == WHOLE[text]
    assert not reading.sound


def test_a_hundred_faults_are_cut_short() -> None:
    reading = read(Source("t.st", HEAD + "y = a;" * 100 + END))
    assert reading.diagnostics[-1].code == "RW517"
    assert len(reading.diagnostics) <= 60


WORDS = """
    FUNCTION_BLOCK END_FUNCTION_BLOCK PROGRAM END_PROGRAM VAR VAR_INPUT END_VAR IF THEN ELSIF ELSE END_IF CASE OF
    END_CASE FOR END_FOR a b t n BOOL TON := => = ; , : ( ) . .. AND NOT + - 5 1.5 T#2s 2CR (* *) // ' é
"""
words = st.sampled_from(WORDS.split())


@settings(max_examples=200, deadline=None)
@given(st.lists(words, max_size=40) | st.lists(words, max_size=30).map(lambda w: [HEAD, *w, END]))
def test_nothing_makes_the_reader_fall_over(parts: list[str]) -> None:
    reading = read(Source("t.st", " ".join(parts)))
    for diagnostic in reading.diagnostics:
        assert render(diagnostic, reading.source)
        assert "Token" not in diagnostic.message + diagnostic.expected
        assert "__" not in diagnostic.expected
    assert (reading.tree is not None) or reading.diagnostics


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=60))
def test_nor_does_any_text(text: str) -> None:
    reading = read(Source("t.st", text))
    assert not reading.sound
    assert all(render(d, reading.source) for d in reading.diagnostics)


DEVICES = Machine(
    inputs=(Input(name="LS1", kind=InputKind.LIMIT_SWITCH),),
    loads=(Load(name="SOL1", kind=LoadKind.SOLENOID),),
)
MISFITS = {
    "VAR SOL1 : BOOL; END_VAR": ["RW554"],
    "VAR LS1 : BOOL; END_VAR": ["RW554"],
    "VAR_INPUT SOL1 : BOOL; END_VAR VAR_OUTPUT LS1 : BOOL; END_VAR": ["RW554", "RW554"],
    "VAR sol1 AT %MX0.0 : BOOL; END_VAR": ["RW554"],
    "VAR_EXTERNAL LS1 : BOOL; SOL1 : BOOL; END_VAR LS1 := SOL1;": ["RW554"],
    "VAR_EXTERNAL LS1 : BOOL; BEYOND : INT; END_VAR": ["RW552"],
    "VAR_INPUT LS1, LS2 : BOOL; END_VAR VAR_OUTPUT SOL1 : BOOL; END_VAR": ["RW552"],
    "VAR LS2 AT %IX0.1 : BOOL; END_VAR": ["RW552"],
    "VAR_INPUT Dwell : TIME := T#2s; END_VAR": ["RW552"],
    "VAR_INPUT LS1 : INT; END_VAR VAR_OUTPUT SOL1 : INT; END_VAR": ["RW553", "RW553"],
    "VAR_OUTPUT SOL1 : BOOL; END_VAR VAR t : TON; END_VAR t(IN := SOL1);": ["RW516"],
    "VAR_OUTPUT SOL1 : BOOL; END_VAR VAR t : TON; END_VAR t(IN := SOL1, PT := T#1s); t(IN := SOL1, PT := T#2s);":
        ["RW516"],
    "VAR_OUTPUT SOL1 : BOOL; END_VAR SOL1 := zz;": ["RW509"],
}  # fmt: skip


@pytest.mark.parametrize("text", MISFITS)
def test_a_program_for_another_machine(text: str) -> None:
    with pytest.raises(ReadBack) as caught:
        TARGET.read(f"FUNCTION_BLOCK F {text} END_FUNCTION_BLOCK", "f.st", DEVICES)
    assert [d.code for d in caught.value.diagnostics] == MISFITS[text]
    places = [d.span.start for d in caught.value.diagnostics if d.span is not None]
    assert places == sorted(places)


NOTICES = {
    "VAR_OUTPUT SOL1 : BOOL; END_VAR": [],
    "VAR_INPUT LS1 : BOOL; END_VAR": ["RW551"],
    "VAR_OUTPUT SOL1 : BOOL; END_VAR VAR RETAIN n : INT; END_VAR": ["RW519"],
    "{ region } VAR_OUTPUT SOL1 : BOOL; END_VAR {x} {y}": ["RW519", "RW519", "RW519"],
}


@pytest.mark.parametrize("text", NOTICES)
def test_what_is_told_of_a_program_that_is_read_all_the_same(text: str) -> None:
    logic = TARGET.read(f"FUNCTION_BLOCK F {text} END_FUNCTION_BLOCK", "f.st", DEVICES)
    assert isinstance(logic, ProgramLogic)
    assert [d.code for d in logic.notices] == NOTICES[text]
    assert {d.severity for d in logic.notices} <= {Severity.WARNING}
    assert logic.power_up((False,)).outputs == (False,)


def test_every_code_has_been_seen() -> None:
    seen = {code for _, faults in STATEMENTS + DECLARATIONS for code, _ in faults}
    seen |= set(WHOLE.values()) | {code for table in (MISFITS, NOTICES) for codes in table.values() for code in codes}
    assert seen == {entry.code for entry in ENTRIES}


def test_reserved_words() -> None:
    """IEC 61131-3:2003 Annex C and block pins (from memory)."""
    kept = "IF end_if Case ON dt R_EDGE ton R_TRIG int_to_bool TO_TIME S1 in PT ANY_INT Namespace LD"
    free = "START LS1 SOL1 CR1 INTO STOP_1 AUTO_INT TOOL"
    assert [word for word in kept.split() if not is_reserved(word)] == []
    assert [word for word in free.split() if is_reserved(word)] == []
