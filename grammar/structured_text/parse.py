"""Text to parser's tree, with every fault told: after one, reading goes on at the next statement."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Protocol, cast

from grammar.diagnostic import Diagnostic
from grammar.source import Span
from grammar.structured_text.complaint import EDGE_WORDS, complaint
from grammar.structured_text.faults import fault, notice

if TYPE_CHECKING:
    from lark import Lark, Token, Tree

__all__ = [
    "MOST_CHARACTERS",
    "MOST_FAULTS",
    "Parsed",
    "between",
    "grammar_text",
    "parse",
    "parse_words",
    "too_long",
    "words",
]

MOST_CHARACTERS = 500_000
MOST_FAULTS = 50
_DEEPEST = 64

# Where something broken may be put in the tree, the best place first.
_BROKEN = ("BROKEN_DECLARATION", "BROKEN_SECTION", "BROKEN_STATEMENT", "BROKEN_ENTRY")
# A word left out whose place is clear: read on as if it were there.
_SUPPLIED = ("SEMICOLON", "THEN", "OF")
_SECTIONS = frozenset({"VAR", "VAR_INPUT", "VAR_OUTPUT", "VAR_TEMP", "VAR_EXTERNAL", "VAR_GLOBAL"})
_ENDS = frozenset({"END_IF", "END_CASE", "END_VAR", "END_FUNCTION_BLOCK", "END_PROGRAM", "ELSE", "ELSIF"})
_UNIT_ENDS = frozenset({"END_FUNCTION_BLOCK", "END_PROGRAM"})
_STOPS = _SECTIONS | _ENDS | {"IF", "CASE"}
_OUTSIDE_ENDS = {
    "VAR_IN_OUT": "END_VAR",
    "VAR_ACCESS": "END_VAR",
    "VAR_CONFIG": "END_VAR",
    **{
        word: f"END_{word}"
        for word in (
            "FOR", "WHILE", "REPEAT", "TYPE", "FUNCTION", "CLASS", "INTERFACE", "METHOD", "ACTION", "NAMESPACE",
            "CONFIGURATION",
        )
    },
}  # fmt: skip
# What may stand in the labels of a CASE, between two statements and the colon.
_LABELS = frozenset({"IDENT", "INTEGER", "TYPED", "MINUS", "COMMA", "RANGE"})


class _Parser(Protocol):
    """The parser, one token at a time: what is used of it here, with types."""

    parser_state: Any

    def feed_token(self, token: Token) -> Any: ...

    def feed_eof(self, last_token: Token) -> Any: ...

    def accepts(self) -> set[str]: ...

    def copy(self) -> _Parser: ...


def grammar_text() -> str:
    """The grammar, as the parser is built from it."""
    return files("grammar.structured_text").joinpath("structured_text.lark").read_text(encoding="utf-8")


@cache
def _parser() -> Lark:
    from lark import Lark

    return Lark(grammar_text(), parser="lalr", lexer="basic", propagate_positions=True, maybe_placeholders=True)


@dataclass(frozen=True, slots=True)
class Parsed:
    """The parser's tree, as far as there is one, and the faults in the order of the text. ``lost`` are the names in
    declarations that could not be read, letter case ignored: what they are is not known, but they are no news."""

    tree: Tree[Token] | None
    told: list[Diagnostic]
    lost: frozenset[str] = frozenset()


def parse(text: str) -> Parsed:
    """The parser's tree of a text. Nothing is raised."""
    if len(text) > MOST_CHARACTERS:
        return Parsed(None, [too_long()])
    tokens = words(text)
    told = between(text, tokens)
    parsed = parse_words(text, tokens)
    return Parsed(parsed.tree, sorted([*told, *parsed.told], key=lambda d: d.span or Span(0, 0)), parsed.lost)


def too_long() -> Diagnostic:
    """What is said of a text with more characters than are read."""
    message = f"the text is longer than {MOST_CHARACTERS} characters"
    return fault("RW517", message, Span(0, 1), cure="check that this is the file that was meant")


def words(text: str) -> list[Token]:
    """The words of a text with their places."""
    begun: Any = _parser().parse_interactive(text)
    return list(begun.lexer_thread.lex(begun.parser_state))


def parse_words(text: str, tokens: list[Token]) -> Parsed:
    """The parser's tree of words, which are those of a text or were put together from some of them."""
    tokens = _labelled(_without_needless_ends(tokens))
    deep = _too_deep(tokens)
    if deep is not None:
        return Parsed(None, [deep])
    run = _Run(text, tokens, cast(_Parser, _parser().parse_interactive("")))
    tree = run.parse()
    return Parsed(tree, sorted(run.told, key=lambda d: d.span or Span(0, 0)), frozenset(run.lost))


def _without_needless_ends(tokens: list[Token]) -> list[Token]:
    """The tokens but for semicolons after END_VAR and after the end of the unit, which many write."""
    pairs = zip(
        ["", *(token.type for token in tokens)], tokens, [*(token.type for token in tokens[1:]), ""], strict=False
    )
    return [
        token
        for before, token, after in pairs
        if token.type != "SEMICOLON"
        or not ((before == "END_VAR" and after in _SECTIONS) or (before in _UNIT_ENDS and not after))
    ]


