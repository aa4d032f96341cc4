"""Mistakes people make by habit, each with the words that show it and its own message.

A row is tried only on a clause that could not be read, the first that fits speaks, and the part of its pattern
called ``at`` is underlined. The examples are wrong on purpose: the tests read every one of them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from grammar.sequence.words import NUMBER, UNITS, WORDS

__all__ = ["MISTAKES", "Mistake", "find"]


@dataclass(frozen=True, slots=True)
class Mistake:
    """``message`` and ``cure`` may name groups of the pattern in braces. ``example`` is a clause that shows it.

    An ``early`` row is tried before misspelt words are looked for, the others after.
    """

    code: str
    pattern: str
    message: str
    cure: str
    example: str
    early: bool = True


@cache
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern, re.IGNORECASE)


def _any(words: set[str]) -> str:
    return "(?:" + "|".join(re.escape(w) for w in sorted(words, key=lambda w: (-len(w), w))) + r")(?![\w/-])"


_UNIT = _any(set(UNITS))
# A word that is only ever one of three or more may well be a name: FEED, SPEED.
_KEYWORD = _any({w for row in WORDS for p in row.phrases if p.count(" ") < 2 for w in p.split()} | {"fault"})
_AMOUNT = rf"{NUMBER} *{_UNIT}"
_LENGTH = r"(?:(?:mm|cm|m|in|inch|inches)(?![\w/-])|″)"
_NAME = rf"(?!{_KEYWORD})[\w-]*[^\W\d_][\w-]*"
_WHENEVER = r"(?:whenever|every +time|each +time|after(?! *[0-9.]))(?![\w-])"
_LEADING = rf"(?:{_WHENEVER}.*?(?:,|(?<![\w-])then(?![\w-]))|.* leads? +to(?![\w-]))"
_COMMAND = r"(?:extend|retract|advance|return|turn|switch|hold|wait|drop)(?![\w-])"
_ITS_TIME = r"(?<![\w-])within(?![\w-])"
_UNITS_TOLD = "ms s min h, mm cm m in, bar psi MPa kPa, L/min gpm"

MISTAKES: tuple[Mistake, ...] = (
    # blocks
    Mistake(
        "RW140",
        r"^(?P<at>(?:end|next|done|fi)(?: *(?:if|repeat|together|meanwhile|cycle|routine|while|loop))?)$",
        "nothing closes a block but the next line that is not indented under it",
        "delete it",
        "end if",
    ),
    Mistake(
        "RW140",
        r"^(?P<at>el(?:se)?if)(?![\w-])",
        "'{at}' is said in two words here",
        "otherwise if",
        "elif PART is made",
    ),
    Mistake(
        "RW140",
        r"^(?P<at>loop|while)(?![\w-])",
        "steps are done again with 'repeat', not with '{at}'",
        "repeat 5 times, repeat until PART is made, or repeat while PART is made",
        "while PART is made",
    ),
    Mistake(
        "RW140",
        r"^(?P<at>go *to|jump(?: to)?)(?![\w-])(?! +home$)",
        "no step jumps to another",
        "repeat, if and otherwise say what comes next; a routine is used more than once",
        "goto 3",
    ),
    Mistake(
        "RW165",
        r"^(?P<at>repeat(?: +forever| +always)?)$",
        "how often is not said",
        "repeat 5 times, repeat until PART is made - or, as the last line of a cycle, again while AUTO is on",
        "repeat",
    ),
    Mistake(
        "RW165",
        r"^repeat +(?P<at>[0-9]+)$",
        "'times' is missing after the number",
        "repeat {at} times",
        "repeat 3",
    ),
    Mistake(
        "RW165",
        rf"^(?:repeat|.* (?:reached|reaches|least|below|than)) +(?P<at>-? *{NUMBER})(?![\w-])(?! *{_UNIT})",
        "{at} is no whole number from 1 to 999999",
        "a whole number in digits: 12",
        "repeat 2.5 times",
    ),
    Mistake(
        "RW165",
        r"^(?:repeat|.* reached) +(?P<at>once|twice|thrice|(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven"
        r"|twelve)(?: +times?)?)(?![\w-])",
        "numbers are written in digits",
        "repeat 2 times",
        "repeat five times",
    ),
    Mistake(
        "RW151",
        rf"^do +(?P<at>{_COMMAND}.*)$",
        "'do' is followed by the name of a routine; a command stands by itself",
        "{at}",
        "do extend X",
    ),
    Mistake(
        "RW153",
        rf"^(?:extend|retract) +(?:the +)?{_NAME}(?: +and +{_NAME})+ +(?P<at>rapidly|fast|quickly)(?![\w-])",
        "it is not plain which of them moves rapidly",
        "say it of each: extend A rapidly and extend B rapidly",
        "extend CLAMP and X rapidly",
    ),
    Mistake(
        "RW146",
        rf"(?<![\w.-])(?P<at>{_NAME}[+-])(?![\w+=-])(?!.*[&|!=<>*])",
        "moves in letters stand by themselves, with no other word between them",
        "A+ B+ B- A-, on a line of their own",
        "A+ then B+",
    ),
    # what is said otherwise here
    Mistake(
        "RW142",
        r"^(?P<at>double[ -]acting)",
        "a cylinder is double-acting unless it is said to be single-acting",
        "leave it out",
        "double-acting",
    ),
    Mistake(
        "RW143",
        r"^(?P<at>cylinder)(?![\w-])(?P<rest>.*)$",
        "what moves the cylinder is not said",
        "hydraulic cylinder{rest}  or  pneumatic cylinder{rest}",
        "cylinder PLATEN",
    ),
    # signs
    Mistake("RW144", r"(?P<at>:)$", "a line ends without a colon", "delete it", "cycle:"),
    Mistake("RW144", r"(?P<at>;)", "a semicolon parts nothing here", "a comma or a new line", "extend; retract"),
    Mistake("RW144", r"[\w)\"](?P<at>\.)$", "a line ends without a full stop", "delete it", "retract until at-home."),
    Mistake(
        "RW145",
        r"(?P<at>'[^']*')",
        "a text stands in double quotes",
        'the same with " at both ends',
        "machine 'Hide press'",
    ),
    Mistake(
        "RW145",
        r'^machine +(?P<at>[^" ][^"]*)$',
        "the machine's title is a text in double quotes",
        'machine "{at}"',
        "machine Hide press",
    ),
    Mistake(
        "RW145",
        r'(?:or|else|otherwise) +fault +(?P<at>[^" ][^"]*)$',
        "the message of a fault is a text in double quotes",
        'or fault "{at}"',
        "within 8 s or fault no end",
    ),
    Mistake(
        "RW146",
        r"(?P<at>&&?|\|\|?|!|==?|<>|\*|\+)",
        "'{at}' is no word of this language",
        "say it in words: and, or, not, is",
        "wait until LS1 && LS2",
    ),
    # quantities
    Mistake(
        "RW147",
        rf"(?<![\w-])(?P<at>-[ ]*{NUMBER})",
        "a quantity has no sign",
        "the same without the minus",
        "hold -5 s",
    ),
    Mistake(
        "RW147",
        rf"(?P<at>{NUMBER}(?:[ -]+[0-9]+)? */ *[0-9]+)(?= *(?:{_LENGTH}|$))",
        "a fraction is written as a decimal",
        "0.5 for 1/2, 1.25 for 1-1/4",
        "bore 1-1/2 in",
    ),
    Mistake(
        "RW147",
        rf"(?P<at>{_AMOUNT}(?:(?: and)? +{_AMOUNT})+)",
        "a quantity is one number and one unit",
        "90 s for 1 min 30 s",
        "hold 1 min 30 s",
    ),
    Mistake(
        "RW148",
        rf"^(?:extend|retract|advance|return)(?: +{_NAME})? +(?:to|by|for) +(?P<at>{NUMBER} *{_LENGTH})",
        "a stroke ends at a switch or after a time, not at a length",
        "put a limit switch at {at} and say: until that switch is made",
        "extend to 50 mm",
    ),
    Mistake(
        "RW149",
        rf"(?<![\w.-])(?P<at>{NUMBER}) *(?P<word>(?!{_UNIT}|{_KEYWORD})[^\W\d_]+)(?![\w-])(?! *\d)",
        "'{word}' is no unit that is known",
        f"{{at}} with one of: {_UNITS_TOLD}",
        "hold 30 sceonds",
    ),
    Mistake(
        "RW149",
        rf"(?:for|hold|dwell|pause|wait|after|within|in|to)(?: +for)? +(?P<at>{NUMBER})(?= *$| +{_KEYWORD})",
        "{at} has no unit",
        "{at} s",
        "hold 12",
    ),
    Mistake(
        "RW149",
        rf"^(?:extend|retract|advance|return)(?: +{_NAME})? +(?P<at>{NUMBER})$",
        "{at} has no unit, and how long a command lasts is said with 'for'",
        "for {at} s",
        "extend 5",
    ),
    Mistake(
        "RW149",
        rf"(?:bore|rod|stroke|at|travel)(?: +of)? +(?P<at>{NUMBER})(?![\w.])(?! *{_UNIT})(?= *$| )",
        "{at} has no unit",
        "{at} mm",
        "bore 80",
    ),
    Mistake("RW149", rf"^flow(?: +of)? +(?P<at>{NUMBER}) *$", "{at} has no unit", "{at} L/min", "flow 12"),
    # words left out, or one too many
    # requirements
    Mistake(
        "RW154",
        rf"^{_LEADING}(?! *{_COMMAND})(?!.*{_ITS_TIME}) *(?P<at>.+)$",
        "how soon this must be so is not said",
        "{at} within 10 s",
        "whenever START is pressed, X is at-end",
    ),
    Mistake(
        "RW154",
        rf"^(?:never|always) .* (?P<at>within +{_AMOUNT})$",
        "from when this time counts is not said",
        "say what it follows: whenever START is pressed, RAM is at-end {at}",
        "always X is at-end within 10 s",
    ),
    Mistake(
        "RW155",
        rf"^{_LEADING} *(?P<at>{_COMMAND})",
        "'{at}' is a command, and this rule only says what must be so",
        "when it starts the cycle, 'when' instead; or what is to be seen: RAM is at-end within 10 s",
        "whenever START is pressed, extend X",
    ),
    Mistake(
        "RW155",
        rf"^(?:{_LEADING}|never |always ).*{_ITS_TIME}.*(?P<at>(?:or|else|otherwise) +fault.*)$",
        "this rule shows no fault: it is checked when the machine is built, not while it works",
        'leave it out, or give the step a time limit: extend until at-end, within 8 s or fault "..."',
        'whenever START is pressed, X is at-end within 8 s or fault "late"',
    ),
    Mistake(
        "RW151",
        rf"^(?P<at>after) +(?P<time>{_AMOUNT})",
        "'after' ends a step; it begins nothing",
        "wait {time}",
        "after 5 s",
    ),
    Mistake(
        "RW150",
        r'(?P<at>or +fault) *"',
        "a fault needs a time: it comes when something took too long",
        'within 8 s or fault "..."',
        'extend until LS1 or fault "stuck"',
    ),
    Mistake(
        "RW151",
        r"^(?:wait|hold) +(?P<at>for) +(?P<rest>[^\W\d].*)$",
        "'for' is followed by a time",
        "wait until {rest}",
        "wait for PART",
    ),
    Mistake(
        "RW151",
        r"^when +(?P<rest>.*?[^\W\d_]) +(?P<at>extend|retract|turn|hold)(?![\w-]).*$",
        "a comma is missing before '{at}'",
        "when {rest}, {at} ...",
        "when START is pressed extend",
    ),
    Mistake(
        "RW151",
        r"^(?P<at>and|or)(?![\w-])(?! *fault)",
        "a line, and what follows a comma, can't begin with '{at}'",
        "put it on the same line as what it continues, without a comma",
        "and LS2 is made",
    ),
    Mistake(
        "RW151",
        rf"^(?P<at>{_NAME} +(?:is|isn't)(?![\w-]).*)$",
        "a condition by itself says nothing",
        "wait until {at}",
        "LS1 is made",
    ),
    Mistake(
        "RW151",
        rf"(?P<before>(?<![\w-]){_NAME} +(?:is|isn't)(?: +not)?) +(?P<at>home|end)(?![\w-])",
        "'at-' is missing before '{at}'",
        "{before} at-{at}",
        "home when X is home",
    ),
    Mistake(
        "RW151",
        rf"^(?P<at>{_NAME}) +(?P<verb>extend|retract|advance|return)(?![\w-])",
        "what is to be done comes first",
        "{verb} {at}",
        "PLATEN extend",
    ),
    Mistake(
        "RW152",
        rf"^(?P<at>limit switch|pressure switch)(?: +{_NAME})? +(?:at|on)(?![\w-]).*$",
        "the switch has no name before its place",
        "limit switch LS1 at end",
        "limit switch at end",
    ),
    Mistake(
        "RW151",
        rf"^(?:bore|rod|stroke|flow)(?: +of)? +{_AMOUNT} +(?P<at>bore|rod|stroke|flow|extends|retracts)(?![\w-])",
        "a comma is missing before '{at}'",
        "a comma or a new line before '{at}'",
        "bore 25 mm rod 10 mm",
    ),
    Mistake(
        "RW152",
        rf"^(?P<at>switch)(?P<rest> +{_NAME} +at(?![\w-]).*)$",
        "what kind of switch it is, is not said",
        "limit switch{rest}  or  pressure switch{rest}",
        "switch LS1 at home",
    ),
    Mistake(
        "RW152",
        rf"^(?:limit switch +)?{_NAME} +(?:on +)?(?P<at>end|home)(?![\w-])",
        "'at' is missing before '{at}'",
        "at {at}",
        "limit switch LS1 end",
    ),
    Mistake(
        "RW153",
        rf"^(?:turn|switch) +(?:on|off) +(?:the +)?{_NAME} +(?P<at>lamp|light|horn|motor|valve|cylinder)$",
        "what kind of device it is was said where it was declared",
        "leave '{at}' out",
        "turn on the BUSY lamp",
        early=False,
    ),
    Mistake(
        "RW153",
        rf"^(?:extend|retract|turn +on|turn +off) +(?P<name>{_NAME}) +(?P<at>{_NAME})",
        "names that are commanded together are joined with 'and'",
        "{name} and {at}",
        "extend CLAMP FEED",
        early=False,
    ),
    Mistake(
        "RW153",
        rf"^(?:lamp|horn|motor|sensor|selector|pushbutton) +(?P<name>{_NAME}) +(?P<at>{_NAME})",
        "names are parted with a comma",
        "{name}, {at}",
        "lamp BUSY READY",
        early=False,
    ),
)


def find(clause: str, *, early: bool) -> tuple[Mistake, re.Match[str]] | None:
    """The first row that fits a clause, and where. What is quoted can't look like a mistake."""
    unquoted = re.sub(r'"[^"]*"', lambda m: '"' + " " * (len(m[0]) - 2) + '"', clause)
    for row in MISTAKES:
        found = _compiled(row.pattern).search(unquoted) if row.early is early else None
        if found:
            return row, found
    return None
