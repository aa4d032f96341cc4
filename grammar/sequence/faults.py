"""What ``rungwright explain`` tells of messages about the words of a sequence. Each example shows its own fault."""

from __future__ import annotations

from grammar.diagnostic import Entry, Severity
from grammar.sequence.mistakes.faults import ENTRIES as HABITS

__all__ = ["ENTRIES"]

_F, _W = Severity.FAULT, Severity.WARNING


def _fault(code: str, title: str, why: str, example: str, cure: str) -> Entry:
    return Entry(code, _F, title, why, example, cure)


_READING = (
    _fault(
        "RW101",
        "Words that do not follow each other",
        "Up to the underlined word the line makes sense; that word can't come next. The message lists what can.",
        "extend until at-end at-home",
        "Look at what was expected, or put a comma or a new line before the word.",
    ),
    _fault(
        "RW102",
        "A word that is not understood",
        "The line would make sense with another word in its place, which the message names.",
        "extend unitl at-end",
        "Correct the spelling.",
    ),
    _fault(
        "RW103",
        "Something is missing at the end",
        "The line stops where more must follow. A condition can't go on to the next line.",
        "extend until",
        "Add what was expected.",
    ),
    _fault(
        "RW104",
        "A line that begins with an unknown word",
        "Every line begins with a device, a part of a cylinder, a command or a rule.",
        "xyzzy LS1",
        "Correct the spelling, or look at a starter file: rungwright new.",
    ),
)

_JOINING = (
    _fault(
        "RW120",
        "A line of a cylinder or a pump without one",
        "Bores, valves and limit switches belong to the cylinder above them, displacements to the pump.",
        "lamp BUSY\nbore 80 mm",
        "Put it in the lines under its cylinder, or under hydraulic pump.",
    ),
    _fault(
        "RW121",
        "It continues something that is not there",
        "Some clauses belong to the one before them: a contact to its switch, a time limit to its step.",
        'lamp BUSY\nwithin 8 s or fault "late"',
        "Put it right after what it belongs to.",
    ),
    _fault(
        "RW122",
        "'when' in the wrong place",
        "In a cycle 'when' says what starts it, once, before the first step.",
        "cycle\n    extend\n    when START is pressed\n    retract",
        "To wait in the middle of a cycle say: wait until START is pressed.",
    ),
    _fault(
        "RW123",
        "A valve without its two solenoids",
        "One solenoid extends the cylinder, the other retracts it, and both must be named.",
        "hydraulic cylinder A\n    double solenoid valve SOL1A extends",
        "double solenoid valve SOL1A extends, SOL1B retracts",
    ),
    _fault(
        "RW124",
        "On a fault things can only be turned on",
        "A fault stops the cycle with everything off. What shows the fault is turned on; nothing moves.",
        "when a fault is shown, extend PLATEN",
        "when a fault is shown, turn on ALARM",
    ),
    _fault(
        "RW125",
        "A cycle with no steps",
        "A cycle must do something.",
        "cycle\nlamp BUSY",
        "Write its steps under it, indented.",
    ),
    _fault(
        "RW126",
        "A step that ends twice",
        "One thing ends a step, and one time limit watches over it. Join conditions with 'and' or 'or'.",
        'extend, within 2 s or fault "a", within 3 s or fault "b"',
        "Delete one of the two.",
    ),
    _fault(
        "RW127",
        "A time limit without a fault",
        "When the time is over, a message must say what did not happen: it is read by whoever stands at the machine.",
        "extend until at-end, within 8 s",
        'within 8 s or fault "platen did not reach the hide"',
    ),
    Entry(
        "RW128",
        _W,
        "Indentation that misleads",
        "What belongs to a cylinder or a cycle is indented under it, and nothing else is. Rungwright goes by the "
        "words, a reader goes by the shape.",
        "hydraulic cylinder A\nbore 80 mm",
        "Indent by four blanks; 'rungwright format' does it.",
    ),
    _fault(
        "RW129",
        "A switch in the wrong place",
        "A limit switch stands at an end or at a length from home; a pressure switch stands at a pressure, and only "
        "it belongs to a direction of the stroke.",
        "hydraulic cylinder A\n    limit switch LS1 at 6 bar",
        "limit switch LS1 at end  or  pressure switch PS1 at 6 bar",
    ),
)