def _labelled(tokens: list[Token]) -> list[Token]:
    """The tokens, with the names before a colon inside CASE and END_CASE made labels: ``RUN, 5:``."""
    from lark import Token

    made = list(tokens)
    depth = 0
    for k, token in enumerate(tokens):
        depth += {"CASE": 1, "END_CASE": -1}.get(token.type, 0)
        if token.type != "COLON" or depth < 1:
            continue
        at = k - 1
        while at >= 0 and tokens[at].type in _LABELS:
            if tokens[at].type == "IDENT":
                made[at] = Token.new_borrow_pos("LABEL", str(tokens[at]), tokens[at])
            at -= 1
    return made


def between(text: str, tokens: list[Token]) -> list[Diagnostic]:
    """Comments inside comments, and pragmas: what lies between tokens is looked at here, the parser skips it."""
    told: list[Diagnostic] = []
    gaps = zip([0, *(_end(t) for t in tokens)], [*(_begin(t) for t in tokens), len(text)], strict=True)
    for start, end in gaps:
        at = start
        while (at := _next_mark(text, at, end)) < end:
            mark = text[at] if text[at] == "{" else text[at : at + 2]
            close = text.find(_CLOSED_BY[mark], at + len(mark), end)
            stop = end if close < 0 else close + len(_CLOSED_BY[mark])
            if mark == "{":
                cure = "take it out, or see that it changes nothing in what the program does"
                told.append(notice("RW519", "this pragma is skipped", Span(at, stop), cure=cure))
            elif mark != "//" and text.find(mark, at + 2, stop - 2) >= 0:
                told.append(fault("RW504", "a comment holds the beginning of another", Span(at, stop)))
            at = stop
    return told[:MOST_FAULTS]


_CLOSED_BY = {"(*": "*)", "/*": "*/", "//": "\n", "{": "}"}


def _next_mark(text: str, start: int, end: int) -> int:
    found = [at for mark in _CLOSED_BY if (at := text.find(mark, start, end)) >= 0]
    return min(found, default=end)


def _begin(token: Token) -> int:
    return token.start_pos or 0


def _end(token: Token) -> int:
    return token.end_pos or 0


def _too_deep(tokens: list[Token]) -> Diagnostic | None:
    depth = run = 0
    for token in tokens:
        run = run + 1 if token.type in ("NOT", "MINUS") else 0
        if token.type in ("LPAR", "IF", "CASE"):
            depth += 1
        elif token.type in ("RPAR", "END_IF", "END_CASE"):
            depth = max(0, depth - 1)
        if depth + run > _DEEPEST:
            message = f"brackets and statements are nested deeper than {_DEEPEST}"
            return fault("RW517", message, Span(_begin(token), _end(token)), cure="use a variable for a part of it")
    return None


