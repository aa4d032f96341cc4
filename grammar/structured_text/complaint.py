"""What to say about a word that can't stand where it stands."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from grammar.diagnostic import Diagnostic
from grammar.source import Span
from grammar.structured_text.faults import fault
from grammar.structured_text.reserved import is_keyword

__all__ = ["Word", "complaint"]


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
}
_VALUE = {"IDENT", "LPAR", "NOT", "TRUE"}
_OPERATORS = {
    "AMPERSAND", "AND", "OR", "XOR", "EQUAL", "UNEQUAL", "LESS", "GREATER", "AT_MOST", "AT_LEAST", "PLUS", "MINUS",
    "TIMES", "OVER", "MOD", "POWER",
}  # fmt: skip
_NEVER_TOLD = {
    "MISNAMED", "TYPED", "DURATION", "REAL", "STRING", "TRUE", "FALSE", "STRAY", "OUTSIDE", "OPEN_COMMENT", "ADDRESS",
    "CONSTANT", "RETAIN", "NON_RETAIN", "ELSIF", "$END",
}  # fmt: skip
_REASONS = {
    "RETURN": "end the sequence with a step of its own",
    "EXIT": "end the sequence with a step of its own",
    "ARRAY": "declare single BOOL and INT variables",
    "STRUCT": "declare single BOOL and INT variables",
    "AT": "leave addresses to the wiring of the controller: declare a plain BOOL",
}


def complaint(words: Sequence[Word], at: int, accepted: set[str]) -> Diagnostic:
    """The fault at a word; ``at`` may be just past the last one, where the text ends."""
    expected = _expected(accepted)
    if at >= len(words):
        end = (words[-1].end_pos or 0) if words else 0
        what = "the text ends here, but something is not ended" if words else "there is no structured text here"
        return fault("RW502", what, Span(max(0, end - 1), end), expected=expected)
    word = words[at]
    before = words[at - 1] if at else None
    span = Span(word.start_pos or 0, word.end_pos or 0)
    match word.type:
        case "OPEN_COMMENT":
            return fault("RW504", "this comment is never closed", Span(span.start, span.start + 2), cure="close it")
        case "STRAY":
            return _stray(word, before, span, expected)
        case "OUTSIDE":
            cure = _REASONS.get(str(word).upper(), "say it with IF, CASE and the standard blocks")
            return fault("RW503", f"{str(word).upper()} is outside the structured text read here", span, cure=cure)
        case "ADDRESS":
            cure = _REASONS["AT"]
            return fault("RW503", "direct addresses are outside the structured text read here", span, cure=cure)
        case "EQUAL" if "ASSIGN" in accepted:
            return fault("RW501", "= compares two values, it does not assign", span, expected=":=")
        case "DOT" if "ASSIGN" in accepted:
            cure = "give a block its pins where it is called: block(IN := x)"
            return fault("RW514", "a pin of a block can't be assigned", span, cure=cure)
        case "LPAR" if before is not None and before.type == "IDENT" and "AND" in accepted:
            cure = "write it with AND, OR, NOT and comparisons"
            return fault(
                "RW503", f"functions such as {before} are outside the structured text read here", span, cure=cure
            )
        case "LPAR" if before is not None and before.type == "ASSIGN":
            return fault("RW501", "a bracket can't stand here", span, expected=expected)
        case "IDENT" if "BROKEN_ENTRY" in accepted and "BROKEN_STATEMENT" not in accepted:
            return fault("RW503", "CASE labels are whole numbers here, not names", span, expected=expected)
        case "COLON" if before is not None and "ASSIGN" in accepted:
            return fault("RW503", "CASE labels are whole numbers here, not names", span, expected=":=")
        case "COLON" if "ASSIGN" not in accepted and "THEN" not in accepted:
            return fault("RW501", "a colon can't stand here", span, expected=expected)
    return _misplaced(word, before, span, accepted, expected)


def _misplaced(word: Word, before: Word | None, span: Span, accepted: set[str], expected: str) -> Diagnostic:
    text = str(word).upper()
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
        ended = Span(before.start_pos or 0, before.end_pos or 0)
        return fault("RW501", "a semicolon is missing", ended, expected="a semicolon after this")
    return fault("RW501", f"{_quoted(word)} can't stand here", span, expected=expected)


def _quoted(word: Word) -> str:
    text = str(word)
    return text if len(text) <= 30 else text[:29] + "…"


def _stray(word: Word, before: Word | None, span: Span, expected: str) -> Diagnostic:
    text = str(word)
    if text == "[":
        return fault("RW503", "arrays are outside the structured text read here", span, cure=_REASONS["ARRAY"])
    shown = text if text.isprintable() else f"the character U+{ord(text):04X}"
    return fault("RW505", f"{shown} means nothing here", span, expected=expected, cure="take it out")


def _expected(accepted: set[str]) -> str:
    """The words that could stand there, in plain language; a value stands for everything one may begin with."""
    left = {word for word in accepted if word not in _NEVER_TOLD and not word.startswith("BROKEN")}
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
