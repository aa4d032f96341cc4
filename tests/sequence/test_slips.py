"""Slips as they are typed at a machine: each gets one message, with the words at fault and the cure."""

from __future__ import annotations

import pytest

from compiler.understand import understand
from grammar.diagnostic import Severity
from grammar.source import Source

HEAD = """\
pneumatic cylinder CLAMP
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
pneumatic cylinder GATE
    double solenoid valve SOL2 extends, SOL3 retracts
    limit switch LS3 at end, LS4 at home
sensor PART
lamp BUSY
counter TRAYS
motor FAN
pushbutton START
pushbutton STOP, normally closed
cycle
    when START is pressed
"""
STROKES = "    extend CLAMP, retract CLAMP\n"

# What is typed under the head, the words that are underlined, and words of the cure.
SLIPS = [
    ("    extend CLMP until at-end\n", "CLMP", "did you mean CLAMP?"),
    ("    extend CLAMP to LS1\n    retract CLAMP\n", "to", "until LS1 is made"),
    ("    extend CLAMP 50 mm\n    retract CLAMP\n", "50 mm", "until that switch is made"),
    ("    extend CLAMP until PART is made and\n    retract CLAMP\n", "made and", ""),
    ("    extend CLAMP until (PART is made\n    retract CLAMP\n", "(", "close it with )"),
    ('    extend CLAMP until at-end, within 3 s or alarm "x"\n    retract CLAMP\n', "or", ""),
    ("    extend CLAMP until at-end, within 3 s or fault late\n    retract CLAMP\n", "late", 'or fault "late"'),
    ("    extend CLAMP until at-end within 3 s\n    retract CLAMP\n", "within 3 s", 'or fault "'),
    ("    wait 30\n", "30", "30 s"),
    ("    delay 2 s\n", "delay", "hold 2 s"),
    ("    wait for PART\n", "for", "wait until PART"),
    ("    turn on GREEN, hold 1 s\n    turn off GREEN\n", "GREEN", "declare the device"),
    (f"    BUSY off\n{STROKES}", "BUSY", "turn off BUSY"),
    (f"    run FAN backwards for 2 s\n{STROKES}", "FAN", ""),
    (f"    increment TRAYS\n{STROKES}    clear TRAYS\n", "increment", "count TRAYS"),
    (f"    count up TRAYS\n{STROKES}    clear TRAYS\n", "count up", "count TRAYS"),
    (f"    if TRAYS = 5\n        hold 1 s\n{STROKES}    count TRAYS\n", "=", "TRAYS has reached 5"),
    (f"    if TRAYS >= 5 then hold 1 s\n{STROKES}    count TRAYS\n", ">=", "TRAYS has reached 5"),
    (f"    if PART is made then\n        hold 1 s\n{STROKES}", "then", "delete it"),
    (f"    if PART is made:\n        hold 1 s\n{STROKES}", ":", "delete it"),
    (f"    if PART is made\n        hold 1 s\n    end if\n{STROKES}", "end if", "delete it"),
    (f"    if PART is made\n        hold 1 s\n    otherwise\n{STROKES}", "otherwise", "indented"),
    ("    repeat 0 times\n        hold 1 s\n", "repeat 0 times\n        hold 1 s", "how often"),
    (f"    repeat\n    {STROKES}", "repeat", "repeat 5 times"),
    (f"    repeat 3\n    {STROKES}", "3", "repeat 3 times"),
    (f"    repeat 3 times:\n    {STROKES}", ":", "delete it"),
    (f"    while PART is made\n    {STROKES}", "while", "repeat while"),
    (f"    together\n    {STROKES}", "together", "meanwhile"),
    (f"    meanwhile\n    {STROKES}", "meanwhile", "begin with 'together'"),
    (f"    do PECK\n{STROKES}", "PECK", "declare"),
    ("    CLAMP+ GATE+ GATE-\n", "CLAMP+", "Add CLAMP-"),
    ("    A+ A-\n", "A", "declare the device"),
    (f"{STROKES}when STOP is pressed, stop everything\n", "when STOP is pressed", "'drop out everything'"),
    (f"{STROKES}when a fault is shown turn on BUSY\n", "turn", "when a fault is shown, turn"),
    (f"{STROKES}SOL1 only until PART is made\n", "only", "SOL1 only while"),
    (f"{STROKES}never SOL1 and with SOL2\n", "SOL2", ""),
]


