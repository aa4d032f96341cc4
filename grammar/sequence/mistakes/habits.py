"""Words of the trade that this language says with others: what a line or a command would begin with elsewhere."""

from __future__ import annotations

from grammar.sequence.mistakes.row import AMOUNT, NAME, Mistake

__all__ = ["HABITS"]

HABITS: tuple[Mistake, ...] = (
    Mistake(
        "RW169",
        rf"^(?P<at>delay)(?P<rest> +(?:for +)?{AMOUNT})$",
        "a time is held, or waited for",
        "hold{rest}",
        "delay 2 s",
        instead="hold",
    ),
    Mistake(
        "RW169",
        rf"^(?P<at>increment|increase|inc)(?P<rest> +{NAME})$",
        "one more on a counter is said with 'count'",
        "count{rest}",
        "increment X",
        instead="count",
    ),
    Mistake(
        "RW169",
        rf"^(?P<at>count +up)(?P<rest> +{NAME})$",
        "counters count up, and nothing else",
        "count{rest}",
        "count up X",
        instead="count",
    ),
    Mistake(
        "RW169",
        rf"^(?P<at>decrement|decrease|count +down)(?: +{NAME})$",
        "counters count up, and nothing else",
        "let it count up from 0, and ask whether it has reached the number",
        "count down X",
    ),
    Mistake(
        "RW169",
        r"^(?P<at>output|load|coil)(?P<rest> +[\w-]+)$",
        "what is switched is named by what it is",
        "lamp{rest}  or  horn{rest}  or  motor{rest}; a solenoid with its valve, under its cylinder",
        "output HORN1",
    ),
    Mistake(
        "RW169",
        r"^(?P<at>input|contact)(?P<rest> +[\w-]+)$",
        "what is looked at is named by what it is",
        "pushbutton{rest}  or  selector{rest}  or  sensor{rest}; a limit switch under its cylinder",
        "input PART",
    ),
    Mistake(
        "RW169",
        r"^(?P<at>[0-9]/[0-9](?:[ -]way)?) +valve(?![\w-]).*$",
        "a valve is named by what holds it where it is",
        "single solenoid valve Y1, spring return  or  double solenoid valve Y1 extends, Y2 retracts",
        "5/2 valve Y1",
    ),
    Mistake(
        "RW169",
        r"^(?P<at>on) +(?P<name>[\w-]+)$",
        "what starts a cycle is said with 'when'",
        "when {name} is pressed",
        "on X",
    ),
    Mistake(
        "RW169",
        r"^(?P<at>start)$",
        "a button by itself says nothing",
        "when START is pressed",
        "START",
    ),
    Mistake(
        "RW169",
        rf"^(?P<at>{NAME}) +(?P<verb>on|off)$",
        "what is to be done comes first",
        "turn {verb} {at}",
        "X off",
    ),
    Mistake(
        "RW169",
        rf"^(?:extend|retract|advance|return)(?: +{NAME})? +(?P<at>to) +(?P<name>{NAME})$",
        "where a stroke ends is said with 'until'",
        "until {name} is made",
        "extend X to LS1",
    ),
    Mistake(
        "RW169",
        rf"(?P<name>{NAME}) *(?P<at>>=|==?) *(?P<number>[0-9]+)(?= *$| )",
        "a counter is asked whether it has reached a number",
        "{name} has reached {number}",
        "wait until X >= 12",
        instead=" has reached ",
    ),
)
