"""Sentences that go on past a comma: ``whenever START is pressed, RAM is at-end within 10 s``.

So does, by mistake, a valve whose two solenoids are only named: ``double solenoid valve SOL1, SOL2``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import reduce

from grammar.layout import Clause
from grammar.sequence.mistakes.row import NAME

__all__ = ["in_letters", "joined", "leads_to"]

# "after 5 s" is a condition; "after START is pressed, ..." says the same as "whenever". A misspelt one is meant too.
_GOES_ON = re.compile(r"(?:wh?e?n\w{0,2}ver|every time|each time|after(?! *[0-9.]))(?![\w-])", re.IGNORECASE)
_LEADS_TO = re.compile(r"[^\"]*(?<![\w-])leads?[ -]+to(?![\w-])", re.IGNORECASE)
_ITS_TIME = re.compile(r"(?<![\w-])within(?![\w-])", re.IGNORECASE)
_VALVE_ALONE = re.compile(
    rf"(?!.*(?:extend|retract))(?:double[ -]solenoid|memory|three[ -]position|3[ -]position)[\w -]* {NAME}",
    re.IGNORECASE,
)
_NAME_ALONE = re.compile(NAME, re.IGNORECASE)
# Moves in letters are names, signs, brackets and bars, and a sign ends each name: "A+ B+ (C+ D+) / B- A-".
_IN_LETTERS = re.compile(r"[\w +()|/,-]+")
_BETWEEN = re.compile(r"[ ()|/,]+")

_MOST = 3
"""What is said, what follows, and its time: a sentence has no more clauses than these."""


def joined(clauses: tuple[Clause, ...]) -> Iterator[Clause]:
    """The clauses of a line, each ``whenever`` together with what follows it, up to its time, and each valve of which
    no more is said than a solenoid's name together with the name that follows it."""
    k = 0
    while k < len(clauses):
        end = k + 1
        if _GOES_ON.match(clauses[k].text):
            near = range(k, min(k + _MOST, len(clauses)))
            end = next((n + 1 for n in near if _ITS_TIME.search(clauses[n].text)), min(k + 2, len(clauses)))
        elif _VALVE_ALONE.fullmatch(clauses[k].text) and end < len(clauses):
            end += _NAME_ALONE.fullmatch(clauses[end].text) is not None
        yield reduce(_with, clauses[k:end])
        k = end


def leads_to(clause: Clause) -> bool:
    """Whether a clause says that one thing leads to another, which is known only in the middle of it."""
    return _LEADS_TO.match(clause.text) is not None


def in_letters(clause: Clause) -> bool:
    """Whether a clause is nothing but moves in letters."""
    if not _IN_LETTERS.fullmatch(clause.text):
        return False
    words = [w for w in _BETWEEN.split(clause.text) if w]
    signed = [w[-1] in "+-" for w in words]
    bare = [w in ("+", "-") for w in words]
    named = any(c.isalpha() for c in clause.text)
    return named and all(s or b for s, b in zip(signed, [*bare[1:], False], strict=True))


def _with(clause: Clause, more: Clause) -> Clause:
    gap = (clause.offsets[-1], more.offsets[0] - 1)  # the comma and a blank
    offsets = (*clause.offsets[:-1], *gap, *more.offsets)
    return Clause(
        f"{clause.text}, {more.text}",
        offsets,
        clause.faulty or more.faulty,
        clause.readable and more.readable,
    )
