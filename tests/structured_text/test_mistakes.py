"""What a practitioner's honest slips are answered with, word for word: what is wrong, what was expected, the cure."""

from __future__ import annotations

import pytest

from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from grammar.reading import ReadBack
from grammar.source import Source
from grammar.structured_text import read
from targets.structured_text import TARGET

HEAD = (
    "PROGRAM P VAR_INPUT a, b : BOOL; END_VAR VAR_OUTPUT y : BOOL; END_VAR "
    "VAR n : INT; t : TON; wait : TIME := T#1s; END_VAR\n"
)
END = "\nEND_PROGRAM"
CLOCK = "use Q, and a timer of its own for each time that matters"
PINS = "a pin and := or =>, such as IN := x"
LOOP = "without arrays there is nothing to go through: write the statements out; every scan is a turn of a loop"

STATEMENTS: dict[str, tuple[str, str, str]] = {
    "FOR i := 1 TO 5 DO y := a; END_FOR;": ("FOR is outside the structured text read here", "", LOOP),
    "WHILE a DO y := b; END_WHILE;": ("WHILE is outside the structured text read here", "", LOOP),
    "EXIT;": (
        "EXIT is outside the structured text read here", "", "it belongs to a loop, and loops are not read here",
    ),
    "y := t.ET > T#3s;": ("ET is outside the structured text read here: it needs a clock", "", CLOCK),
    "y := wait > T#3s;": ("times are not reckoned with or compared here", "", CLOCK),
    "wait := T#3s;": (
        "wait can't be written to: times stay as declared here, so that they can be checked", "", "",
    ),
    "t(a, T#5s);": ("a block is given its pins by their names", PINS, ""),
    "n := MAX(n, 3);": (
        "functions such as MAX are outside the structured text read here", "",
        "write it with AND, OR, NOT and comparisons",
    ),
    "n := 5.5;": ("5.5 is outside the structured text read here", "BOOL or INT", ""),
    "y := x[1];": (
        "arrays are outside the structured text read here", "", "declare single BOOL and INT variables",
    ),
    "%QX0.0 := a;": (
        "an address can't stand in a statement here", "", "give the address a name: START AT %IX0.0 : BOOL;",
    ),
    "y = a;": ("= compares two values, it does not assign", ":=", ""),
    "y := a == b;": ("== can't stand here", "a value", "compare with a single ="),
    "y := !a;": ("! means nothing here", "", "write NOT"),
    "y := a && b;": ("&& can't stand here", "a value", "write a single &, or AND"),
    "y := a || b;": ("| means nothing here", "", "write OR"),
    "y := ~a;": ("~ means nothing here", "", "write NOT"),
    "t(IN := a, PT := 5s);": ("5s is not declared", "", "write a time as T#5s"),
    "t(IN := a, PT := 1m30s);": ("1m30s is not declared", "", "write a time as T#1m30s"),
    "t(IN := a, PT := 5000);": ("this is INT", "TIME", "write a time with its unit, for example T#5s"),
    "IF a THEN y := b; ELSEIF b THEN y := a; END_IF;": ("ELSEIF is no word of the language", "", "write ELSIF"),
    "n += 1;": ("+ can't stand here", ":=", "n := n + 1"),
    "IF n THEN y := a; END_IF;": ("this is INT", "BOOL", "compare it with a number"),
    "CASE n OF n: y := a; END_CASE;": (
        "a label of CASE is a constant", "", "declare it under VAR CONSTANT, with its number",
    ),
    "IF a THEN y := b; ELSE IF b THEN y := a; END_IF;": (
        "something is not ended before END_PROGRAM", "a statement or END_IF",
        "every IF has its END_IF; ELSE IF begins one more, ELSIF does not",
    ),
    "a := TRUE;": ("a can't be written to: inputs come from the machine", "", ""),
}  # fmt: skip

