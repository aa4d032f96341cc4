"""The words of a function chart parted into its elements: what stands before them, steps, transitions, actions.

What is structured text inside an element is left as words, for its own parser. After a fault reading goes on at the
next association, or at the next element.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from grammar.diagnostic import Diagnostic, nearest
from grammar.sfc.faults import fault
from grammar.sfc.tree import Association, Qualifier, Step
from grammar.source import Span
from grammar.structured_text.tree import Duration, Expression, Name, Variable

if TYPE_CHECKING:
    from lark import Token

__all__ = ["Elements", "RawAction", "RawTransition", "elements", "span_of"]

_ENDS = {"INITIAL_STEP": "END_STEP", "STEP": "END_STEP", "TRANSITION": "END_TRANSITION", "ACTION": "END_ACTION"}
_UNIT_ENDS = ("END_FUNCTION_BLOCK", "END_PROGRAM")
_WANTED = "STEP, TRANSITION or ACTION"


@dataclass(frozen=True, slots=True)
class RawTransition:
    """A transition whose condition is words yet, with the word that ends it."""

    sources: tuple[Name, ...]
    targets: tuple[Name, ...]
    name: Name | None
    priority: int | None
    condition: Sequence[Token]
    end: Token
    span: Span


@dataclass(frozen=True, slots=True)
class RawAction:
    """An action whose body is words yet, with the word that ends it."""

    name: Name
    body: Sequence[Token]
    end: Token
    span: Span


@dataclass(slots=True)
class Elements:
    """``head`` is everything before the first element, ``end`` the word that ends the unit (or the last word)."""

    head: Sequence[Token]
    end: Token
    steps: list[Step] = field(default_factory=list)
    transitions: list[RawTransition] = field(default_factory=list)
    actions: list[RawAction] = field(default_factory=list)
    told: list[Diagnostic] = field(default_factory=list)


class _Amiss(Exception):
    """What can't stand where it stands. Caught at the element it belongs to."""

    def __init__(self, diagnostic: Diagnostic) -> None:
        super().__init__(diagnostic.message)
        self.diagnostic = diagnostic


def span_of(first: Token, last: Token | None = None) -> Span:
    """From the beginning of a word to its end, or to that of a later one."""
    return Span(first.start_pos or 0, (last or first).end_pos or 0)


def elements(words: Sequence[Token]) -> Elements:
    """The elements of one or more words."""
    at = next((k for k, word in enumerate(words) if _is(word, *_ENDS, *_UNIT_ENDS)), len(words))
    found = Elements(words[:at], words[-1])
    while at < len(words) and not _is(words[at], *_UNIT_ENDS):
        at = _element(words, at, found)
    if at == len(words):
        message = "the text ends here, but the unit is not ended"
        cure = "end it with END_FUNCTION_BLOCK or END_PROGRAM"
        found.told.append(fault("RW531", message, span_of(words[-1]), cure=cure))
        return found
    found.end = words[at]
    rest = [word for word in words[at + 1 :] if word.type != "SEMICOLON"]
    if rest:
        cure = "keep each in a file of its own"
        found.told.append(fault("RW531", "one unit is read here, and this is more", span_of(rest[0]), cure=cure))
    return found


def _is(word: Token, *texts: str) -> bool:
    return word.upper() in texts


def _element(words: Sequence[Token], at: int, found: Elements) -> int:
    """Read the element at a place, and find where the next one begins."""
    begin = words[at]
    end_word = _ENDS.get(begin.upper())
    if end_word is None:
        if begin.type == "SEMICOLON":
            return at + 1
        near = nearest(begin.upper(), [*_ENDS, *_ENDS.values()])
        cure = f"did you mean {near}?" if near else "statements stand in an ACTION"
        message = f"{begin} can't stand here"
        found.told.append(fault("RW531", message, span_of(begin), expected=_WANTED, cure=cure))
        return next((k for k in range(at + 1, len(words)) if _is(words[k], *_ENDS, *_UNIT_ENDS)), len(words))
    stop = next((k for k in range(at + 1, len(words)) if _closes(words[k])), len(words))
    end = words[min(stop, len(words) - 1)]
    if stop == len(words) or not _is(end, end_word):
        message = f"this {begin.upper()} is not ended"
        found.told.append(fault("RW531", message, span_of(begin), expected=f"{end_word} before the next"))
    _Reader(words[at + 1 : stop], begin, end, found).element()
    return stop + 1 if stop < len(words) and _is(words[stop], *_ENDS.values()) else stop


def _closes(word: Token) -> bool:
    return _is(word, *_ENDS, *_ENDS.values(), *_UNIT_ENDS)


