"""What to say about a word that can't stand where it stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from grammar.diagnostic import Diagnostic, nearest
from grammar.source import Span
from grammar.structured_text.blocks import BLOCKS
from grammar.structured_text.faults import fault
from grammar.structured_text.reserved import is_keyword

__all__ = ["EDGE_WORDS", "Word", "complaint"]


class Word(Protocol):
    """A token, as far as messages look at it."""

    type: str
    start_pos: int | None
    end_pos: int | None

    def __str__(self) -> str: ...


_SIGNS = {
    "SEMICOLON": "a semicolon",
    "COLON": "a colon",
    "COMMA": "a comma",
    "LPAR": "an opening bracket",
    "RPAR": "a closing bracket",
    "DOT": "a point and a pin",
    "ASSIGN": ":=",
    "ARROW": "=>",
    "RANGE": "..",
    "IDENT": "a name",
    "INTEGER": "a number",
    "LABEL": "a constant",
    "ADDRESS": "an address",
}
_VALUE = {"IDENT", "LPAR", "NOT", "TRUE"}
_OPERATORS = {
    "AMPERSAND", "AND", "OR", "XOR", "EQUAL", "UNEQUAL", "LESS", "GREATER", "AT_MOST", "AT_LEAST", "PLUS", "MINUS",
    "TIMES", "OVER", "MOD", "POWER",
}  # fmt: skip
EDGE_WORDS = ("R_EDGE", "F_EDGE")
_SIZED = {"STRING", "WSTRING", "INT"}
_GIVEN = {"NOT", "MINUS", "INTEGER", "TYPED", "DURATION", "REAL", "STRING", "TRUE", "FALSE", "LPAR"}
_NEVER_TOLD = {
    "MISNAMED", "TYPED", "DURATION", "REAL", "STRING", "TRUE", "FALSE", "STRAY", "OUTSIDE", "OPEN_COMMENT", "ADDRESS",
    "CONSTANT", "RETAIN", "NON_RETAIN", "ELSIF", "RETURN", "AT", "VAR_GLOBAL", "VAR_EXTERNAL", "VAR_TEMP",
    "$END",
}  # fmt: skip
_LOOP = "without arrays there is nothing to go through: write the statements out; every scan is a turn of a loop"
_OWN_TYPE = "declare single BOOL and INT variables"
_CURES = {
    "FOR": _LOOP,
    "WHILE": _LOOP,
    "REPEAT": _LOOP,
    "EXIT": "it belongs to a loop, and loops are not read here",
    "CONTINUE": "it belongs to a loop, and loops are not read here",
    "ARRAY": _OWN_TYPE,
    "STRUCT": _OWN_TYPE,
    "TYPE": _OWN_TYPE + ", and name numbers under VAR CONSTANT",
    "POINTER": "use the variable itself",
    "REF_TO": "use the variable itself",
    "VAR_IN_OUT": "declare what comes from the machine under VAR_INPUT, what drives it under VAR_OUTPUT",
    "VAR_ACCESS": "leave it to the configuration of the controller",
    "VAR_CONFIG": "leave it to the configuration of the controller",
    "CONFIGURATION": "keep it in a file of its own: one PROGRAM is read here",
    "NAMESPACE": "keep one PROGRAM or FUNCTION_BLOCK, by itself",
    "FUNCTION": "write what it does where it is called",
    "CLASS": "write it as one PROGRAM or FUNCTION_BLOCK",
    "INTERFACE": "write it as one PROGRAM or FUNCTION_BLOCK",
    "METHOD": "write what it does where it is called",
    "ACTION": "write what it does where it is called",
}


def complaint(words: Sequence[Word], at: int, accepted: set[str]) -> Diagnostic:
    """The fault at a word; ``at`` may be just past the last one, where the text ends."""
    if at >= len(words):
        end = (words[-1].end_pos or 0) if words else 0
        what = "the text ends here, but something is not ended" if words else "there is no structured text here"
        return fault("RW502", what, Span(max(0, end - 1), end), expected=_expected(accepted))
    place = _Place(words[at], words[at - 1] if at else None, accepted)
    return _unreadable(place) or _of_other_languages(place) or _bracketed(place) or _unfit(place) or _misplaced(place)


@dataclass(frozen=True, slots=True)
class _Place:
    """A word that can't stand where it stands, the one before it if any, and what is accepted there."""

    word: Word
    before: Word | None
    accepted: set[str]

    @property
    def span(self) -> Span:
        return _of(self.word)

    @property
    def expected(self) -> str:
        return _expected(self.accepted)


