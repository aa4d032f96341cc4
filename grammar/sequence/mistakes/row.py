"""A row of the table of mistakes, and the patterns that rows share."""

from __future__ import annotations

import re
from dataclasses import dataclass

from grammar.sequence.words import NUMBER, UNITS, WORDS

__all__ = ["AMOUNT", "COMMAND", "KEYWORD", "LENGTH", "NAME", "UNIT", "Mistake"]


@dataclass(frozen=True, slots=True)
class Mistake:
    """``message`` and ``cure`` may name groups of the pattern in braces. ``example`` shows it: a clause,
    and what belongs under it.

    An ``early`` row is tried before misspelt words are looked for, the others after. ``instead`` is what would make
    sense in the place of ``at``, where that is sure enough to read on with: it may name groups, too.
    """

    code: str
    pattern: str
    message: str
    cure: str
    example: str
    early: bool = True
    instead: str | None = None


def _any(words: set[str]) -> str:
    return "(?:" + "|".join(re.escape(w) for w in sorted(words, key=lambda w: (-len(w), w))) + r")(?![\w/-])"


UNIT = _any(set(UNITS))
# A word that is only ever one of three or more may well be a name: FEED, SPEED.
KEYWORD = _any({w for row in WORDS for p in row.phrases if p.count(" ") < 2 for w in p.split()} | {"fault"})
AMOUNT = rf"{NUMBER} *{UNIT}"
LENGTH = r"(?:(?:mm|cm|m|in|inch|inches)(?![\w/-])|″)"
NAME = rf"(?!{KEYWORD})[\w-]*[^\W\d_][\w-]*"
COMMAND = r"(?:extend|retract|advance|return|turn|switch|hold|wait|drop)(?![\w-])"
