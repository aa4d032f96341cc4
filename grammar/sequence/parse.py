"""One clause through lark: a parse tree, or where it stopped and what could have stood there."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

from grammar.layout import DEEPEST
from grammar.sequence.words import terminals

if TYPE_CHECKING:
    from lark import Lark, Token, Tree

__all__ = ["STARTS", "Stopped", "TooDeep", "grammar_text", "parse"]

STARTS = ("clause", "another", "leads_to", "letters")
"""What may be parsed: any clause, a further name after a device, what leads to what, or moves in letters."""

_LOOK_BACK = 12


@dataclass(frozen=True, slots=True)
class Stopped:
    """Where a clause stopped making sense: ``text[start:end]`` is the word at fault (empty at the end).

    ``accepts`` holds the terminals that could have stood there, ``after`` the terminal just before, if any, and
    ``words`` the places of the last words read, the one at fault included, with what
    each was read as (empty where it can't be any word).
    """

    start: int
    end: int
    accepts: frozenset[str]
    after: str
    words: tuple[tuple[int, int, str], ...]


@dataclass(frozen=True, slots=True)
class TooDeep:
    """The clause makes sense but nests deeper than anyone could read."""


def grammar_text() -> str:
    """The whole grammar, terminals included, as lark reads it."""
    return files("grammar.sequence").joinpath("sequence.lark").read_text(encoding="utf-8") + "\n" + terminals()


@cache
def _parser() -> Lark:
    from lark import Lark

    return Lark(
        grammar_text(),
        parser="lalr",
        lexer="contextual",
        start=list(STARTS),
        propagate_positions=True,
        maybe_placeholders=False,
    )


def parse(text: str, start: str = "clause") -> Tree[Token] | Stopped | TooDeep:
    """The parse tree of a clause, or the reason there is none. Never raises."""
    from lark.exceptions import UnexpectedInput

    try:
        parsed: Tree[Token] = _parser().parse(text, start=start)
    except UnexpectedInput:
        return _stop(text, start)
    return TooDeep() if _depth(parsed) > 2 * DEEPEST + 10 else parsed


def _stop(text: str, start: str) -> Stopped:
    """Reads again, word by word, and finds what the parser would have taken where it stopped."""
    from lark.exceptions import UnexpectedCharacters, UnexpectedToken

    at = _parser().parse_interactive(text, start=start)
    read: list[Token] = []
    first, last, kind = len(text), len(text), ""
    try:
        for token in at.lexer_thread.lex(at.parser_state):  # type: ignore[no-untyped-call]  # lark leaves it so
            at.feed_token(token)
            read.append(token)
    except UnexpectedToken as error:
        first, last = error.token.start_pos or 0, error.token.end_pos or len(text)
        kind = str(error.token.type)
    except UnexpectedCharacters as error:
        first = error.pos_in_stream or 0
        last = first + 1
    words = [(t.start_pos or 0, t.end_pos or 0, str(t.type)) for t in read[-_LOOK_BACK:]]
    if first < len(text):
        words.append((first, last, kind))
    return Stopped(first, last, _accepts(read, start), str(read[-1].type) if read else "", tuple(words))


def _accepts(read: list[Token], start: str) -> frozenset[str]:
    """What may follow these words. The state of a parser that met a fault has already forgotten some of it."""
    at = _parser().parse_interactive("", start=start)
    for token in read:
        at.feed_token(token)
    return frozenset(str(a) for a in at.accepts())  # type: ignore[no-untyped-call]  # lark leaves it so


def _depth(parsed: Tree[Token]) -> int:
    deepest = 0
    waiting = [(parsed, 1)]
    while waiting:
        node, depth = waiting.pop()
        deepest = max(deepest, depth)
        waiting.extend((c, depth + 1) for c in node.children if not isinstance(c, str))
    return deepest
