"""What can be wrong with a rung list: every code, with the words ``rungwright explain`` gives for it."""

from __future__ import annotations

from grammar.diagnostic import Diagnostic, Entry, Severity
from grammar.source import Span

__all__ = ["ENTRIES", "fault", "warning"]

_FAULT, _WARNING = Severity.FAULT, Severity.WARNING

ENTRIES: tuple[Entry, ...] = (
    Entry(
        "RW401", _FAULT, "a line of the rung list is not understood",
        "The words are known but do not stand in an order that means something.",
        "rung 1: START CR1, feeds CR2",
        "put a comma between contacts in series and 'or' between contacts side by side",
    ),
    Entry(
        "RW402", _FAULT, "a contact or a coil of a device that is not declared",
        "Only what is plain needs no declaration: inputs and loads of the machine at hand, and a relay whose coil "
        "and contacts both stand in the list. Anything else may be a slip of the pen.",
        "rung 1: STRAT, feeds CR1",
        "correct the name, or declare the device at the top",
    ),
    Entry(
        "RW403", _FAULT, "a coil is fed from two rungs",
        "Two rungs feeding one coil act as one hidden parallel branch; on paper nobody sees it.",
        "rung 1: START, feeds CR1 / rung 2: LS1, feeds CR1",
        "put the two networks side by side in one rung with 'or'",
    ),
    Entry(
        "RW404", _FAULT, "the device has no contact of that form",
        "Only timers have timed contacts: NOTC and NCTO on an on-delay, NOTO and NCTC on an off-delay. A one-shot "
        "timer's contacts follow its pulse and are written NO and NC.",
        "rung 2: CR1 NCTO, feeds SOL1",
        "use NO or NC, or the timed form that fits the timer",
    ),
    Entry(
        "RW405", _FAULT, "a contact of a load",
        "A solenoid, lamp, horn, motor or contactor has a coil but no contacts.",
        "rung 2: SOL1, feeds BUSY",
        "use a contact of the relay that feeds it, or feed both from one rung",
    ),
    Entry(
        "RW406", _FAULT, "an unknown unit of time",
        "A preset needs a unit: us, ms, s, min or h.",
        "timer TR1, on-delay 30 ticks",
        "write for example 30 s",
    ),
    Entry(
        "RW407", _FAULT, "a rung that feeds nothing",
        "Every rung ends with 'feeds' and the coil or load at its right-hand end.",
        "rung 3: CR1, LS1",
        "end the rung with for example 'feeds CR1'",
    ),
    Entry(
        "RW408", _FAULT, "brackets do not pair",
        "Every opening bracket needs its closing one in the same rung.",
        "rung 1: (START and LS2 or CR1, feeds CR1",
        "add the missing bracket or take the odd one out",
    ),
    Entry(
        "RW409", _FAULT, "a decimal comma",
        "A comma separates things here, so a fraction is written with a point.",
        "timer TR1, on-delay 2,5 s",
        "write 2.5 s",
    ),
    Entry(
        "RW410", _WARNING, "a tab in the text",
        "How wide a tab is depends on who looks; here it stands for one blank.",
        "a rung continued on a line that starts with a tab",
        "indent with blanks",
    ),
    Entry(
        "RW411", _FAULT, "a typographic quote",
        "Word processors change straight quotes into curly ones.",
        "circuit “Press”",
        'type " on both sides',
    ),
    Entry(
        "RW412", _FAULT, "a character that has no place in a rung list",
        "Names are made of letters, digits, _ and -; anything else stands between quotes or in a comment.",
        "rung 1: START/STOP, feeds CR1",
        "write what the message names in its place, or take it out; write # before a comment",
    ),
    Entry(
        "RW413", _FAULT, "a name is declared twice",
        "Letter case does not tell names apart, so LS1 and ls1 are one name.",
        "relay CR1 / timer cr1, on-delay 5 s",
        "give one of the two another name",
    ),
    Entry(
        "RW414", _FAULT, "a rung number is used twice",
        "Cross-references point at rung numbers.",
        "rung 2: ... / rung 2: ...",
        "number the rungs 1, 2, 3 from the top",
    ),
    Entry(
        "RW415", _FAULT, "brackets or masters nest too deep",
        "A network that deep can't be drawn or checked by eye.",
        "more than 20 brackets, or 8 masters, inside one another",
        "give part of the network a relay of its own",
    ),
    Entry(
        "RW416", _FAULT, "a rung feeds an input device",
        "A pushbutton, selector, sensor or switch is moved by a hand or the machine, not by a rung.",
        "rung 1: CR1, feeds LS1",
        "feed a relay, a timer or a load",
    ),
    Entry(
        "RW417", _WARNING, "a relay, timer, counter or load that no rung feeds",
        "It will never be on. A latching relay without its unlatch coil fed stays latched for ever, a counter "
        "without its reset counts to its preset once.",
        "relay CR7 declared, and no rung feeds CR7",
        "add its rung, or take out the declaration",
    ),
    Entry(
        "RW418", _FAULT, "a device is not connected the way it needs",
        "An on-delay timer needs its coil fed, or its supply. An off-delay takes its coil, or supply and control. A "
        "one-shot always needs both: the supply keeps it alive, the control starts the pulse. A latching relay is "
        "fed at 'latch' and 'unlatch', a counter at 'count' and 'reset'; all else has one coil.",
        "timer TR1, one-shot 5 s / rung 1: START, feeds TR1",
        "feed 'TR1 supply' from one rung and 'TR1 control' from another",
    ),
    Entry(
        "RW419", _FAULT, "a preset out of range",
        "A time is at least 1 us and at most 10,000 h, in whole microseconds; a count is from 1 to 999,999.",
        "timer TR1, on-delay 0 s",
        "give the timer a time",
    ),
    Entry(
        "RW420", _FAULT, "no rungs",
        "The text holds no line that starts with 'rung'.",
        "an empty file",
        "write for example: rung 1: START or CR1, STOP NC, feeds CR1",
    ),
    Entry(
        "RW421", _FAULT, "a quote is not closed",
        "Quoted words end on the line they start on.",
        'circuit "Press',
        'end the words with "',
    ),
    Entry(
        "RW422", _FAULT, "too many faults",
        "Only the first hundred are told.",
        "a file that is not a rung list",
        "correct these first; is it the right file?",
    ),
    Entry(
        "RW423", _FAULT, "a line that starts with an unknown word",
        "A line starts with 'circuit', 'rung', 'master', 'end master' or the kind of device it declares; a line that "
        "goes on with the rung above is indented.",
        "pushbuton START",
        "correct the word, or indent the line",
    ),
    Entry(
        "RW424", _FAULT, "a second title",
        "A rung list is one circuit.",
        'circuit "A" / circuit "B"',
        "keep one of the two",
    ),
    Entry(
        "RW425", _FAULT, "a device the machine does not have",
        "The rung list is read against a machine; its inputs and loads are the machine's.",
        "limit switch LS9, and no LS9 on the machine",
        "correct the name, or add the device to the machine",
    ),
    Entry(
        "RW426", _FAULT, "a name that means something else on the machine",
        "A rung list and its machine share their names, so a relay can't bear the name of a solenoid.",
        "relay SOL1, and SOL1 is a solenoid of the machine",
        "declare it as what it is, or give one of the two another name",
    ),
    Entry(
        "RW427", _FAULT, "a master and its end do not pair",
        "A master stands above the rungs that are fed through its contacts, and 'end master' below them.",
        "master CR1: / rung 1: LS1, feeds SOL1",
        "write 'end master' below the last rung of the group",
    ),
    Entry(
        "RW428", _FAULT, "a selector with more than two positions",
        "A selector here is one contact block that a hand turns on or off, because the machine knows two positions.",
        "selector SS1, positions HAND, OFF, AUTO",
        "declare one selector for each position that closes a contact: selector SS1-HAND, SS1-AUTO",
    ),
    Entry(
        "RW429", _WARNING, "a timer whose time nothing waits for",
        "NO and NC of an on-delay or off-delay follow its coil at once; only its timed contacts wait. A timer of "
        "which only NO and NC are used could as well be a relay, so most likely the form was left out.",
        "timer TR1, on-delay 30 s / rung 2: TR1, feeds SOL1",
        "write TR1 NOTC where the contact closes after the time, TR1 NCTO where it opens",
    ),
    Entry(
        "RW430", _WARNING, "a stop that makes",
        "The machine has the button as normally closed, which a stop is so that a broken wire stops too. A bare name "
        "is still a NO contact, one that makes while the button is pressed: in series with the rest of a rung it "
        "lets the coil pick up only while somebody presses the stop. Nothing is said where NC of it stands in any "
        "rung, or where the contact stands alone or beside others, as one that asks for a press does.",
        "pushbutton STOP, normally closed / rung 1: START or CR1, STOP, feeds CR1",
        "write STOP NC for the contact that a stop circuit wants",
    ),
)  # fmt: skip


def fault(code: str, message: str, start: int, end: int, *, expected: str = "", cure: str = "") -> Diagnostic:
    """A fault about the words from ``start`` to ``end``."""
    return Diagnostic(code, Severity.FAULT, message, Span(start, max(start + 1, end)), expected, cure)


def warning(code: str, message: str, start: int, end: int, *, expected: str = "", cure: str = "") -> Diagnostic:
    """A warning about the words from ``start`` to ``end``."""
    return Diagnostic(code, Severity.WARNING, message, Span(start, max(start + 1, end)), expected, cure)