def _unreadable(place: _Place) -> Diagnostic | None:
    """What is read nowhere, and what ends too soon."""
    word, accepted, span = place.word, place.accepted, place.span
    match word.type:
        case "OPEN_COMMENT":
            return fault("RW504", "this comment is never closed", Span(span.start, span.start + 2), cure="close it")
        case "STRAY":
            return _stray(place)
        case "OUTSIDE":
            what = str(word).upper()
            return fault("RW503", f"{what} is outside the structured text read here", span, cure=_CURES[what])
        case "ADDRESS":
            cure = "give the address a name: START AT %IX0.0 : BOOL;"
            return fault("RW503", "an address can't stand in a statement here", span, cure=cure)
        case "END_FUNCTION_BLOCK" | "END_PROGRAM" if {"END_IF", "END_CASE", "END_VAR"} & accepted:
            cure = "every IF has its END_IF; ELSE IF begins one more, ELSIF does not" if "END_IF" in accepted else ""
            return fault("RW502", f"something is not ended before {word}", span, expected=place.expected, cure=cure)
    return None


def _of_other_languages(place: _Place) -> Diagnostic | None:
    """What is written so elsewhere: == and &&, x++, a name called by itself, ELSEIF, = for :=."""
    word, before, span = place.word, place.before, place.span
    assigns = "ASSIGN" in place.accepted
    match word.type:
        case "EQUAL" if before is not None and before.type == "EQUAL":
            return fault("RW501", "== can't stand here", span, expected="a value", cure="compare with a single =")
        case "AMPERSAND" if before is not None and before.type == "AMPERSAND":
            return fault("RW501", "&& can't stand here", span, expected="a value", cure="write a single &, or AND")
        case "PLUS" | "MINUS" if assigns and before is not None and before.type == "IDENT":
            cure = f"{before} := {before} {word} 1"
            return fault("RW501", f"{word} can't stand here", span, expected=":=", cure=cure)
        case "SEMICOLON" if assigns and before is not None and before.type == "IDENT":
            near = nearest(str(before).upper(), ["END_IF", "END_CASE", "RETURN"])
            cure = f"did you mean {near}?" if near else ""
            return fault("RW501", f"{before} alone is no statement", _of(before), expected=place.expected, cure=cure)
        case _ if before is not None and str(before).upper() == "ELSEIF":
            return fault("RW501", f"{before} is no word of the language", _of(before), cure="write ELSIF")
        case "EQUAL" if assigns:
            return fault("RW501", "= compares two values, it does not assign", span, expected=":=")
    return None


def _bracketed(place: _Place) -> Diagnostic | None:
    """What stands at a bracket: functions, types, first values, sizes, pins without their names."""
    word, before, accepted, span = place.word, place.before, place.accepted, place.span
    if before is None:
        return None
    named = str(before).upper()
    pins = "a pin and := or =>, such as IN := x"
    match word.type:
        case "LPAR" if before.type == "IDENT" and "AND" in accepted:
            what = f"functions such as {before} are outside the structured text read here"
            return fault("RW503", what, span, cure="write it with AND, OR, NOT and comparisons")
        case "LPAR" if before.type == "COLON":
            cure = "declare an INT, and name its numbers under VAR CONSTANT"
            return fault("RW503", "types of one's own are outside the structured text read here", span, cure=cure)
        case "LPAR" if named in BLOCKS and "SEMICOLON" in accepted:
            cure = "give the pins where it is called"
            return fault("RW514", "a block has no initial value here", span, cure=cure)
        case "LPAR" if named in _SIZED:
            return fault("RW503", f"a size or range of {named} is outside the structured text read here", span)
        case "LPAR" if before.type == "ASSIGN":
            return fault("RW501", "a bracket can't stand here", span, expected=place.expected)
        case "COMMA" | "RPAR" if "ASSIGN" in accepted and "ARROW" in accepted:
            return fault("RW514", "a block is given its pins by their names", _of(before), expected=pins)
        case _ if before.type == "LPAR" and "RPAR" in accepted and word.type in _GIVEN:
            return fault("RW514", "a block is given its pins by their names", span, expected=pins)
    return None


