"""The words of the rung language, as data: what is read, what is written, how messages speak."""

from __future__ import annotations

import re

from grammar.rungs.tree import Kind, Terminal, TimerFunction

__all__ = [
    "KEYWORDS",
    "SYNONYMS",
    "UNITS",
    "UNIT_SYNONYMS",
    "function_of",
    "kind_of",
    "plain_name",
    "tell",
    "terminal_of",
]

UNITS = {"us": 1, "ms": 1_000, "s": 1_000_000, "min": 60_000_000, "h": 3_600_000_000}
UNIT_SYNONYMS = {
    "µs": "us",
    "sec": "s",
    "secs": "s",
    "second": "s",
    "seconds": "s",
    "minute": "min",
    "minutes": "min",
    "mins": "min",
    "hour": "h",
    "hours": "h",
} | {unit: unit for unit in UNITS}

SYNONYMS = {
    "push button": Kind.PUSHBUTTON,
    "selector switch": Kind.SELECTOR,
    "end switch": Kind.LIMIT_SWITCH,
    "control relay": Kind.RELAY,
    "latch relay": Kind.LATCHING_RELAY,
    "bistable relay": Kind.LATCHING_RELAY,
    "time relay": Kind.TIMER,
    "timing relay": Kind.TIMER,
} | {str(kind): kind for kind in Kind}

# A name that is one of these words is written in quotes; the other words of the language may be names as they are.
KEYWORDS = frozenset(["feeds", "feed", "or", "and", "no", "nc", "notc", "ncto", "noto", "nctc"])

_PHRASES = {
    "CIRCUIT": "'circuit'",
    "RUNG": "'rung'",
    "MASTER": "'master'",
    "END": "'end master'",
    "TIMER": "'timer'",
    "COUNTER": "'counter'",
    "PRESET": "'preset'",
    "KIND": "what the device is",
    "FUNCTION": "on-delay, off-delay, one-shot or retriggerable one-shot",
    "FEEDS": "'feeds' and what the rung feeds",
    "TERMINAL": "a terminal such as 'supply' or 'reset'",
    "FORM": "a contact form such as NC",
    "OR": "'or'",
    "AND": "'and'",
    "TIME": "a time such as 30 s",
    "NUMBER": "a number",
    "WORD": "a name",
    "QUOTED": "a text in quotes",
    "SEP": "a comma",
    "COLON": "a colon",
    "LPAR": "an opening bracket",
    "RPAR": "a closing bracket",
    "$END": "the end of the line",
}
_PLAIN = re.compile(r"\w[\w-]*")
_NUMBER_LIKE = re.compile(r"[0-9]+(us|µs|ms|s|secs?|min|h)?", re.IGNORECASE)


def kind_of(words: str) -> Kind:
    """The kind a declaring word or its synonym stands for. Raises KeyError for other words."""
    return SYNONYMS[" ".join(words.casefold().split())]


def function_of(words: str) -> TimerFunction:
    """The timer function as written, hyphen or blank. Raises ValueError for other words."""
    plain = " ".join(words.casefold().split())
    for loose in ("on delay", "off delay", "one shot"):
        plain = plain.replace(loose, loose.replace(" ", "-"))
    return TimerFunction(plain)


def terminal_of(word: str) -> Terminal:
    """The terminal a word stands for. Raises ValueError for other words."""
    folded = word.casefold()
    return Terminal.LATCH if folded == "set" else Terminal(folded)


def plain_name(name: str) -> bool:
    """Whether a name can stand without quotes."""
    return (
        _PLAIN.fullmatch(name) is not None
        and _NUMBER_LIKE.fullmatch(name) is None
        and name.casefold() not in KEYWORDS
    )


def tell(terminals: set[str]) -> str:
    """What the parser would have taken, in plain words, in a fixed order; at most five things."""
    names = {"WORD" if t == "QUOTED" and "WORD" in terminals else t for t in terminals}
    phrases = [phrase for terminal, phrase in _PHRASES.items() if terminal in names][:5]
    return phrases[0] if len(phrases) == 1 else ", ".join(phrases[:-1]) + " or " + phrases[-1] if phrases else ""