_BLOCKS = (
    _fault(
        "RW156",
        "A line that starts at no column of the lines above",
        "What is indented under a block belongs to it. A line between two columns could belong to either.",
        "repeat 3 times\n        extend\n    retract",
        "Start it at the column of the line it follows.",
    ),
    _fault(
        "RW157",
        "A block with nothing in it",
        "'together', 'if', 'repeat', a routine and the way home say what is done, or done when. Something must be.",
        "repeat 3 times\nextend",
        "Write its steps under it, indented by four blanks.",
    ),
    _fault(
        "RW158",
        "'meanwhile' or 'otherwise' that goes on with nothing",
        "They stand at the same column as the 'together' or the 'if' they go on with, and an 'otherwise' without a "
        "condition is the last.",
        "extend\nmeanwhile\n    retract",
        "Begin with 'together' or 'if' at the same column.",
    ),
    _fault(
        "RW159",
        "A block in the middle of a line",
        "Where a block begins in the middle of a line it is not plain where it ends.",
        "extend, repeat 3 times, hold 1 s",
        "Begin a new line with it.",
    ),
    _fault(
        "RW160",
        "Too many blocks inside one another",
        "Nobody can follow more than a dozen. A routine gives what is inside a name.",
        "\n".join("    " * k + "repeat 2 times" for k in range(13)) + "\n" + "    " * 13 + "hold 1 s",
        "Put the inner steps into a routine, and say do and its name.",
    ),
    _fault(
        "RW161",
        "'together' with one line of work",
        "Steps under one 'together' come one after another, as everywhere. What goes on at the same time stands "
        "under 'meanwhile'.",
        "together\n    extend A\n    extend B",
        "Put 'meanwhile' between, or give commands in one step: extend A and B.",
    ),
    _fault(
        "RW162",
        "'again while' in the wrong place",
        "It ends a cycle: while its condition holds the cycle begins anew without its trigger.",
        "cycle\n    again while AUTO is on\n    extend",
        "Make it the last line of the cycle. Inside a cycle say repeat while, or repeat until.",
    ),
    _fault(
        "RW163",
        "A motor without its two directions",
        "A motor that runs both ways has a solenoid or a contactor for each. One that runs one way is just a motor.",
        "hydraulic motor WINCH, SOL5 forward",
        "hydraulic motor WINCH, SOL5 forward, SOL6 reverse",
    ),
    _fault(
        "RW167",
        "Tabs among blanks where blocks go by indentation",
        "With tabs of another width the line would belong to another block, and two people would see two machines.",
        "if PART is made\n\textend\n    retract",
        "Indent with four blanks throughout.",
    ),
    _fault(
        "RW164",
        "Which way a motor runs",
        "A motor that runs both ways is told which way, each time.",
        "hydraulic motor WINCH, SOL5 forward, SOL6 reverse\nrun WINCH for 3 s",
        "run WINCH forward  or  run WINCH in reverse",
    ),
    _fault(
        "RW165",
        "How often?",
        "A number of times, and what a counter reaches, is a whole number from 1 to 999999, in digits.",
        "repeat 0 times\n    hold 1 s",
        "repeat 5 times, repeat until PART is made, or repeat while PART is made",
    ),
    _fault(
        "RW166",
        "A letter twice in one bracket",
        "Moves in one bracket are made at the same time, and no rod moves twice or both ways at once.",
        "A+ (B+ B-) A-",
        "Put them one after another: A+ B+ B- A-",
    ),
)

_NAMES = (
    _fault(
        "RW130",
        "A word of the language as a name",
        "A device can't be called by a word that means something else in a line, or by what reads as a quantity.",
        "lamp until",
        "Choose another name, or add a digit.",
    ),
    _fault(
        "RW131",
        "A character no name can have",
        "A name is made of letters of any alphabet, digits, _ and -. It goes onto terminals and drawings.",
        "lamp BUSY✓",
        "Leave the character out.",
    ),
    _fault(
        "RW132",
        "A name that is too long",
        "A name must fit a drawing and a terminal label.",
        "lamp " + "L" * 41,
        "Shorten it to forty characters or fewer.",
    ),
    _fault(
        "RW133",
        "An empty text",
        "A title or the message of a fault is read by people.",
        'extend, within 8 s or fault ""',
        "Say what did not happen.",
    ),
    _fault(
        "RW134",
        "Two names that look alike",
        "They are spelt with letters of different alphabets that are drawn alike: nobody could tell them apart.",
        "lamp \u0410\u0412\nlamp AB",
        "Type both with the same letters, or rename one.",
    ),
    _fault(
        "RW135",
        "A name after 'hold' or 'wait'",
        "Holding and waiting are done by the whole machine.",
        "hold and PLATEN",
        "Leave the name out, or say what it is to do: extend PLATEN.",
    ),
    _fault(
        "RW136",
        "A step that waits twice",
        "'hold' and 'wait' mean the same: commands stay as they are until the time or the condition.",
        "hold and wait",
        "Say it once.",
    ),
    _fault(
        "RW137",
        "A time without 'for'",
        "After a stroke a bare number could be a time, a length or a speed. 'for' says that it is how long.",
        "extend 5 s",
        "extend for 5 s",
    ),
)

ENTRIES: tuple[Entry, ...] = (*_READING, *_JOINING, *_BLOCKS, *_NAMES, *HABITS)
"""Every code RW1xx that reading a sequence may raise."""
