"""The words of the sequence language, in one table: lark's terminals, their synonyms and how messages speak of them.

The first phrase of a row is the one ``format`` writes. A blank in a phrase stands for blanks or a hyphen. Letter
case is ignored. Only the first phrases' words are kept from being device names: START, OUT and STOP must stay names.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

__all__ = ["NUMBER", "UNITS", "WORDS", "Kind", "Word", "dimension", "keywords", "reserved", "terminals", "unit"]


class Kind:
    """How a message speaks of a group of words when any of them would do."""

    COMMAND = "a command (extend, retract, hold, wait, turn on, turn off, run, stop, count)"
    BLOCK = "a block (together, if, repeat)"
    STATE = "a state (pressed, held, released, made, on, off, open, closed, at-end, at-home, at-rest)"
    DEVICE = "a device (cylinder, pushbutton, selector, sensor, lamp, horn, motor, counter, signal)"
    PART = "a line of a cylinder (bore, rod, stroke, flow, a valve, a limit switch)"
    RULE = "a rule (cycle, routine, when, home when, never, always, whenever)"
    CONTACT = "'normally open' or 'normally closed'"
    RATING = "what it works with (pressure, load, friction, a shift time)"
    PUMP = "a line of a pump (displacement, speed, pressure, an efficiency)"


@dataclass(frozen=True, slots=True)
class Word:
    """A terminal of the grammar. A name that starts with ``_`` is not kept in the parse tree.

    ``reserved``: no device may be called by its first phrase.
    """

    terminal: str
    phrases: tuple[str, ...]
    kind: str = ""
    reserved: bool = True

    @property
    def told(self) -> str:
        """How a message names this word where it is expected."""
        return self.kind or f"'{self.phrases[0]}'"


def _w(terminal: str, *phrases: str, kind: str = "", reserved: bool = True) -> Word:
    return Word(terminal, phrases, kind, reserved)


WORDS: tuple[Word, ...] = (
    # devices
    _w("_MACHINE", "machine", reserved=False),
    _w("HYDRAULIC", "hydraulic", "oil", kind=Kind.DEVICE),
    _w("PNEUMATIC", "pneumatic", "air", kind=Kind.DEVICE),
    _w("_CYLINDER", "cylinder", reserved=False),
    _w("_PUMP", "pump", reserved=False),
    _w("PUSHBUTTON", "pushbutton", "push button", "button", "PB", kind=Kind.DEVICE, reserved=False),
    _w("SELECTOR", "selector", "selector switch", "maintained switch", kind=Kind.DEVICE, reserved=False),
    _w("SENSOR", "sensor", "proximity switch", "proximity sensor", "prox", kind=Kind.DEVICE, reserved=False),
    _w("LAMP", "lamp", "pilot light", "indicator light", "light", kind=Kind.DEVICE, reserved=False),
    _w("HORN", "horn", "buzzer", "siren", kind=Kind.DEVICE, reserved=False),
    _w("MOTOR", "motor", kind=Kind.DEVICE, reserved=False),
    _w("ELECTRIC", "electric", kind=Kind.DEVICE, reserved=False),
    _w("_COUNTER", "counter", kind=Kind.DEVICE, reserved=False),
    _w("_SIGNAL", "signal", kind=Kind.DEVICE, reserved=False),
    _w("FORWARD", "forward", "forwards", "ahead", reserved=False),
    _w("REVERSE", "reverse", "in reverse", "backward", "backwards", reserved=False),
    _w("NORMALLY_OPEN", "normally open", "NO", "N.O.", kind=Kind.CONTACT),
    _w("NORMALLY_CLOSED", "normally closed", "NC", "N.C.", kind=Kind.CONTACT),
    # lines of a cylinder
    _w("_BORE", "bore", kind=Kind.PART, reserved=False),
    _w("_ROD", "rod", kind=Kind.PART, reserved=False),
    _w("_STROKE", "stroke", kind=Kind.PART, reserved=False),
    _w("_FLOW", "flow", kind=Kind.PART, reserved=False),
    _w("_OF", "of", reserved=False),
    _w(
        "_SINGLE_SOLENOID", "single solenoid valve", "single solenoid spring return valve", "spring return valve",
        "spring return single solenoid valve", "spring return solenoid valve", "single solenoid", "solenoid valve",
        kind=Kind.PART,
    ),
    _w("SPRING_RETURN", "spring return", "spring returned", "with spring return"),
    _w(
        "_DOUBLE_SOLENOID", "double solenoid valve", "double solenoid memory valve", "double solenoid",
        "double solenoid valve with memory", "memory valve", kind=Kind.PART,
    ),
    _w(
        "_THREE_POSITION", "three position valve", "3 position valve", "three position spring centred valve",
        "three position spring centered valve", "spring centred three position valve",
        "spring centered three position valve", "spring centred valve", "spring centered valve",
        "3 position spring centred valve", "three position double solenoid valve", "three position", kind=Kind.PART,
    ),
    _w("CLOSED_CENTRE", "closed centre", "closed center", "blocked centre", "blocked center", reserved=False),
    _w("TANDEM_CENTRE", "tandem centre", "tandem center", reserved=False),
    _w("FLOAT_CENTRE", "float centre", "float center", "floating centre", "floating center", reserved=False),
    _w("SPRING_CENTRED", "spring centred", "spring centered", reserved=False),
    _w("RAPID_SOLENOID", "rapid solenoid", "rapid feed solenoid", "fast solenoid", kind=Kind.PART),
    _w("REGENERATIVE_SOLENOID", "regenerative solenoid", "regeneration solenoid", kind=Kind.PART),
    _w("SINGLE_ACTING", "single acting", kind=Kind.PART),
    _w("NORMALLY_EXTENDED", "normally extended", "rests extended", kind=Kind.PART),
    _w(
        "_LIMIT_SWITCH", "limit switch", "limit switches", "end switch", "position switch", kind=Kind.PART,
    ),
    _w("_PRESSURE_SWITCH", "pressure switch", kind=Kind.PART),
    _w("_RESET_TRAVEL", "reset travel", "differential travel"),
    _w("_AT", "at"),
    _w("AT_END", "at end", "at the end", "at end of stroke", kind=Kind.STATE),
    _w("AT_HOME", "at home", "at the home end", kind=Kind.STATE),
    _w("_IN", "in", reserved=False),
    _w("_TO", "to", reserved=False),
    _w("EXTENDS", "extends", "advances"),
    _w("RETRACTS", "retracts", "returns"),
    _w("EXTENDING", "extending", "on extending", reserved=False),
    _w("RETRACTING", "retracting", "on retracting", reserved=False),
    # what a cylinder works with, and the lines of a pump
    _w("_PRESSURE", "pressure", kind=Kind.RATING, reserved=False),
    _w("_LOAD", "load", kind=Kind.RATING, reserved=False),
    _w("LIFTED", "lifted", "hoisted", reserved=False),
    _w("_FRICTION", "friction", kind=Kind.RATING, reserved=False),
    _w("VOLUMETRIC", "volumetric", kind=Kind.PUMP, reserved=False),
    _w("OVERALL", "overall", "total", kind=Kind.PUMP, reserved=False),
    _w("_EFFICIENCY", "efficiency", kind=Kind.RATING, reserved=False),
    _w("_SHIFT_TIME", "valve shift time", "shift time", "valve shifts in", kind=Kind.RATING),
    _w("_CUSHION_TIME", "cushion time", "cushions take", kind=Kind.RATING),
    _w("_TUBE", "tube", "tube volume", "tubes", "tubing", "hose", kind=Kind.RATING, reserved=False),
    _w("_BY", "by", reserved=False),
    _w("_GIVE_OR_TAKE", "give or take", "plus or minus", "tolerance"),
    _w("_DISPLACEMENT", "displacement", kind=Kind.PUMP, reserved=False),
    _w("_SPEED", "speed", kind=Kind.PUMP, reserved=False),
    _w("_CASE_DRAIN", "case drain", "case leakage", kind=Kind.PUMP),
    _w("PRESSURE_COMPENSATED", "pressure compensated", kind=Kind.PUMP),
    _w("FIXED_DISPLACEMENT", "fixed displacement", kind=Kind.PUMP),
    # the cycle
    _w("_CYCLE", "cycle", kind=Kind.RULE, reserved=False),
    _w("_STATION", "station", reserved=False),
    _w("_ROUTINE", "routine", kind=Kind.RULE, reserved=False),
    _w("_TOGETHER", "together", "in parallel", "side by side", kind=Kind.BLOCK),
    _w("_MEANWHILE", "meanwhile", "and meanwhile", "at the same time", kind=Kind.BLOCK),
    _w("_IF", "if", kind=Kind.BLOCK),
    _w("UNLESS", "unless", kind=Kind.BLOCK),
    _w("_OTHERWISE", "otherwise", "else", kind=Kind.BLOCK),
    _w("_REPEAT", "repeat", kind=Kind.BLOCK, reserved=False),
    _w("_TIMES", "times", "time", reserved=False),
    _w("_COUNTED_BY", "counted by"),
    _w("_AGAIN_WHILE", "again while", "and again while", "begin again while", "cycle again while"),
    _w("_DO", "do", "carry out", kind=Kind.COMMAND, reserved=False),
    _w("RAPIDLY", "rapidly", "fast", "quickly", "at rapid speed", reserved=False),
    _w("EXTEND", "extend", "advance", "out", "forward", kind=Kind.COMMAND),
    _w("RETRACT", "retract", "return", "back", "withdraw", kind=Kind.COMMAND),
    _w("HOLD", "hold", "dwell", "pause", kind=Kind.COMMAND),
    _w("WAIT", "wait", kind=Kind.COMMAND),
    _w("TURN_ON", "turn on", "switch on", "energise", "energize", "start", kind=Kind.COMMAND),
    _w("TURN_OFF", "turn off", "switch off", "de-energise", "de-energize", kind=Kind.COMMAND),
    _w("_HALT", "stop", "halt", kind=Kind.COMMAND, reserved=False),
    _w("_RUN", "run", kind=Kind.COMMAND, reserved=False),
    _w("_COUNT", "count", kind=Kind.COMMAND, reserved=False),
    _w("CLEAR", "clear", "reset", kind=Kind.COMMAND, reserved=False),
    _w("_TURN", "turn", "switch", kind=Kind.COMMAND),
    _w("_UNTIL", "until"),
    _w("FOR", "for"),
    _w("_WITHIN", "within"),
    _w("_OR_FAULT", "or fault", "else fault", "or else fault", "otherwise fault"),
    _w("_THEN", "then", "and then"),
    _w("_THE", "the", reserved=False),
    # conditions
    _w("_AND", "and"),
    _w("_OR", "or"),
    _w("NOT", "not"),
    _w("_IS", "is", reserved=False),
    _w("IS_NOT", "is not", "isn't", "is n't"),
    _w("_AFTER", "after"),
    _w("_HAS_REACHED", "has reached", "have reached", "reached", "reaches", "is at least"),
    _w("HAS_NOT_REACHED", "has not reached", "have not reached", "hasn't reached", "is below", "is less than"),
    _w("AT_REST", "at rest", kind=Kind.STATE),
    _w("PRESSED", "pressed", "pushed", "depressed", kind=Kind.STATE),
    _w("HELD", "held", "held down", "kept pressed", kind=Kind.STATE),
    _w("RELEASED", "released", "let go", kind=Kind.STATE),
    _w("MADE", "made", "actuated", "operated", "true", kind=Kind.STATE),
    _w("UNMADE", "false", "unmade", "not made", kind=Kind.STATE, reserved=False),
    _w("ON", "on", kind=Kind.STATE),
    _w("OFF", "off", kind=Kind.STATE),
    _w("OPEN", "open", kind=Kind.STATE),
    _w("CLOSED", "closed", kind=Kind.STATE),
    _w("EXTENDED", "extended", "fully extended", kind=Kind.STATE, reserved=False),
    _w("RETRACTED", "retracted", "fully retracted", kind=Kind.STATE, reserved=False),
    # rules
    _w("_HOME_WHEN", "home when", "home is when", kind=Kind.RULE),
    _w("_NEVER", "never", kind=Kind.RULE),
    _w("_ALWAYS", "always", kind=Kind.RULE),
    _w("_WHENEVER", "whenever", "every time", "each time", kind=Kind.RULE),
    _w("_LEADS_TO", "leads to", "lead to", "must lead to"),
    _w("_WHILE", "while"),
    _w("_WHEN", "when", kind=Kind.RULE),
    _w(
        "WHEN_FAULT", "when a fault is shown", "when any fault is shown", "when a fault shows", "on a fault",
        "on fault",
        kind=Kind.RULE,
    ),
    _w("_ONLY_WHILE", "only while", "only when", "only if"),
    _w("_WITH", "with", "together with", reserved=False),
    _w(
        "FINISH_STEP", "finish the stroke", "finish the step", "finish stroke", "complete the stroke",
        "complete the step",
    ),
    _w("RETURN_HOME", "return home", "go home"),
    _w(
        "FINISH_CYCLE", "stop at end of cycle", "stop at the end of the cycle", "stop at the end of cycle",
        "finish the cycle", kind=Kind.RULE,
    ),
    _w("_FAULT_RESET_BY", "a fault is reset by", "faults are reset by", "a fault is cleared by", kind=Kind.RULE),
    _w(
        "_FAULT_RESET_WHEN", "a fault is reset when", "faults are reset when", "a fault is cleared when",
        kind=Kind.RULE,
    ),
    _w("DROP_OUT", "drop out everything", "drop everything out", "drop out all", "drop everything"),
)  # fmt: skip

_DIMENSIONS: dict[str, dict[str, tuple[str, ...]]] = {
    "length": {
        "mm": ("millimetre", "millimetres", "millimeter", "millimeters"),
        "cm": ("centimetre", "centimetres", "centimeter", "centimeters"),
        "m": ("metre", "metres", "meter", "meters"),
        "in": ("inch", "inches", "in.", "″"),
    },
    "pressure": {"bar": (), "psi": (), "MPa": (), "kPa": ()},
    "flow": {
        "L/min": ("l/min", "lpm", "litre/min", "litres/min", "liter/min", "liters/min"),
        "gpm": ("gal/min",),
    },
    "time": {
        "us": ("µs", "μs", "microsecond", "microseconds"),
        "ms": ("msec", "millisecond", "milliseconds"),
        "s": ("sec", "sec.", "secs", "second", "seconds"),
        "min": ("min.", "mins", "minute", "minutes"),
        "h": ("hr", "hrs", "hour", "hours"),
    },
    "force": {"N": ("newton", "newtons"), "kN": (), "lbf": ("pound-force",)},
    "mass": {"kg": ("kilogram", "kilograms"), "lb": ("lbs", "pound", "pounds")},
    "volume": {
        "L": ("litre", "litres", "liter", "liters"),
        "cm3": ("cm³", "cc"),
        "in3": ("in³", "cubic inch", "cubic inches"),
    },
    "displacement": {"cm3/rev": ("cm³/rev", "cc/rev"), "in3/rev": ("in³/rev",)},
    "turns": {"rpm": ("rev/min", "r/min")},
    "share": {"%": ("percent", "per cent")},
}
UNITS: dict[str, str] = {
    spelling.casefold(): name
    for units in _DIMENSIONS.values()
    for name, others in units.items()
    for spelling in (name, *others)
}
"""Every spelling of a unit, letter case folded, and its canonical one."""

NUMBER = r"(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_NOT_INSIDE = r"(?![\w-])"
# A name is lexed widely and judged later, so that an odd character in it gets a message of its own: anything but
# blanks and signs, hyphens inside, at least one letter, and none of the small words that join others.
_EDGE = r"[^\s!-/:-@\[-^`{-~″]"
_INNER = r"[^\s!-,./:-@\[-^`{-~″]"
_NAME = rf"(?!(?:to|in|is|of)(?![\w-]))(?={_INNER}*[^\W\d_]){_EDGE}(?:{_INNER}*{_EDGE})?"

# In letters a sign ends the name. Where nothing parts the moves, a name is one letter and digits: A+B+B-A-.
_MOVE = r"(?:[^\W\d_][0-9]*[ ]*[+-]|(?=[\w-]*[^\W\d_])\w+(?:-\w+)*[ ]*[+-](?!\w))"


def unit(spelling: str) -> str:
    """The canonical spelling of a unit. Raises KeyError if it is none."""
    return UNITS[spelling.casefold()]


@cache
def dimension(name: str) -> str:
    """What a canonical unit measures: length, pressure, time and so on. Raises KeyError if it is no unit."""
    for kind, units in _DIMENSIONS.items():
        if name in units:
            return kind
    raise KeyError(name)


@cache
def reserved() -> frozenset[str]:
    """The words no device may be called by, letter case folded."""
    return frozenset(w.phrases[0].casefold().replace(" ", "-") for w in WORDS if w.reserved)


@cache
def keywords() -> dict[str, tuple[str, ...]]:
    """Every single word of every phrase, letter case folded, and the terminals that can begin with it."""
    found: dict[str, list[str]] = {}
    for word in WORDS:
        for phrase in word.phrases:
            found.setdefault(phrase.split()[0].casefold(), []).append(word.terminal)
    return {k: tuple(v) for k, v in found.items()}


def terminals() -> str:
    """The table as terminal definitions of a lark grammar. Longer phrases win over shorter, words over names."""
    lines = [f"{w.terminal}.{10 + max(p.count(' ') for p in w.phrases)}: /{_whole(w)}/i" for w in WORDS]
    spellings = "|".join(re.escape(u).replace("/", r"\/") for u in sorted(UNITS, key=lambda u: (-len(u), u)))
    lines.append(rf"QUANTITY.30: /{NUMBER}[ ]*(?:{spellings})(?:(?<=[.″])|(?![\w\/-]))/i")
    lines.append(rf"NUMBER.2: /{NUMBER}(?![^\W\d]|[-]\w)/")
    lines.append(r"WHOLE.3: /[0-9]{1,6}(?![\w.,-])/")
    lines.append("MOVE.4: /" + _MOVE.replace("/", r"\/") + "/")
    lines.append(r"_BAR: /[\/|]/")
    lines.append("NAME.1: /" + _NAME.replace("/", r"\/") + "/")
    lines.append(r'TEXT: /"[^"\n]*"/')
    return "\n".join(lines) + "\n"


# Commands whose words devices are often called by: "turn on BUSY and RUN", "RESET only while AUTO is on". They are
# commands where a name follows, or where they stand alone.
_OFTEN_NAMES = {"_DO", "_HALT", "_RUN", "_COUNT", "CLEAR"}
_JOINING = "(?:until|for|within|and|or|then|only|with|at|extends|retracts|forward|reverse)"


def _whole(word: Word) -> str:
    plain = _pattern(word.phrases)
    if word.terminal not in _OFTEN_NAMES:
        return plain
    return rf"(?:{plain}(?= +(?!{_JOINING}{_NOT_INSIDE})\S)|(?<!and ){plain}(?= *$))"


def _pattern(phrases: tuple[str, ...]) -> str:
    parts = sorted(phrases, key=lambda p: (-len(p), p))
    return (
        "(?:"
        + "|".join(re.escape(p).replace(r"\ ", "[ -]+").replace(r"\-", "[ -]?") for p in parts)
        + ")"
        + _NOT_INSIDE
    )
