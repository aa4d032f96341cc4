"""Mistakes people make by habit, each with the words that show it and its own message.

A row is tried only on a clause that could not be read. The first row that fits speaks; the part of its pattern
called ``at`` is underlined. The examples are wrong on purpose: the tests read every one of them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from grammar.sequence.words import NUMBER, UNITS

__all__ = ["MISTAKES", "Mistake", "find"]


@dataclass(frozen=True, slots=True)
class Mistake:
    """``message`` and ``cure`` may name groups of the pattern in braces. ``example`` shows it; see the tests."""

    code: str
    pattern: str
    message: str
    cure: str
    example: str

    @property
    def compiled(self) -> re.Pattern[str]:
        """The pattern, letter case ignored."""
        return _compiled(self.pattern)


@cache
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern, re.IGNORECASE)


_UNIT = "(?:" + "|".join(re.escape(u) for u in sorted(UNITS, key=len, reverse=True)) + r")(?![\w/-])"
_AMOUNT = rf"{NUMBER} *{_UNIT}"
_TIMES = "(?:us|ms|s|sec|secs|seconds?|min|mins|minutes?|h|hours?)"
_LENGTHS = r"(?:mm|cm|m|in|inch|inches)(?![\w/-])|″"

MISTAKES: tuple[Mistake, ...] = (
    Mistake(
        "RW140", r"^(?P<at>if|otherwise|else|unless)(?![\w-])(?! *fault)",
        "'{at}' is not read yet: a cycle is one row of steps", "wait until a condition holds", "if PART is made",
    ),
    Mistake(
        "RW140", r"^(?P<at>repeat|loop|count|together|meanwhile|parallel|at the same time)(?![\w-])",
        "'{at}' is not read yet: a cycle is one row of steps, one after another",
        "write the steps out, or give commands together with 'and'", "repeat 3 times",
    ),
    Mistake(
        "RW141", r"(?P<at>three[ -]position|3[ -]position|spring[ -]cent(?:er|re)d|cent(?:er|re)[ -]closed)",
        "valves with three positions are not read yet",
        "single solenoid valve SOL1, spring return - or - double solenoid valve SOL1A extends, SOL1B retracts",
        "three-position valve SOL1A extends",
    ),
    Mistake(
        "RW142", r"^(?P<at>double[ -]acting)",
        "a cylinder is double-acting unless it is said to be single-acting", "leave it out", "double-acting",
    ),
    Mistake(
        "RW143", r"^(?P<at>cylinder)(?![\w-])(?P<rest>.*)$",
        "what moves the cylinder is not said", "hydraulic cylinder{rest} - or - pneumatic cylinder{rest}",
        "cylinder PLATEN",
    ),
    Mistake("RW144", r"(?P<at>:)$", "a line ends without a colon", "delete it", "cycle:"),
    Mistake("RW144", r"(?P<at>;)", "a semicolon parts nothing here", "use a comma or a new line", "extend; retract"),
    Mistake("RW144", r"[\w)\"](?P<at>\.)$", "a line ends without a full stop", "delete it", "retract until at-home."),
    Mistake(
        "RW145", r"(?P<at>'[^']*')", "a text stands in double quotes", 'write it as "..."',
        "machine 'Hide press'",
    ),
    Mistake(
        "RW145", r'^machine +(?P<at>[^" ][^"]*)$', "the machine's title is a text in double quotes",
        'machine "{at}"', "machine Hide press",
    ),
    Mistake(
        "RW145", r'(?:or|else|otherwise) +fault +(?P<at>[^" ][^"]*)$', "the fault's message is a text in double quotes",
        'or fault "{at}"', "within 8 s or fault no end",
    ),
    Mistake(
        "RW146", r"(?P<at>&&?|\|\|?|!|==?|<>|\*|\+)",
        "'{at}' is no word of this language", "say it in words: and, or, not, is", "wait until LS1 && LS2",
    ),
    Mistake(
        "RW147", rf"(?<![\w-])(?P<at>-[ ]*{NUMBER})", "a quantity has no sign", "write it without the minus",
        "hold -5 s",
    ),
    Mistake(
        "RW147", rf"(?P<at>{NUMBER}(?:[ -]+[0-9]+)? */ *[0-9]+)(?= *(?:{_LENGTHS}|$))",
        "a fraction is written as a decimal", "write 0.5 for 1/2, 1.25 for 1-1/4", "bore 1-1/2 in",
    ),
    Mistake(
        "RW147", rf"(?P<at>{_AMOUNT}(?:(?: and)? +{_AMOUNT})+)",
        "a quantity is one number and one unit", "write 90 s for 1 min 30 s", "hold 1 min 30 s",
    ),
    Mistake(
        "RW148", rf"^(?:extend|retract|advance|return)(?: +[^\W\d][\w-]*)?(?: +(?:to|by|for))? +(?P<at>{NUMBER} *(?:{_LENGTHS}))",
        "a stroke ends at a switch or after a time, not at a length",
        "put a limit switch at {at} and say: extend until LS3", "extend to 50 mm",
    ),
    Mistake(
        "RW149", rf"(?<![\w.-])(?P<at>{NUMBER}) +(?P<word>(?!to\b|and\b|or\b|for\b|until\b|within\b|is\b|then\b)[^\W\d_]+)(?! *\d)",
        "'{word}' is no unit Rungwright knows", "write {at} with one of: ms s min h, mm cm m in, bar psi MPa kPa, L/min gpm",
        "hold 30 sceonds",
    ),
    Mistake(
        "RW149", rf"(?:for|hold|dwell|pause|wait|after|within|in|to)(?: +for)? +(?P<at>{NUMBER})(?= *$| +(?:or|and|to|is|then)\b)",
        "{at} has no unit", "{at} s", "hold 12",
    ),
    Mistake(
        "RW149", rf"(?:bore|rod|stroke|at|travel)(?: +of)? +(?P<at>{NUMBER})(?= *$| +)", "{at} has no unit", "{at} mm",
        "bore 80",
    ),
    Mistake("RW149", rf"(?:flow)(?: +of)? +(?P<at>{NUMBER}) *$", "{at} has no unit", "{at} L/min", "flow 12"),
    Mistake(
        "RW149", rf"(?<![\w.-])(?P<at>{NUMBER}(?P<word>[^\W\d_]+))(?![\w-])", "'{word}' is no unit Rungwright knows",
        "write the number with one of: ms s min h, mm cm m in, bar psi MPa kPa, L/min gpm", "hold 30sceonds",
    ),
    Mistake(
        "RW150", r'(?P<at>or +fault) *"', "a fault needs a time: it comes when something took too long",
        'within 8 s or fault "..."', 'extend until LS1 or fault "stuck"',
    ),
    Mistake(
        "RW151", r"^(?:wait|hold) +(?P<at>for) +(?P<rest>[^\W\d].*)$", "'for' is followed by a time",
        "wait until {rest}", "wait for PART",
    ),
    Mistake(
        "RW151", r"^when +(?P<rest>.*?[^\W\d_]) +(?P<at>extend|retract|turn|hold)\b.*$",
        "a comma is missing before '{at}'", "when {rest}, {at} ...", "when START is pressed extend",
    ),
    Mistake(
        "RW152", r"^(?P<at>limit switch|pressure switch)(?: +[^\W\d_]\w*)? +(?:at|on)(?![\w-]).*$",
        "the switch has no name before its place", "limit switch LS1 at end", "limit switch at end",
    ),
)  # fmt: skip


def find(text: str) -> tuple[Mistake, re.Match[str]] | None:
    """The first row that fits a clause, and where."""
    if len(text) > _LONGEST:
        return None
    for row in MISTAKES:
        found = row.compiled.search(_without_texts(text) if row.code != "RW145" and '"' in text else text)
        if found:
            return row, found
    return None


_LONGEST = 1000
"""Longer clauses are not looked at: no habit makes them, and patterns take time."""


def _without_texts(text: str) -> str:
    """The clause with the insides of its texts blanked, so that what is quoted can't look like a mistake."""
    return re.sub(r'"[^"]*"', lambda m: '"' + " " * (len(m[0]) - 2) + '"', text)
