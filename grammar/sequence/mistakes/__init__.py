"""Mistakes people make by habit, each with the words that show it and its own message.

A row is tried only on a clause that could not be read, the first that fits speaks, and the part of its pattern
called ``at`` is underlined. The examples are wrong on purpose: the tests read every one of them.
"""

from __future__ import annotations

import re
from functools import cache

from grammar.sequence.mistakes.blocks import BLOCKS
from grammar.sequence.mistakes.clauses import CLAUSES
from grammar.sequence.mistakes.habits import HABITS
from grammar.sequence.mistakes.row import Mistake

__all__ = ["MISTAKES", "Mistake", "find"]

MISTAKES: tuple[Mistake, ...] = (*BLOCKS, *HABITS, *CLAUSES)
"""The whole table, in the order in which its rows are tried."""


@cache
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern, re.IGNORECASE)


def find(clause: str, *, early: bool) -> tuple[Mistake, re.Match[str]] | None:
    """The first row that fits a clause, and where. What is quoted can't look like a mistake."""
    unquoted = re.sub(r'"[^"]*"', lambda m: '"' + " " * (len(m[0]) - 2) + '"', clause)
    for row in MISTAKES:
        found = _compiled(row.pattern).search(unquoted) if row.early is early else None
        if found:
            return row, found
    return None
