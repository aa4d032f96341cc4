"""Reads by the table that lark makes of a grammar, straight to nodes: no parser's tree, no line and column of a word.

lark itself goes by the same table, and on short lines spends most of its time on what is not asked for here. What is
wrong with a text that can't be read, lark tells: here it is only said that it can't be.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from lark import Lark
    from lark.grammar import Rule
    from lark.lexer import BasicLexer

__all__ = ["Maker", "Tables", "Word"]

Maker = Callable[[list[Any]], object]
"""What becomes of a rule, from what its parts have become: a Word each, or what another maker has made of a rule."""


class Word(NamedTuple):
    """A terminal that was read, and where it stands."""

    type: str
    text: str
    start: int
    end: int


class _Reduction(NamedTuple):
    """The last ``length`` values become one; without a maker, one value stays as it is. ``spliced``: some of them are
    rows of values."""

    length: int
    rule: str
    make: Maker | None
    spliced: bool


class _Row(list[Any]):
    """The values of what a grammar repeats: they are parts of the rule in which it stands."""


_END = r"\Z"


class _State(NamedTuple):
    """How the next word is found, and what is then done: a state is gone to, a reduction is carried out."""

    find: Callable[[str, int], re.Match[str] | None]
    actions: dict[str, Any]


class Tables:
    """``makers`` are by the name of the rule, or of the alias it has in the grammar; a rule without one becomes the
    list of its parts. Texts are read from any of ``starts``."""

    def __init__(self, lark: Lark, starts: Iterable[str], makers: Mapping[str, Maker]) -> None:
        begun = {start: lark.parse_interactive("", start=start).parser_state.parse_conf for start in starts}
        table: dict[int, dict[str, tuple[Any, Any]]] = next(iter(begun.values())).states
        lexers: Any = lark.parser.lexer
        found = {pattern: re.compile(pattern) for pattern in {_pattern(lexers.lexers[number]) for number in table}}
        states = {number: _State(found[_pattern(lexers.lexers[number])].match, {}) for number in table}
        done = states | {rule: _reduction(rule, makers) for rule in lark.rules}
        for number, actions in table.items():
            states[number].actions.update({name: done[to] for name, (_, to) in actions.items()})
        self._ends = {start: (states[conf.start_state], states[conf.end_state]) for start, conf in begun.items()}

    def read(self, text: str, start: str, at: int = 0) -> Any:
        """What is made of a text from a rule of ``starts``, or None where it can't be read. ``at`` is the place of
        the text, from which those of its words are counted."""
        state, last = self._ends[start]
        states, place = [state], 0
        values: list[Any] = []
        find, actions = state
        while (match := find(text, place)) is not None:
            place, name = match.end(), match.lastgroup or "$END"
            todo = actions.get(name)
            while type(todo) is _Reduction:
                length, rule, make, spliced = todo
                if make is None:
                    states.pop()
                elif length:
                    parts, values[-length:], states[-length:] = values[-length:], (), ()
                    values.append(make(_joined(parts) if spliced else parts))
                else:
                    values.append(make([]))
                state = states[-1].actions[rule]
                if state is last and name == "$END":
                    return values[0]
                states.append(state)
                todo = state.actions.get(name)
            if todo is None:
                return None
            word = match[name]
            values.append(Word(name, word, at + place - len(word), at + place))
            states.append(todo)
            find, actions = todo
        return None


def _pattern(lexer: BasicLexer) -> str:
    """Any one of the words that may come next, each a group of its name, after what is skipped; or the end."""
    skipped = [t.pattern.to_regexp() for t in lexer.terminals if t.name in lexer.ignore_types]
    words = [f"(?P<{t.name}>{t.pattern.to_regexp()})" for t in lexer.terminals if t.name not in lexer.ignore_types]
    return f"(?:{'|'.join(skipped)})*+(?:{'|'.join([*words, _END])})"


def _reduction(rule: Rule, makers: Mapping[str, Maker]) -> _Reduction:
    name, parts = str(rule.origin.name), rule.expansion
    make: Maker | None
    if name.startswith("_"):
        make = _row
    elif rule.options.expand1 and rule.alias is None and len(parts) == 1:
        make = None
    else:
        make = makers.get(rule.alias or name, list)
    rows = any(not p.is_term and p.name.startswith("_") for p in parts)
    return _Reduction(len(parts), name, make, spliced=rows and make is not _row)


def _row(parts: list[Any]) -> _Row:
    """The row that was there before, if any, gets longer: of thousands of parts none is copied twice."""
    first, others = parts[0], parts[1:]
    row = first if type(first) is _Row else _Row([first])
    row += others
    return row


def _joined(parts: list[Any]) -> list[Any]:
    return [value for part in parts for value in (part if type(part) is _Row else (part,))]
