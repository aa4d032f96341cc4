"""What ``rungwright explain`` tells of mistakes people make by habit. Each example shows its own fault."""

from __future__ import annotations

from grammar.diagnostic import Entry, Severity

__all__ = ["ENTRIES"]


def _fault(code: str, title: str, why: str, example: str, cure: str) -> Entry:
    return Entry(code, Severity.FAULT, title, why, example, cure)


ENTRIES: tuple[Entry, ...] = (
    _fault(
        "RW140",
        "A block said in words of another language",
        "What is indented under 'if', 'repeat' or 'together' belongs to it, and nothing closes it but the next line "
        "that is not. No step jumps to another.",
        "if PART is made\n    hold 1 s\nend if",
        "Delete what closes the block; repeat steps with 'repeat', and use them twice with 'routine' and 'do'.",
    ),
    _fault(
        "RW141",
        "A three-position valve without its one centre",
        "With both solenoids off springs bring the valve to its centre. A closed or a tandem centre holds the "
        "cylinder where it is; with a float centre it is free, and a load may move it.",
        "hydraulic cylinder A\n    three-position valve SOL1 extends, SOL2 retracts",
        "three-position valve SOL1 extends, SOL2 retracts, closed centre",
    ),
    _fault(
        "RW142",
        "'double-acting' says nothing",
        "A cylinder is moved both ways by oil or air unless it is said to be single-acting.",
        "hydraulic cylinder A\n    double-acting",
        "Leave it out.",
    ),
    _fault(
        "RW143",
        "A cylinder moved by what?",
        "Oil and air give different stroke times and different advice.",
        "cylinder PLATEN",
        "hydraulic cylinder PLATEN  or  pneumatic cylinder PLATEN",
    ),
    _fault(
        "RW144",
        "A sign at the end",
        "Lines end by themselves, and commas part what stands on one line.",
        "cycle:\n    extend",
        "Delete the sign.",
    ),
    _fault(
        "RW145",
        "A text without double quotes",
        "Titles and messages of faults stand in double quotes, so that any word can be in them.",
        "machine Hide press",
        'machine "Hide press"',
    ),
    _fault(
        "RW146",
        "A sign from another language",
        "Conditions are said in words.",
        "wait until LS1 && LS2",
        "wait until LS1 and LS2",
    ),
    _fault(
        "RW147",
        "A number in another form",
        "A quantity is one number, with a point for decimals, and one unit. It has no sign, fraction or second unit.",
        "hold 1 min 30 s",
        "hold 90 s",
    ),
    _fault(
        "RW148",
        "A stroke to a length",
        "The control can't see how far a rod is; it sees a switch, or it waits for a time.",
        "extend to 50 mm",
        "Put a limit switch at 50 mm and extend until it is made.",
    ),
    _fault(
        "RW149",
        "A number without a unit that is known",
        "Seconds or milliseconds, millimetres or inches: nothing is guessed.",
        "hold 12",
        "Times: us ms s min h. Lengths: mm cm m in. Pressures: bar psi MPa kPa. Flows: L/min gpm.",
    ),
    _fault(
        "RW150",
        "A fault without a time",
        "A fault comes when something took too long.",
        'extend until LS1 or fault "stuck"',
        'extend until LS1, within 8 s or fault "stuck"',
    ),
    _fault(
        "RW151",
        "Words in the wrong order",
        "A command comes before what it moves; 'for' is followed by a time and 'until' by a condition; a condition "
        "stays on one line; what happens when something is pressed follows a comma.",
        "wait for PART",
        "wait until PART is made",
    ),
    _fault(
        "RW152",
        "A switch without its name or its 'at'",
        "A switch has a name, and stands at a place or a pressure.",
        "hydraulic cylinder A\n    limit switch LS1 end",
        "limit switch LS1 at end",
    ),
    _fault(
        "RW153",
        "Names side by side",
        "Names that are commanded together are joined with 'and', names that are declared together are parted with "
        "commas, and the kind of a device is said once, where it is declared.",
        "extend CLAMP FEED",
        "extend CLAMP and FEED",
    ),
    _fault(
        "RW154",
        "How soon, and from when?",
        "What must follow something must follow it within a time; without one, 'not yet' would never be wrong. What "
        "must never or always be so has no time to count.",
        "whenever START is pressed, RAM is at-end",
        "whenever START is pressed, RAM is at-end within 10 s",
    ),
    _fault(
        "RW155",
        "A requirement commands nothing",
        "What must be so, 'never', 'always' and 'whenever', is checked in every run of the build. It moves nothing, "
        "and it is not there when the machine works.",
        "whenever START is pressed, extend RAM",
        "Command it in the cycle, and require what is seen: whenever START is pressed, RAM is at-end within 10 s",
    ),
    _fault(
        "RW169",
        "A word that belongs to other languages",
        "It is plain what is meant, and one way to say it is enough: the message names the words.",
        "counter X\nincrement X",
        "Say it in the words that the message names.",
    ),
)