@dataclass
class _Reader:
    """One element: its words between the first, such as STEP, and the one that ends it."""

    words: Sequence[Token]
    begin: Token
    end: Token
    found: Elements
    at: int = 0

    def element(self) -> None:
        try:
            match self.begin.upper():
                case "TRANSITION":
                    self.transition()
                case "ACTION":
                    self.action()
                case _:
                    self.step()
        except _Amiss as amiss:
            self.found.told.append(amiss.diagnostic)

    # --- words --------------------------------------------------------------------------------------------

    def word(self) -> Token:
        """The next word, or the one that ends the element."""
        return self.words[self.at] if self.at < len(self.words) else self.end

    def amiss(self, expected: str, *, cure: str = "") -> _Amiss:
        word = self.word()
        return _Amiss(fault("RW531", f"{word} can't stand here", span_of(word), expected=expected, cure=cure))

    def take(self, kind: str, expected: str, *, cure: str = "") -> Token:
        if self.at >= len(self.words) or self.word().type != kind:
            raise self.amiss(expected, cure=cure)
        self.at += 1
        return self.words[self.at - 1]

    def has(self, kind: str) -> bool:
        """Whether the next word is of a kind, which then is taken."""
        if self.at < len(self.words) and self.word().type == kind:
            self.at += 1
            return True
        return False

    def name(self, what: str) -> Name:
        word = self.take("IDENT", f"the name of {what}")
        return Name(str(word), span=span_of(word))

    def span(self) -> Span:
        return span_of(self.begin, self.end)

    # --- steps --------------------------------------------------------------------------------------------

    def step(self) -> None:
        name = self.name("a step")
        self.take("COLON", "a colon after the name of a step")
        associations = tuple(self.associations())
        initial = _is(self.begin, "INITIAL_STEP")
        self.found.steps.append(Step(name, initial, associations, span=self.span()))

    def associations(self) -> Iterator[Association]:
        while self.at < len(self.words):
            try:
                yield self.association()
            except _Amiss as amiss:
                self.found.told.append(amiss.diagnostic)
                while self.at < len(self.words) and not self.has("SEMICOLON"):
                    self.at += 1

    def association(self) -> Association:
        name = self.name("an action")
        qualifier, time = Qualifier.NON_STORED, None
        if self.has("LPAR") and not self.has("RPAR"):
            qualifier = self.qualifier()
            time = self.time() if self.has("COMMA") else None
            if self.word().type == "COMMA":
                cure = "leave the names of indicators out; they change nothing in what the chart does"
                raise self.amiss("a closing bracket", cure=cure)
            self.take("RPAR", "a closing bracket")
        self.take("SEMICOLON", "a semicolon")
        if qualifier.timed and time is None:
            message = f"{qualifier} needs a time"
            self.found.told.append(fault("RW537", message, name.span, cure=f"write {name.text}({qualifier}, T#2s);"))
        elif time is not None and not qualifier.timed:
            message = f"{qualifier} has no time"
            self.found.told.append(fault("RW537", message, time.span, cure="take the time out"))
        return Association(name, qualifier, time, span=name.span)

    def qualifier(self) -> Qualifier:
        word = self.take("IDENT", "a qualifier")
        if word.upper() not in list(Qualifier):
            message = f"{word} is no qualifier"
            raise _Amiss(fault("RW537", message, span_of(word), expected="one of " + " ".join(Qualifier)))
        return Qualifier(word.upper())

    def time(self) -> Expression:
        word = self.word()
        if word.type == "DURATION":
            self.at += 1
            return Duration(str(word), span=span_of(word))
        name = Name(str(self.take("IDENT", "a time such as T#2s")), span=span_of(word))
        return Variable(name, span=name.span)

    # --- transitions and actions --------------------------------------------------------------------------

    def transition(self) -> None:
        name = None if _is(self.word(), "FROM") or self.word().type == "LPAR" else self.name("a transition, or FROM")
        priority = None
        if self.has("LPAR"):
            self.keyword("PRIORITY")
            self.take("ASSIGN", ":=")
            word = self.word()
            self.take("INTEGER", "a whole number")
            priority = int(word) if word.isdecimal() and len(word) < 10 else None
            if priority is None:
                raise _Amiss(fault("RW531", f"{word} is no priority", span_of(word), expected="a whole number"))
            self.take("RPAR", "a closing bracket")
        self.keyword("FROM")
        sources = self.names()
        self.keyword("TO")
        targets = self.names()
        self.take("ASSIGN", ":= and a condition", cure="write the condition as structured text, behind :=")
        rest = self.words[self.at :]
        self.found.transitions.append(RawTransition(sources, targets, name, priority, rest, self.end, self.span()))

    def keyword(self, word: str) -> None:
        if self.at >= len(self.words) or not _is(self.word(), word):
            raise self.amiss(word)
        self.at += 1

    def names(self) -> tuple[Name, ...]:
        """One step, or several in brackets."""
        if not self.has("LPAR"):
            return (self.name("a step"),)
        found = [self.name("a step")]
        while self.has("COMMA"):
            found.append(self.name("a step"))
        self.take("RPAR", "a comma or a closing bracket")
        return tuple(found)

    def action(self) -> None:
        name = self.name("an action")
        self.take("COLON", "a colon after the name of an action")
        self.found.actions.append(RawAction(name, self.words[self.at :], self.end, self.span()))
