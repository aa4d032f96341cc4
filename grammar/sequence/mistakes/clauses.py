"""Mistakes in single clauses: signs, quantities, requirements, words left out or one too many."""

from __future__ import annotations

from grammar.sequence.mistakes.row import AMOUNT, COMMAND, KEYWORD, LENGTH, NAME, UNIT, Mistake
from grammar.sequence.words import NUMBER

__all__ = ["CLAUSES"]

_WHENEVER = r"(?:whenever|every +time|each +time|after(?! *[0-9.]))(?![\w-])"
_LEADING = rf"(?:{_WHENEVER}.*?(?:,|(?<![\w-])then(?![\w-]))|.* leads? +to(?![\w-]))"
_ITS_TIME = r"(?<![\w-])within(?![\w-])"
_UNITS_TOLD = "ms s min h, mm cm m in, bar psi MPa kPa, L/min gpm, N kN lbf, kg lb"

CLAUSES: tuple[Mistake, ...] = (
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
    Mistake("RW144", r"(?P<at>:)$", "a line ends without a colon", "delete it", "cycle:\n    hold 1 s", instead=""),
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
        r"(?P<at>&&?|\|\|?|!|==?|[<>]=?|\*|\+)",
        "'{at}' is no word of this language",
        "say it in words: and, or, not, is, has reached",
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
        rf"(?P<at>{NUMBER}(?:[ -]+[0-9]+)? */ *[0-9]+)(?= *(?:{LENGTH}|$))",
        "a fraction is written as a decimal",
        "0.5 for 1/2, 1.25 for 1-1/4",
        "bore 1-1/2 in",
    ),
    Mistake(
        "RW147",
        rf"(?P<at>{AMOUNT}(?:(?: and)? +{AMOUNT})+)",
        "a quantity is one number and one unit",
        "90 s for 1 min 30 s",
        "hold 1 min 30 s",
    ),
    Mistake(
        "RW148",
        rf"^(?:extend|retract|advance|return)(?: +{NAME})? +(?:to|by|for) +(?P<at>{NUMBER} *{LENGTH})",
        "a stroke ends at a switch or after a time, not at a length",
        "put a limit switch at {at} and say: until that switch is made",
        "extend to 50 mm",
    ),
    Mistake(
        "RW149",
        rf"(?<![\w.-])(?P<at>{NUMBER}) *(?P<word>(?!{UNIT}|{KEYWORD})[^\W\d_]+)(?![\w-])(?! *\d)",
        "'{word}' is no unit that is known",
        f"{{at}} with one of: {_UNITS_TOLD}",
        "hold 30 sceonds",
    ),
    Mistake(
        "RW149",
        rf"(?:for|hold|dwell|pause|wait|after|within|in|to)(?: +for)? +(?P<at>{NUMBER})(?= *$| +{KEYWORD})",
        "{at} has no unit",
        "{at} s",
        "hold 12",
    ),
    Mistake(
        "RW149",
        rf"^(?:extend|retract|advance|return)(?: +{NAME})? +(?P<at>{NUMBER})$",
        "{at} has no unit, and how long a command lasts is said with 'for'",
        "for {at} s",
        "extend 5",
    ),
    Mistake(
        "RW149",
        rf"(?:bore|rod|stroke|at|travel)(?: +of)? +(?P<at>{NUMBER})(?![\w.])(?! *{UNIT})(?= *$| )",
        "{at} has no unit",
        "{at} mm",
        "bore 80",
    ),
    Mistake("RW149", rf"^flow(?: +of)? +(?P<at>{NUMBER}) *$", "{at} has no unit", "{at} L/min", "flow 12"),
    # words left out, or one too many
    # requirements
    Mistake(
        "RW154",
        rf"^{_LEADING}(?! *{COMMAND})(?!.*{_ITS_TIME}) *(?P<at>.+)$",
        "how soon this must be so is not said",
        "{at} within 10 s",
        "whenever START is pressed, X is at-end",
    ),
    Mistake(
        "RW154",
        rf"^(?:never|always) .* (?P<at>within +{AMOUNT})$",
        "from when this time counts is not said",
        "say what it follows: whenever START is pressed, RAM is at-end {at}",
        "always X is at-end within 10 s",
    ),
    Mistake(
        "RW155",
        rf"^{_LEADING} *(?P<at>{COMMAND})",
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
        rf"^(?P<at>after) +(?P<time>{AMOUNT})",
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
        rf"^(?P<at>{NAME} +(?:is|isn't|has|hasn't|reached|reaches)(?![\w-]).*)$",
        "a condition by itself says nothing",
        "wait until {at}",
        "LS1 is made",
    ),
    Mistake(
        "RW151",
        rf"(?P<before>(?<![\w-]){NAME} +(?:is|isn't)(?: +not)?) +(?P<at>home|end|rest)(?![\w-])",
        "'at-' is missing before '{at}'",
        "{before} at-{at}",
        "home when X is home",
    ),
    Mistake(
        "RW151",
        rf"^(?P<at>{NAME}) +(?P<verb>extend|retract|advance|return)(?![\w-])",
        "what is to be done comes first",
        "{verb} {at}",
        "PLATEN extend",
    ),
    Mistake(
        "RW152",
        r"^(?P<at>limit switch|pressure switch) +(?:at|on)(?![\w-]).*$",
        "the switch has no name before its place",
        "limit switch LS1 at end",
        "limit switch at end",
    ),
    Mistake(
        "RW151",
        rf"^(?:bore|rod|stroke|flow)(?: +of)? +{AMOUNT} +(?P<at>bore|rod|stroke|flow|extends|retracts)(?![\w-])",
        "a comma is missing before '{at}'",
        "a comma or a new line before '{at}'",
        "bore 25 mm rod 10 mm",
    ),
    Mistake(
        "RW152",
        rf"^(?P<at>switch)(?P<rest> +{NAME} +at(?![\w-]).*)$",
        "what kind of switch it is, is not said",
        "limit switch{rest}  or  pressure switch{rest}",
        "switch LS1 at home",
    ),
    Mistake(
        "RW152",
        rf"^(?:limit switch +)?{NAME} +(?:on +)?(?P<at>end|home)(?![\w-])",
        "'at' is missing before '{at}'",
        "at {at}",
        "limit switch LS1 end",
    ),
    Mistake(
        "RW153",
        rf"^(?:turn|switch) +(?:on|off) +(?:the +)?{NAME} +(?P<at>lamp|light|horn|motor|valve|cylinder)$",
        "what kind of device it is was said where it was declared",
        "leave '{at}' out",
        "turn on the BUSY lamp",
        early=False,
    ),
    Mistake(
        "RW153",
        rf"^(?:extend|retract|turn +on|turn +off) +(?P<name>{NAME}) +(?P<at>{NAME})",
        "names that are commanded together are joined with 'and'",
        "{name} and {at}",
        "extend CLAMP FEED",
        early=False,
    ),
    Mistake(
        "RW153",
        rf"^(?:lamp|horn|motor|sensor|selector|pushbutton) +(?P<name>{NAME}) +(?P<at>{NAME})",
        "names are parted with a comma",
        "{name}, {at}",
        "lamp BUSY READY",
        early=False,
    ),
)