DECLARED = "BOOL, INT, TIME or a standard block"
DECLARATIONS: dict[str, tuple[str, str, str]] = {
    "VAR x : REAL; END_VAR": (
        "REAL is outside the structured text read here", DECLARED,
        "leave measuring to the controller, and read a BOOL that tells the limit",
    ),
    "VAR x : DINT; END_VAR": ("DINT is outside the structured text read here", DECLARED, "declare it INT"),
    "VAR x : WORD; END_VAR": (
        "WORD is outside the structured text read here", DECLARED, "declare a BOOL for each bit",
    ),
    "VAR x : FB_Valve; END_VAR": (
        "there is no type FB_Valve", DECLARED, "types and blocks of one's own are not read here",
    ),
    "VAR x : ARRAY[1..5] OF BOOL; END_VAR": (
        "ARRAY is outside the structured text read here", "", "declare single BOOL and INT variables",
    ),
    "VAR x : (IDLE, RUN); END_VAR": (
        "types of one's own are outside the structured text read here", "",
        "declare an INT, and name its numbers under VAR CONSTANT",
    ),
    "VAR_INPUT x : BOOL R_EDGE; END_VAR": (
        "R_EDGE is outside the structured text read here", "", "declare an R_TRIG, call it, and use its Q",
    ),
    "VAR_IN_OUT x : BOOL; END_VAR": (
        "VAR_IN_OUT is outside the structured text read here", "",
        "declare what comes from the machine under VAR_INPUT, what drives it under VAR_OUTPUT",
    ),
    "VAR step : INT; END_VAR": ("step is a reserved word", "", "call it step_1 or the like"),
    "VAR x AT %X1 : BOOL; END_VAR": (
        "%X1 is not an address",
        "%I, %Q or %M, then X, B, W, D or L or nothing, and numbers with points: %IX0.3", "",
    ),
    "VAR_OUTPUT x AT %IX1.0 : BOOL; END_VAR": (
        "x is an output at an input's address %IX1.0", "", "correct one of them",
    ),
}  # fmt: skip


@pytest.mark.parametrize("statement", STATEMENTS)
def test_statements(statement: str) -> None:
    assert said(HEAD + statement + END) == [STATEMENTS[statement]]


@pytest.mark.parametrize("declaration", DECLARATIONS)
def test_declarations(declaration: str) -> None:
    assert said(f"PROGRAM P {declaration} END_PROGRAM") == [DECLARATIONS[declaration]]


@pytest.mark.parametrize("text", ["TYPE S : INT; END_TYPE PROGRAM P END_PROGRAM", "PROGRAM P END_PROGRAM PROGRAM Q"])
def test_more_than_one_unit(text: str) -> None:
    assert len(said(text)) == 1


def said(text: str) -> list[tuple[str, str, str]]:
    return [(d.message, d.expected, d.cure) for d in read(Source("t.st", text)).diagnostics]


MACHINE = Machine(
    inputs=(Input(name="START", kind=InputKind.PUSHBUTTON),), loads=(Load(name="SOL1", kind=LoadKind.SOLENOID),)
)
MISFITS: dict[str, tuple[str, str, str]] = {
    "VAR_INPUT STRAT : BOOL; END_VAR VAR_OUTPUT SOL1 : BOOL; END_VAR": (
        "no device of the machine feeds STRAT", "", "did you mean START?",
    ),
    "VAR START, SOL9 : BOOL; END_VAR VAR_OUTPUT SOL1 : BOOL; END_VAR": (
        "START is an input of the machine, and not one of the program",
        "START : BOOL; declared under VAR_INPUT or at %I", "",
    ),
    "VAR Sol1 : BOOL; END_VAR": (
        "SOL1 is an output of the machine, and not one of the program",
        "Sol1 : BOOL; declared under VAR_OUTPUT or at %Q", "",
    ),
    "VAR_EXTERNAL SOL1, Tank : BOOL; END_VAR": (
        "Tank is declared elsewhere, and is no device of the machine", "",
        "declare it under VAR_GLOBAL before the unit, or under VAR",
    ),
    "VAR_OUTPUT SOL1 : INT; END_VAR": ("SOL1 is on or off, and SOL1 is INT", "BOOL", ""),
}  # fmt: skip


@pytest.mark.parametrize("declarations", MISFITS)
def test_devices(declarations: str) -> None:
    with pytest.raises(ReadBack) as caught:
        TARGET.read(f"PROGRAM P {declarations} END_PROGRAM", "p.st", MACHINE)
    assert [(d.message, d.expected, d.cure) for d in caught.value.diagnostics] == [MISFITS[declarations]]
