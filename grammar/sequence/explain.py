"""Why a clause can't be read, in plain words, and what it most likely means.

First the table of habits (mistakes.py); then a misspelt word, found by trying: a word is taken for the fault only if
the clause reads on with another in its place; then what the parser would have taken, in the words of words.py.
"""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from grammar.diagnostic import Diagnostic, Severity
from grammar.layout import DEEPEST, Clause
from grammar.sequence.mistakes import find
from grammar.sequence.parse import Stopped, TooDeep, parse
from grammar.sequence.words import WORDS, Kind, keywords

if TYPE_CHECKING:
    from lark import Token, Tree

__all__ = ["explain", "told", "too_deep"]

_ORDER = {w.terminal: n for n, w in enumerate(WORDS)}
_TOLD = {w.terminal: w.told for w in WORDS} | {
    "NAME": "a device name",
    "TEXT": 'a text in double quotes, such as "did not arrive"',
    "NUMBER": "",
    "QUANTITY": "a quantity with its unit, such as 30 s",
    "LPAR": "'('",
    "RPAR": "')'",
    "$END": "the end of the line, or a comma",
    # Words that may always be left out are not worth naming.
    "_THE": "",
    "_OF": "",
    "_THEN": "",
    "NOT": "",
    "UNMADE": "",
    "EXTENDING": "'extending'",
    "RETRACTING": "'retracting'",
}
_AMOUNT_AFTER = {
    "_BORE": "a length, such as 80 mm",
    "_ROD": "a length, such as 45 mm",
    "_STROKE": "a length, such as 250 mm",
    "_RESET_TRAVEL": "a length, such as 2 mm",
    "_FLOW": "a flow, such as 12 L/min",
    "_AT": "a place: 'end', 'home', a length from home such as 120 mm - or a pressure such as 90 bar",
}
_START = f"{Kind.DEVICE}, {Kind.PART}, {Kind.COMMAND} or {Kind.RULE}"


def too_deep(clause: Clause) -> Diagnostic:
    """The message for a condition nobody could read."""
    message = f"this nests more than {DEEPEST} deep"
    cure = "drop brackets and 'not's that say nothing, or part the condition into several steps"
    return Diagnostic("RW017", Severity.FAULT, message, clause.span(), cure=cure)


def explain(clause: Clause, stop: Stopped) -> tuple[Diagnostic, Tree[Token] | None]:
    """The message for a clause that stopped making sense, and the tree of what it most likely means, if any."""
    row = find(clause.text)
    if row is not None:
        mistake, found = row
        words = {k: v.strip() if k != "rest" else v.rstrip() for k, v in found.groupdict(default="").items()}
        span = clause.span(found.start("at"), found.end("at"))
        message, cure = mistake.message.format(**words), mistake.cure.format(**words)
        return Diagnostic(mistake.code, Severity.FAULT, message, span, cure=cure), None
    repaired = _misspelt(clause, stop)
    if repaired is not None:
        return repaired
    return _unexpected(clause, stop), None


def _misspelt(clause: Clause, stop: Stopped) -> tuple[Diagnostic, Tree[Token] | None] | None:
    """The word nearest a keyword, if the clause reads further with that keyword in its place."""
    text = clause.text
    best: tuple[int, str, int, int, Tree[Token] | None] | None = None
    for start, end, terminal in reversed(stop.words):
        word = text[start:end]
        if terminal not in ("NAME", "") or not word[:1].isalpha() or len(word) < 3:
            continue
        for meant in get_close_matches(word.casefold(), list(_single_words()), n=4, cutoff=0.7):
            if meant == word.casefold():
                continue
            tried = parse(text[:start] + meant + text[end:])
            if isinstance(tried, TooDeep):
                continue
            if not isinstance(tried, Stopped):
                found = _misspelling(clause, start, end, meant)
                again = _same_places(text, start, end, meant)
                return found, again
            gained = tried.start - (start + len(meant)) - max(0, stop.start - end)
            if gained > 0 and (best is None or gained > best[0]):
                best = (gained, meant, start, end, None)
    if best is None:
        return None
    _, meant, start, end, _tree = best
    return _misspelling(clause, start, end, meant), None