@pytest.mark.parametrize(("typed", "underlined", "cure"), SLIPS)
def test_a_slip_gets_one_message(typed: str, underlined: str, cure: str) -> None:
    source = Source("<t>", HEAD + typed)
    (fault,) = understand(source).said(Severity.FAULT)
    assert fault.span is not None
    assert source.words(fault.span) == underlined
    assert cure in fault.cure
    assert fault.expected or fault.cure


def test_two_stations_without_of_are_two_messages() -> None:
    cycles = "cycle LOADER\n    when START is pressed\n    extend CLAMP, retract CLAMP\n"
    cycles += "cycle UNLOADER\n    when PART is made\n    extend GATE, retract GATE\n"
    source = Source("<t>", HEAD[: HEAD.index("cycle")] + cycles)
    faults = understand(source).said(Severity.FAULT)
    assert [(source.words(f.span), f.cure) for f in faults if f.span] == [
        ("LOADER", "cycle of LOADER"),
        ("UNLOADER", "cycle of UNLOADER"),
    ]


MACHINE = [
    ("    solenoid SOL1", "solenoid", "single solenoid valve SOL1, spring return"),
    ("    extends in 2 s to 1 s", "extends in 2 s to 1 s", "shorter"),
    ("    extends 1 s", "1 s", "extends in 1 s"),
    ("    extend time 1 s", "extend time 1 s", "extends in 1 s"),
    ("    speed 100 mm/s", "speed", "extends in 1 s"),
    ("    bore 32mm rod 12mm", "rod", "a comma"),
    ("    5 port single solenoid valve Y1, spring return", "5 port ", "delete it"),
    ("    limit switch at end LS3", "limit switch", "limit switch LS1 at end"),
    ("    limit switch LS3 at hoem", "hoem", "did you mean 'home'?"),
    ("    limit switch LS3 extended", "extended", "at end"),
    ("    reed switch LS3 at end", "reed switch", "limit switch LS3 at end"),
    ("timer T1 5 s", "timer", "hold 5 s"),
    ("counter N 10", "10", "if N has reached 10"),
    ("motor WINCH forward and reverse", "forward", "electric motor WINCH, M1 forward"),
    ("emergency stop ES1", "emergency stop", "pushbutton STOP, normally closed"),
    ("start button GO", "start button", "pushbutton GO"),
    ("output H1", "output", "horn H1"),
    ("lamp RED GREEN", "GREEN", "RED, GREEN"),
    ("machine Press one", "Press one", 'machine "Press one"'),
    ("home: RAM at home", "home:", "home when"),
    ("inputs", "inputs", "delete it"),
    ("    double solenoid valve SOL1, SOL2", "SOL1, SOL2", "SOL1 extends, SOL2 retracts"),
    ("    memory valve SOL1 and SOL2", "SOL1 and SOL2", "SOL1 extends, SOL2 retracts"),
]


@pytest.mark.parametrize(("typed", "underlined", "cure"), MACHINE)
def test_a_slip_in_the_machine_gets_one_message(typed: str, underlined: str, cure: str) -> None:
    head = "pneumatic cylinder RAM\n    limit switch LS1 at end, LS2 at home\n"
    cycle = "pushbutton START\ncycle\n    when START is pressed\n    extend RAM\n    retract RAM\n"
    source = Source("<t>", f"{head}{typed}\n{cycle}")
    (fault,) = understand(source).said(Severity.FAULT)
    assert fault.span is not None
    assert source.words(fault.span) == underlined
    assert cure in fault.cure + fault.expected


STEPS = [
    ("    1. extend RAM\n    retract RAM\n", "1. ", "delete it"),
    ("    step 1: extend RAM\n    retract RAM\n", "step 1: ", "delete it"),
    ("    RAM out\n    retract RAM\n", "RAM", "extend RAM"),
    ("    extend RAM\n    wait LS1\n    retract RAM\n", "LS1", "wait until LS1 is made"),
    ("    SOL_RAM on until LS1\n    retract RAM\n", "SOL_RAM", "turn on SOL_RAM until LS1"),
]


@pytest.mark.parametrize(("typed", "underlined", "cure"), STEPS)
def test_a_slip_in_a_step_of_one_cylinder_gets_one_message(typed: str, underlined: str, cure: str) -> None:
    head = "pneumatic cylinder RAM\n    limit switch LS1 at end, LS2 at home\npushbutton START\ncycle\n"
    source = Source("<t>", f"{head}    when START is pressed\n{typed}")
    (fault,) = understand(source).said(Severity.FAULT)
    assert fault.span is not None
    assert source.words(fault.span) == underlined
    assert cure in fault.cure
