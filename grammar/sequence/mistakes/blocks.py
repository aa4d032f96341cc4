"""Mistakes in blocks, letters and numbers of times."""

from __future__ import annotations

from grammar.sequence.mistakes.row import COMMAND, NAME, UNIT, Mistake
from grammar.sequence.words import NUMBER

__all__ = ["BLOCKS"]

BLOCKS: tuple[Mistake, ...] = (
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
        "RW151",
        r"^(?:if|unless|otherwise +if|else +if)(?![\w-]).* (?P<at>then)$",
        "'then' is followed by a step on the same line",
        "delete it; steps in the lines below belong to the block as they stand",
        "if PART is made then\n    hold 1 s",
        instead="",
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
        rf"^(?:repeat|.* (?:reached|reaches|least|below|than)) +(?![1-9][0-9]{{0,5}} +times?:$)"
        rf"(?P<at>-? *{NUMBER})(?![\w-])(?! *{UNIT})",
        "{at} is no whole number from 1 to 999999",
        "a whole number in digits: 12",
        "repeat 2.5 times",
    ),
    Mistake(
        "RW165",
        rf"(?P<name>{NAME}) +(?:is|equals) +(?P<at>[0-9]+)(?= *$| )",
        "a counter is asked whether it has reached a number",
        "{name} has reached {at}",
        "wait until X is 12",
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
        rf"^do +(?P<at>{COMMAND}.*)$",
        "'do' is followed by the name of a routine; a command stands by itself",
        "{at}",
        "do extend X",
    ),
    Mistake(
        "RW153",
        rf"^(?:extend|retract) +(?:the +)?{NAME}(?: +and +{NAME})+ +(?P<at>rapidly|fast|quickly)(?![\w-])",
        "it is not plain which of them moves rapidly",
        "say it of each: extend A rapidly and extend B rapidly",
        "extend CLAMP and X rapidly",
    ),
    Mistake(
        "RW151",
        rf"^cycle +(?P<at>{NAME})$",
        "'of' is missing before the name of the station",
        "cycle of {at}",
        "cycle LOADER\n    hold 1 s",
        instead="of {at}",
    ),
    Mistake(
        "RW151",
        rf"^(?P<name>{NAME}) +(?P<at>only)(?! +while)(?![\w-])",
        "what is enforced at all times is said with 'only while' and a condition",
        "{name} only while GUARD is closed",
        "SOL1 only until LS1",
        early=False,
    ),
    Mistake(
        "RW151",
        rf"^do +(?P<name>{NAME}) +and +(?P<at>{NAME})",
        "routines are done one after another",
        "do {name} then do {at}",
        "do CLAMP and X",
    ),
    Mistake(
        "RW146",
        rf"^(?:{NAME} *[+-] +)+(?P<at>{NAME})$",
        "{at} has no sign: {at}+ moves it out, {at}- back",
        "{at}+ or {at}-",
        "A+ B",
    ),
    Mistake(
        "RW146",
        rf"{NAME} *[+-].*(?P<at>\( *\))",
        "nothing moves in this bracket",
        "delete it",
        "A+ () B-",
    ),
    Mistake(
        "RW146",
        rf"\([^()]*(?P<at>\()[^()]*{NAME} *[+-]",
        "no bracket stands in another: what is in one bracket moves together",
        "delete it",
        "A+ ((B+ C+)) A-",
    ),
    Mistake(
        "RW146",
        rf"(?<![\w.-])(?P<at>{NAME}[+-])(?![\w+=-])(?!.*[&|!=<>*])",
        "moves in letters stand by themselves, with no other word between them",
        "A+ B+ B- A-, on a line of their own",
        "A+ then B+",
    ),
)