def _same_places(text: str, start: int, end: int, meant: str) -> Tree[Token] | None:
    """The repaired clause as a tree, only where the repair moves no word: places must stay true to the source."""
    if len(meant) > end - start:
        return None
    tried = parse(text[:start] + meant.ljust(end - start) + text[end:])
    return None if isinstance(tried, Stopped | TooDeep) else tried


def _misspelling(clause: Clause, start: int, end: int, meant: str) -> Diagnostic:
    message = f"'{clause.text[start:end]}' is not understood here"
    return Diagnostic("RW102", Severity.FAULT, message, clause.span(start, end), cure=f"did you mean '{meant}'?")


def _single_words() -> tuple[str, ...]:
    """Every word of every phrase, in a fixed order."""
    return tuple(dict.fromkeys(w.casefold() for row in WORDS for p in row.phrases for w in p.split()))


def _unexpected(clause: Clause, stop: Stopped) -> Diagnostic:
    text = clause.text
    if stop.start >= len(text):
        if len(stop.words) == 1 and stop.after == "NAME":
            return _unknown_start(clause, *stop.words[0][:2])
        message = f"something is missing after '{_last_words(text)}'"
        start = max(0, len(text) - len(_last_words(text)))
        return Diagnostic("RW103", Severity.FAULT, message, clause.span(start), expected=told(stop))
    first = stop.words[0]
    if len(stop.words) <= 2 and first[2] in ("NAME", "") and first[0] == 0:
        return _unknown_start(clause, *first[:2])
    end = max(stop.end, stop.start + 1)
    word = text[stop.start : end]
    if not word[0].isalnum() and word[0] not in '"(_':
        message = f"'{word}' is no sign of this language"
    elif stop.after == "":
        message = f"'{word}' does not begin anything"
    else:
        message = f"'{word}' does not follow '{_last_words(text[: stop.start].rstrip())}'"
    return Diagnostic("RW101", Severity.FAULT, message, clause.span(stop.start, end), expected=told(stop))


def _unknown_start(clause: Clause, start: int, end: int) -> Diagnostic:
    word = clause.text[start:end] or clause.text[:1]
    near = get_close_matches(word.casefold(), list(keywords()), n=1, cutoff=0.6)
    cure = f"did you mean '{near[0]}'?" if near and near[0] != word.casefold() else ""
    message = f"'{word}' begins nothing that is known here"
    span = clause.span(start, max(end, start + 1))
    return Diagnostic("RW104", Severity.FAULT, message, span, expected=_START, cure=cure)


def _last_words(text: str) -> str:
    """The last word or two, enough to find the place."""
    words = text.split()
    return " ".join(words[-2:]) if len(words) > 1 and len(words[-1]) < 6 else words[-1] if words else ""


def told(stop: Stopped) -> str:
    """What could have stood there, in plain words: groups rather than lists of words, the likeliest first."""
    if {"_MACHINE", "CYCLE"} <= stop.accepts:
        return _START
    phrases: dict[str, None] = {}
    for terminal in sorted(stop.accepts, key=lambda t: (t == "$END", _ORDER.get(t, -1), t)):
        phrase = _TOLD[terminal]
        if terminal == "QUANTITY":
            phrase = _AMOUNT_AFTER.get(stop.after, "a time, such as 30 s")
        if terminal in ("AT_END", "AT_HOME") and "PRESSED" not in stop.accepts:
            phrase = f"'{terminal.lower().replace('_', '-')}'"
        if phrase:
            phrases.setdefault(phrase)
    return _listed(list(phrases))


def _listed(phrases: list[str]) -> str:
    return " or ".join(filter(None, [", ".join(phrases[:-1]), phrases[-1] if phrases else ""]))
