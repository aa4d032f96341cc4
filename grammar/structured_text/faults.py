"""The messages about structured text: their codes, and what ``rungwright explain`` tells of each."""

from __future__ import annotations

from grammar.diagnostic import Diagnostic, Entry, Severity
from grammar.source import Span

__all__ = ["ENTRIES", "fault", "notice"]


def fault(code: str, message: str, span: Span | None, *, expected: str = "", cure: str = "") -> Diagnostic:
    """A fault with one of the codes below."""
    return Diagnostic(code, Severity.FAULT, message, span, expected, cure)


def notice(code: str, message: str, span: Span | None, *, cure: str = "") -> Diagnostic:
    """Something worth knowing about a program that is read all the same."""
    return Diagnostic(code, Severity.WARNING, message, span, "", cure)


def _entry(code: str, title: str, why: str, example: str, cure: str, severity: Severity = Severity.FAULT) -> Entry:
    return Entry(code, severity, title, why, example, cure)


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
        "Only what a machine sequence needs is read: BOOL, INT, constant TIME, the standard blocks, assignments, IF, "
        "CASE, RETURN and calls of blocks, in one FUNCTION_BLOCK or PROGRAM. Loops, functions, REAL numbers, arrays, "
        "texts and the time a timer has run (ET) could not be compared with the sequence.",
        "FOR i := 1 TO 5 DO ... END_FOR;",
        "say it with IF, CASE and the standard blocks; give an address a name with AT",
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
        "RW518",
        "a faulty address",
        "An address is %I for an input, %Q for an output or %M for memory, with a size and numbers (IEC 61131-3:2003 "
        "2.4.1.1, from memory), and belongs to one name. It tells whether a variable under VAR or VAR_GLOBAL is an "
        "input or an output; which terminal it means is the business of the controller.",
        "START AT %X0.0 : BOOL;",
        "write START AT %IX0.0 : BOOL;",
    ),
    _entry(
        "RW519",
        "something in the text is skipped",
        "What stands in curly brackets is meant for the tool of one maker. It is not looked at, so if it changes "
        "what the program does, that is not seen here. Nor is it seen what a variable under VAR RETAIN holds after "
        "the supply was off: here all begin with their initial values.",
        "{attribute 'hide'}",
        "take it out, or see that it changes nothing in what the program does",
        Severity.WARNING,
    ),
    _entry(
        "RW551",
        "a load that the program never drives",
        "No output of the program bears the load's name, so the load is off for ever. An output is a BOOL under "
        "VAR_OUTPUT, or one at an address such as %QX0.0.",
        "the machine has SOL1, the program declares no SOL1",
        "declare the output and assign it, or leave the load out of the machine",
        Severity.WARNING,
    ),
    _entry(
        "RW552",
        "an input that no device feeds",
        "Each input of the program, under VAR_INPUT or at an address such as %IX0.0, stands for an input device of "
        "the machine, under its name; letter case does not count. Its value is what the wire carries: live is TRUE.",
        "VAR_INPUT START2 : BOOL; END_VAR on a machine with one button",
        "take it out, or correct its spelling; a setting is declared under VAR CONSTANT",
    ),
    _entry(
        "RW553",
        "a device with the wrong type",
        "A contact or a load is on or off: its variable is a BOOL.",
        "VAR_OUTPUT SOL1 : INT; END_VAR",
        "declare it BOOL",
    ),
    _entry(
        "RW554",
        "a device's name on a variable that does not reach it",
        "A plain variable is neither read from a wire nor written to a terminal, and an input is never driven. A "
        "program that gives such a variable the name of a device most likely means the device.",
        "VAR SOL1 : BOOL; END_VAR on a machine with SOL1",
        "declare it under VAR_INPUT or VAR_OUTPUT or at an address, or give it another name",
    ),
)
