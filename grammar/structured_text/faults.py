"""The messages about structured text: their codes, and what ``rungwright explain`` tells of each."""

from __future__ import annotations

from grammar.diagnostic import Diagnostic, Entry, Severity
from grammar.source import Span

__all__ = ["ENTRIES", "fault"]


def fault(code: str, message: str, span: Span | None, *, expected: str = "", cure: str = "") -> Diagnostic:
    """A fault with one of the codes below."""
    return Diagnostic(code, Severity.FAULT, message, span, expected, cure)


def _entry(code: str, title: str, why: str, example: str, cure: str) -> Entry:
    return Entry(code, Severity.FAULT, title, why, example, cure)


ENTRIES: tuple[Entry, ...] = (
    _entry(
        "RW501",
        "a word where it can't stand",
        "The text does not follow the grammar of structured text here. Reading goes on at the next statement.",
        "IF LS1 Y := TRUE; END_IF;",
        "write what the message says was expected there",
    ),
    _entry(
        "RW502",
        "the text ends too early",
        "Something that was begun is not ended: a block, an IF, a CASE or a list of variables.",
        "FUNCTION_BLOCK FB_Press VAR x : BOOL; END_VAR",
        "add the END_ word the message names",
    ),
    _entry(
        "RW503",
        "outside the structured text read here",
        "Only what a machine sequence needs is read: BOOL, INT, TIME, the standard blocks, assignments, IF, CASE and "
        "calls. Loops, REAL numbers, arrays, texts and direct addresses could not be compared with the sequence.",
        "FOR i := 1 TO 5 DO ... END_FOR;",
        "say it with IF, CASE and the standard blocks",
    ),
    _entry(
        "RW504",
        "a comment is not closed, or holds another",
        "A comment that is never closed swallows the rest of the program. Comments inside comments are read "
        "differently by the editions of the standard, so they are refused.",
        "(* wait for the switch",
        "close the comment, and keep others out of it",
    ),
    _entry(
        "RW505",
        "a character that means nothing here",
        "The character is no part of structured text. A letter from another alphabet may look like a Latin one.",
        "Y := A ? B;",
        "take the character out, or put the sign that was meant",
    ),
    _entry(
        "RW506",
        "not a name",
        "A name is a letter or one underscore, then letters, digits and single underscores "
        "(IEC 61131-3:2003 Table 2); it does not end with an underscore.",
        "1CR : BOOL;",
        "begin with a letter, and use single underscores inside",
    ),
    _entry(
        "RW507",
        "a reserved word used as a name",
        "Structured text keeps its key words, types, functions and blocks for itself, in capitals or not.",
        "ON : BOOL;",
        "add a suffix to the name",
    ),
    _entry(
        "RW508",
        "one name declared twice",
        "Letter case does not count in structured text: a1 and A1 are one variable.",
        "a1 : BOOL; A1 : BOOL;",
        "give one of them another name",
    ),
    _entry(
        "RW509",
        "a name that is not declared",
        "Every variable and block is declared between VAR and END_VAR before it is used.",
        "Y := LS9;",
        "declare it, or correct its spelling",
    ),
    _entry(
        "RW510",
        "a value of the wrong kind",
        "BOOL, INT and TIME do not mix: a condition is BOOL, arithmetic is INT, a preset is TIME.",
        "IF StepNo THEN ...",
        "compare the number: StepNo = 20",
    ),
    _entry(
        "RW511",
        "a faulty time",
        "A time literal has units d h m s ms us ns, the largest first; only the last may have a fraction and only "
        "the first may overflow (IEC 61131-3:2013 Table 8, from memory).",
        "T#1m90s",
        "write T#150s or T#2m30s",
    ),
    _entry(
        "RW512",
        "a faulty number",
        "Whole numbers are read, with base 2, 8, 10 or 16; an INT lies between -32768 and 32767.",
        "n := 40000;",
        "keep within INT",
    ),
    _entry(
        "RW513",
        "CASE labels overlap",
        "Each value may lead to one entry of a CASE only, and a range goes upwards.",
        "CASE n OF 1..5: ; 5: ; END_CASE;",
        "give every value one entry",
    ),
    _entry(
        "RW514",
        "a block is used in the wrong way",
        "A standard block is called by its name with named pins, and its outputs are read as block.pin.",
        "tDwell(START := x);",
        "use the pins of that block",
    ),
    _entry(
        "RW515",
        "something that can't be written to",
        "Inputs come from the machine, constants and times stay as declared, and a block is called, not assigned.",
        "START := TRUE;",
        "assign to an output or to a variable of your own",
    ),
    _entry(
        "RW516",
        "a value that must be constant",
        "A preset and an initial value must be known before the machine runs, or the times could not be checked. "
        "A preset is more than zero: what T#0s does is left to the maker of the controller.",
        "tDwell(IN := x, PT := T#0s);",
        "use a time literal, or a TIME variable with an initial value that is never assigned",
    ),
    _entry(
        "RW517",
        "too much to read",
        "The text is longer or nested deeper than any sequence needs, or has so many faults that it is probably no "
        "structured text at all.",
        "((((((((((...",
        "check that this is the file that was meant",
    ),
    _entry(
        "RW551",
        "a device of the machine is missing from the program",
        "Every output of the machine is a BOOL under VAR_OUTPUT, or nothing would drive it.",
        "the machine has SOL1, the program declares no SOL1",
        "declare and assign the output",
    ),
    _entry(
        "RW552",
        "an input that no device feeds",
        "Each VAR_INPUT stands for an input device of the machine, under its name.",
        "VAR_INPUT START2 : BOOL; END_VAR on a machine with one button",
        "take it out, or correct its spelling",
    ),
    _entry(
        "RW553",
        "a device with the wrong type",
        "A contact or a load is on or off: its variable is a BOOL.",
        "VAR_OUTPUT SOL1 : INT; END_VAR",
        "declare it BOOL",
    ),
)