def _unfit(place: _Place) -> Diagnostic | None:
    """Edges written as a type, a second program, a colon."""
    word, accepted, span = place.word, place.accepted, place.span
    match word.type:
        case "IDENT" if str(word).upper() in EDGE_WORDS:
            cure = f"declare an {str(word)[0].upper()}_TRIG, call it, and use its Q"
            message = f"{str(word).upper()} is outside the structured text read here"
            return fault("RW503", message, span, cure=cure)
        case _ if not accepted - {"$END"}:
            cure = "keep each in a file of its own, and write what one calls of the other where it is called"
            return fault("RW503", "one FUNCTION_BLOCK or PROGRAM is read here, and this is more", span, cure=cure)
        case "COLON" if "ASSIGN" not in accepted and "THEN" not in accepted:
            return fault("RW501", "a colon can't stand here", span, expected=place.expected)
    return None


def _of(word: Word) -> Span:
    return Span(word.start_pos or 0, word.end_pos or 0)


def _misplaced(place: _Place) -> Diagnostic:
    word, before, accepted, span = place.word, place.before, place.accepted, place.span
    expected, text = place.expected, str(word).upper()
    if "IDENT" in accepted and "BROKEN_STATEMENT" not in accepted and is_keyword(text) and word.type != "IDENT":
        if not accepted >= _VALUE and "END_VAR" not in accepted:
            return fault(
                "RW507", f"{text} is a reserved word, not a name", span, cure=f"call it {text}_1 or the like"
            )
        return fault("RW501", f"{text} can't stand here", span, expected=expected)
    if (
        "SEMICOLON" in accepted
        and before is not None
        and "BROKEN_STATEMENT" not in accepted
        and word.type not in _OPERATORS
    ):
        return fault("RW501", "a semicolon is missing", _of(before), expected="a semicolon after this")
    return fault("RW501", f"{_quoted(word)} can't stand here", span, expected=expected)


def _quoted(word: Word) -> str:
    text = str(word)
    return text if len(text) <= 30 else text[:29] + "…"


_OTHER_SIGNS = {"!": "NOT", "~": "NOT", "|": "OR"}


def _stray(place: _Place) -> Diagnostic:
    before, span, text = place.before, place.span, str(place.word)
    if text == "[" and before is not None and str(before).upper() in _SIZED:
        return fault("RW503", f"{str(before).upper()} is outside the structured text read here", _of(before))
    if text == "[":
        return fault("RW503", "arrays are outside the structured text read here", span, cure=_CURES["ARRAY"])
    if text == "^":
        return fault("RW503", "pointers are outside the structured text read here", span, cure=_CURES["POINTER"])
    if text in _OTHER_SIGNS:
        return fault("RW505", f"{text} means nothing here", span, cure=f"write {_OTHER_SIGNS[text]}")
    shown = text if text.isprintable() else f"the character U+{ord(text):04X}"
    return fault("RW505", f"{shown} means nothing here", span, expected=place.expected, cure="take it out")


def _expected(accepted: set[str]) -> str:
    """The words that could stand there, in plain language; a value stands for everything one may begin with."""
    left = {word for word in accepted if word not in _NEVER_TOLD and not word.startswith("BROKEN")}
    if "LABEL" in left:
        left -= {"MINUS"}
    said: list[str] = []
    if accepted >= _VALUE:
        said.append("a value")
        left -= _VALUE | {"INTEGER", "MINUS"}
    elif "BROKEN_STATEMENT" in accepted:
        said.append("a statement")
        left -= {"IDENT", "IF", "CASE", "SEMICOLON", "INTEGER", "MINUS"}
    if len(left & _OPERATORS) > 2:
        said.append("an operator")
        left -= _OPERATORS
    said += sorted(_SIGNS.get(word, word) for word in left)
    return " or ".join(said) if len(said) < 3 else ", ".join(said[:-1]) + " or " + said[-1]
