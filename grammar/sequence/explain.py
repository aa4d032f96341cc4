"""Why a clause can't be read, in plain words, and what it most likely means.

First the table of habits (mistakes.py); then a misspelt word, found by trying: a word is taken for the fault only if
the clause reads on with another in its place; then what the parser would have taken, in the words of words.py.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache
from itertools import islice
from typing import TYPE_CHECKING

from grammar.diagnostic import Diagnostic, Severity
from grammar.layout import DEEPEST, Clause
from grammar.sequence.mistakes import find
from grammar.sequence.parse import Stopped, TooDeep, parse
from grammar.sequence.words import WORDS, keywords

if TYPE_CHECKING:
    from lark import Token, Tree

__all__ = ["Told", "expected", "explain", "too_deep"]

_ORDER = {w.terminal: n for n, w in enumerate(WORDS)}
_TOLD = {w.terminal: w.told for w in WORDS} | {
    "NAME": "a device name",
    "TEXT": 'a text in double quotes, such as "did not arrive"',
    "NUMBER": "",
    "WHOLE": "a whole number, such as 12",
    "MOVE": "a move, such as A+ or A-",
    "_BAR": "",
    "QUANTITY": "a quantity with its unit, such as 30 s",
    "LPAR": "'('",
    "RPAR": "')'",
    "COMMA": "a comma",
    "$END": "the end of the line",
    # Words that may always be left out are not worth naming.
    "_THE": "",
    "_OF": "",
    "_THEN": "",
    "NOT": "",
    "UNMADE": "",
    "LIFTED": "'lifted'",
    "EXTENDING": "'extending'",
    "RETRACTING": "'retracting'",
}
_AMOUNT_AFTER = {
    "_BORE": "a length, such as 80 mm",
    "_ROD": "a length, such as 45 mm",
    "_STROKE": "a length, such as 250 mm",
    "_RESET_TRAVEL": "a length, such as 2 mm",
    "_FLOW": "a flow, such as 12 L/min",
    "_PRESSURE": "a pressure, such as 160 bar",
    "_LOAD": "a force such as 40 kN, or a mass such as 200 kg",
    "_FRICTION": "a force such as 300 N, or a percentage such as 5 %",
    "_EFFICIENCY": "a percentage, such as 90 %",
    "_GIVE_OR_TAKE": "a percentage, such as 10 %",
    "_TUBE": "a diameter such as 6 mm, or a volume such as 0.1 L",
    "_BY": "a length, such as 2 m",
    "_DISPLACEMENT": "a displacement, such as 16 cm3/rev",
    "_SPEED": "a speed of turning, such as 1450 rpm",
    "_CASE_DRAIN": "a flow, such as 1.2 L/min",
    "_AT": "a place: 'end', 'home', a length from home such as 120 mm - or a pressure such as 90 bar",
}
_NAME_AFTER = {
    "_DO": "the name of a routine",
    "_ROUTINE": "the name of a routine",
    "_OF": "the name of a station",
    "_STATION": "the name of a station",
    "_COUNT": "the name of a counter",
    "CLEAR": "the name of a counter",
    "_COUNTER": "the name of a counter",
    "_COUNTED_BY": "the name of a counter",
    "_RUN": "the name of a motor",
}
_START = (
    "a device (cylinder, pushbutton, selector, sensor, lamp, horn, motor or counter, and its name), a line of a "
    "cylinder (bore 80 mm, limit switch LS1 at end), a command (extend until at-end), a block (together, if, repeat) "
    "or a rule (when STOP is pressed, ...)"
)
_LONGEST = 1000
"""Longer clauses are not searched for habits and misspelt words: that takes time, and nobody wrote them by hand."""


def too_deep(clause: Clause) -> Diagnostic:
    """The message for a condition nobody could read."""
    message = f"this nests more than {DEEPEST} deep"
    cure = "drop brackets and 'not's that say nothing, or part the condition into several steps"
    return Diagnostic("RW017", Severity.FAULT, message, clause.span(), cure=cure)


_WORD = re.compile(r"[^\W\d_][\w-]*")


@dataclass(frozen=True, slots=True)
class Told:
    """The message for a clause, and where its meaning can be guessed, that clause put right and its parse tree."""

    diagnostic: Diagnostic
    clause: Clause
    parsed: Tree[Token] | None = None


def explain(clause: Clause, stop: Stopped) -> Told:
    """Why a clause stopped making sense: a habit, a misspelt word, or what could have stood there."""
    if len(clause.text) > _LONGEST:
        return Told(_unexpected(clause, stop), clause)
    return (
        _habit(clause, early=True)
        or _misspelt(clause, stop)
        or _habit(clause, early=False)
        or Told(_unexpected(clause, stop), clause)
    )


def _habit(clause: Clause, *, early: bool) -> Told | None:
    row = find(clause.text, early=early)
    if row is None:
        return None
    mistake, found = row
    words = {k: v.strip() if k != "rest" else v.rstrip() for k, v in found.groupdict(default="").items()}
    span = clause.span(found.start("at"), found.end("at"))
    message, cure = mistake.message.format(**words), mistake.cure.format(**words)
    told = Told(Diagnostic(mistake.code, Severity.FAULT, message, span, cure=cure), clause)
    if mistake.instead is None:
        return told
    mended = _mended(clause, found.start("at"), found.end("at"), mistake.instead.format(**words))
    parsed = parse(mended.text)
    return told if isinstance(parsed, Stopped | TooDeep) else replace(told, clause=mended, parsed=parsed)


def _misspelt(clause: Clause, stop: Stopped) -> Told | None:
    """The word nearest a keyword, if the clause reads further with that keyword in its place."""
    best: tuple[int, Told] | None = None
    ahead = [(m.start(), m.end(), "") for m in islice(_WORD.finditer(clause.text, stop.end), 2)]
    for start, end, terminal in (*reversed(stop.words), *ahead):
        word = clause.text[start:end].casefold()
        if terminal not in ("NAME", "_OF", "") or not word[:1].isalpha() or len(word) < 2:
            continue
        for meant in get_close_matches(word, _single_words(), n=4, cutoff=0.7):
            if meant == word:
                continue
            mended = _mended(clause, start, end, meant)
            tried = parse(mended.text)
            told = Told(_misspelling(clause, start, end, meant), mended)
            if isinstance(tried, TooDeep):
                continue
            if not isinstance(tried, Stopped):
                return replace(told, parsed=tried)
            gained = tried.start - stop.start - (len(mended.text) - len(clause.text) if start < stop.start else 0)
            if gained > 0 and (best is None or gained > best[0]):
                best = (gained, told)
    return best[1] if best else None


def _mended(clause: Clause, start: int, end: int, meant: str) -> Clause:
    """The clause with another word in place of one; every letter of it stands where the old word stood."""
    old = list(clause.offsets)
    within = [old[start + min(k, end - start - 1)] for k in range(len(meant))]
    offsets = (*old[:start], *within, *old[end:])
    return Clause(clause.text[:start] + meant + clause.text[end:], offsets, faulty=True)


def _misspelling(clause: Clause, start: int, end: int, meant: str) -> Diagnostic:
    message = f"'{clause.text[start:end]}' is not understood here"
    return Diagnostic("RW102", Severity.FAULT, message, clause.span(start, end), cure=f"did you mean '{meant}'?")


@cache
def _single_words() -> list[str]:
    """Every word of every phrase, in a fixed order."""
    return list(dict.fromkeys(w.casefold() for row in WORDS for p in row.phrases for w in p.split()))


def _unexpected(clause: Clause, stop: Stopped) -> Diagnostic:
    text = clause.text
    first = stop.words[0] if stop.words else (0, 0, "")
    missing = stop.start >= len(text) and len(stop.words) > 1
    if stop.start == 0 or (not missing and first[0] == 0 and first[2] in ("NAME", "") and len(stop.words) <= 2):
        return _unknown_start(clause, *first[:2])
    if stop.start >= len(text):
        last = _last_words(text)
        message = f"something is missing after '{last}'"
        span = clause.span(len(text) - len(last))
        return Diagnostic("RW103", Severity.FAULT, message, span, expected=expected(stop))
    word, before = text[stop.start : stop.end], _last_words(text[: stop.start].rstrip())
    span = clause.span(stop.start, stop.end)
    if not word[0].isalnum() and word[0] not in '"(_':
        message = f"'{word}' is no sign of this language"
        return Diagnostic("RW101", Severity.FAULT, message, span, expected=expected(stop))
    cure = ""
    if "$END" in stop.accepts and not isinstance(parse(text[stop.start :]), Stopped):
        cure = f"a comma or a new line before '{word}'"
    message = f"'{word}' does not follow '{before}'"
    return Diagnostic("RW101", Severity.FAULT, message, span, expected=expected(stop), cure=cure)


def _unknown_start(clause: Clause, start: int, end: int) -> Diagnostic:
    word = clause.text[start:end] or clause.text[:1]
    near = get_close_matches(word.casefold(), list(keywords()), n=1, cutoff=0.76)
    cure = ""
    if near:
        phrases = [p for w in WORDS if w.terminal in keywords()[near[0]] for p in w.phrases if p != word]
        meant = next((p for p in phrases if p.casefold().startswith(near[0])), "")
        cure = f"did you mean '{meant}'?" if meant and meant.casefold() != word.casefold() else ""
    message = f"'{word}' begins nothing that is known here"
    span = clause.span(start, max(end, start + 1))
    return Diagnostic("RW104", Severity.FAULT, message, span, expected=_START, cure=cure)


def _last_words(text: str) -> str:
    """The last word or two as they stand, enough to find the place."""
    found = re.search(r"(?:\S+ +)?\S{1,5}$|\S{1,40}$", text[-60:])
    return found[0] if found else text[-10:]


def expected(stop: Stopped) -> str:
    """What could have stood there, in plain words: groups rather than lists of words, the likeliest first."""
    if {"_MACHINE", "_CYCLE"} <= stop.accepts:
        return _START
    accepts = set(stop.accepts)
    phrases: list[str] = []
    if {"LPAR", "_AFTER"} <= accepts:
        phrases.append("a condition (such as LS1 is made, PLATEN is at-end, after 5 s)")
        accepts -= {"LPAR", "_AFTER", "NAME", "NOT", "AT_END", "AT_HOME", "_THE"}
    if "FOR" in accepts and stop.after not in ("HOLD", "WAIT"):
        accepts -= {"QUANTITY"}
    for terminal in sorted(accepts, key=lambda t: (t == "$END", _ORDER.get(t, -1), t)):
        phrase = _TOLD[terminal]
        if terminal == "QUANTITY":
            phrase = _AMOUNT_AFTER.get(stop.after, "a time (such as 30 s)")
        if terminal == "NAME":
            phrase = _NAME_AFTER.get(stop.after, phrase)
        if terminal in ("AT_END", "AT_HOME") and "PRESSED" not in accepts:
            phrase = f"'{terminal.lower().replace('_', '-')}'"
        if phrase and phrase not in phrases:
            phrases.append(phrase)
    return " or ".join(filter(None, [", ".join(phrases[:-1]), *phrases[-1:]]))