@dataclass
class _Run:
    """One reading of one text."""

    text: str
    tokens: list[Token]
    parser: _Parser
    told: list[Diagnostic] = field(default_factory=list)
    orphans: list[str] = field(default_factory=list)  # END words whose opening was in something broken
    lost: set[str] = field(default_factory=set)
    over: bool = False  # an open comment swallowed the rest

    def parse(self) -> Tree[Token] | None:
        at = 0
        while at < len(self.tokens):
            if not self._feed(self.tokens[at]):
                went_on = self._mend(at)
                if went_on is None:
                    return None
                at = went_on
            else:
                at += 1
        return self._finish()

    def _feed(self, token: Token) -> bool:
        """Give the parser a token, unless it can't stand here: then nothing is changed."""
        if not self._fits(token.type):
            return False
        self.parser.feed_token(token)
        return True

    def _fits(self, kind: str) -> bool:
        """Whether a token would be taken. The parser itself finds out only after it has closed what it thinks the
        token closes, so its table is followed here on a copy of its states."""
        state = self.parser.parser_state
        table, stack = state.parse_conf.parse_table.states, list(state.state_stack)
        while kind in table[stack[-1]]:
            action, argument = table[stack[-1]][kind]
            if action.name == "Shift":
                return True
            if argument.expansion:
                del stack[-len(argument.expansion) :]
            stack.append(table[stack[-1]][argument.origin.name][1])
            if kind == "$END" and stack[-1] == state.parse_conf.end_state:
                return True
        return False

    def _mend(self, at: int) -> int | None:
        """Tell the fault at a token, and find where to go on; None when there is no going on."""
        token = self.tokens[at]
        if self._closes_orphan(token):
            return self._after_semicolon(at)
        accepted = self.parser.accepts()
        self.told.append(complaint(self.tokens, at, accepted))
        if token.type == "OPEN_COMMENT":
            self.over = True
            return len(self.tokens)
        if len(self.told) >= MOST_FAULTS:
            span = Span(_begin(token), _end(token))
            self.told.append(fault("RW517", f"{MOST_FAULTS} faults were found and reading stopped here", span))
            return None
        if not accepted - {"$END"}:  # the unit is ended, what follows is not looked at
            return len(self.tokens)
        if token.type in _UNIT_ENDS and self._close(token.type, token):
            return at
        if token.upper() in EDGE_WORDS:  # the declaration is sound without
            return at + 1
        if token.type == "EQUAL" and "ASSIGN" in accepted:
            self._feed(self._made_up("ASSIGN", token))
            return at + 1
        for word in _SUPPLIED:
            if word in accepted and self._would_take(word, token):
                self._feed(self._made_up(word, token))
                return at
        return self._leave_out(at)

    def _would_take(self, word: str, token: Token) -> bool:
        trial = self.parser.copy()
        trial.feed_token(self._made_up(word, token))
        return token.type in trial.accepts()

    def _closes_orphan(self, token: Token) -> bool:
        if token.type in self.orphans:
            self.orphans.remove(token.type)
            return True
        return token.type in ("ELSE", "ELSIF") and "END_IF" in self.orphans

    def _leave_out(self, at: int) -> int | None:
        """Put something broken in the tree, and skip to the next place where a statement may begin."""
        end = _OUTSIDE_ENDS.get(self.tokens[at].upper())
        if self._fits("PROGRAM") and end is None:  # not begun yet: there is nothing to go on with
            return None
        put = self._put_broken(self.tokens[at])
        if not put:
            return None
        after = self._skipped(at) if end is None else self._past(at, end)
        if put == "BROKEN_DECLARATION" or end in ("END_VAR", "END_TYPE"):
            begun = max((k for k in range(at) if self.tokens[k].type == "SEMICOLON" or self._opens(k)), default=0)
            self.lost |= {token.casefold() for token in self.tokens[begun:after] if token.type == "IDENT"}
        return after

    def _opens(self, at: int) -> bool:
        return self.tokens[at].type in _SECTIONS | {"CONSTANT", "RETAIN", "NON_RETAIN"}

    def _past(self, at: int, end: str) -> int:
        """Behind something outside what is read, whatever stands in it: past its END word and semicolon."""
        begins, depth = self.tokens[at].upper(), 0
        for k in range(at, len(self.tokens)):
            depth += {begins: 1, end: -1}.get(self.tokens[k].upper(), 0)
            if depth == 0:
                semicolon = k + 1 < len(self.tokens) and self.tokens[k + 1].type == "SEMICOLON"
                return k + 2 if semicolon else k + 1
        return at + 1

    def _skipped(self, at: int) -> int:
        while at < len(self.tokens):
            token = self.tokens[at]
            if token.type == "SEMICOLON":
                return at + 1
            if token.type in _STOPS:
                if self._fits(token.type):
                    return at
                if self._closes_orphan(token):
                    return self._after_semicolon(at)
            at += 1
        return at

    def _after_semicolon(self, at: int) -> int:
        """Past an END word whose opening is gone: past its semicolon; past THEN for an ELSIF."""
        wanted = {"ELSIF": "THEN", "ELSE": "ELSE"}.get(self.tokens[at].type, "SEMICOLON")
        for k in range(at, min(at + 200, len(self.tokens))):
            if self.tokens[k].type == wanted:
                return k + 1
            if k > at and self.tokens[k].type in _STOPS:
                return k
        return at + 1

    def _put_broken(self, token: Token) -> str:
        """The word that was put in the tree; empty when there is no place for one."""
        state = self.parser.parser_state
        while not any(self._fits(word) for word in _BROKEN):
            if len(state.state_stack) <= 1:
                return ""
            state.state_stack.pop()
            lost = state.value_stack.pop()
            kind = getattr(lost, "type", "")
            if kind in ("IF", "CASE"):
                self.orphans.append(f"END_{kind}")
        return next(word for word in _BROKEN if self._feed(self._made_up(word, token)))

    def _made_up(self, kind: str, beside: Token) -> Token:
        from lark import Token

        return Token.new_borrow_pos(kind, "", beside)

    def _finish(self) -> Tree[Token] | None:
        """The end of the text; what is not ended yet is told once and ended."""
        from lark import Token

        last = self.tokens[-1] if self.tokens else Token("SEMICOLON", "", start_pos=0, end_pos=0, line=1, column=1)
        if not self.over and not self._fits("$END"):
            self.told.append(complaint(self.tokens, len(self.tokens), self.parser.accepts()))
        if not self._close("$END", last):
            return None
        tree: Tree[Token] = self.parser.feed_eof(last)
        return tree

    def _close(self, word: str, beside: Token) -> bool:
        """End what is not ended before a word; whether the word then fits."""
        for _ in range(4 * _DEEPEST):
            if self._fits(word):
                return True
            closers = ("SEMICOLON", "END_IF", "END_CASE", "END_VAR", *(_UNIT_ENDS if word == "$END" else ()))
            # Feeding a lone semicolon would go on for ever as an empty statement: it only ends what waits for it.
            end = next((closer for closer in closers if self._moves(closer)), None)
            if end is not None:
                self._feed(self._made_up(end, beside))
            elif not self._put_broken(beside):
                return False
        return False

    def _moves(self, word: str) -> bool:
        return self._fits(word) and (word != "SEMICOLON" or not self._fits("BROKEN_STATEMENT"))
