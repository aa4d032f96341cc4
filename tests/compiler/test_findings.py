"""Findings: for each code a program that deserves it, and the same program mended."""

from __future__ import annotations

import pytest

from compiler.chart import Chart, Step, Transition
from compiler.condition import Signal
from compiler.findings import find
from compiler.machine import Input, InputKind, Machine
from compiler.tell import tell
from compiler.understand import understand
from grammar.source import Source

HEAD = """
pneumatic cylinder A
    stroke 100 mm
    extends in 1 s to 2 s, retracts in 1 s to 2 s
    single solenoid valve Y1, spring return
    limit switch a1 at end, a0 at home
pushbutton START, normally open
pushbutton STOP, normally closed
lamp LIT
home when A is at-home
"""
MEMORY = HEAD.replace("single solenoid valve Y1, spring return", "double solenoid valve Y1 extends, Y2 retracts")
CENTRED = MEMORY.replace("double solenoid valve", "three-position valve").replace("retracts\n", "retracts, CENTRE\n")
CLOSED, FLOAT = CENTRED.replace("CENTRE", "closed centre"), CENTRED.replace("CENTRE", "float centre")
QUICK = HEAD.replace("spring return\n", "spring return\n    rapid solenoid Y3\n    extends rapidly in 0.5 s\n")
OUT = HEAD.replace("    stroke", "    normally extended\n    stroke").replace("A is at-home", "A is at-end")
CYCLE = "cycle\n    extend A until at-end\n    retract A until at-home\n"

# code, a program that has it, the same mended
PAIRS = [
    ("RW303", HEAD + "cycle\n    extend A for 3 s\n    retract A\n", HEAD + CYCLE),
    ("RW304", HEAD + CYCLE, HEAD + CYCLE.replace("at-end", 'at-end, within 5 s or fault "x"').replace(
        "at-home", 'at-home, within 5 s or fault "y"')),
    ("RW305", MEMORY + "cycle\n    turn on Y1\n    retract A until at-home\n", MEMORY + CYCLE),
    ("RW306", HEAD + "cycle\n    extend A until at-home\n    retract A\n", HEAD + CYCLE),
    ("RW307", HEAD + CYCLE.replace("cycle\n", "cycle\n    when START is held\n"), HEAD + CYCLE),
    ("RW308", HEAD.replace("pushbutton STOP, normally closed\n", "") + CYCLE, HEAD + CYCLE),
    ("RW309", MEMORY + CYCLE, HEAD + CYCLE),
    ("RW310", HEAD + "cycle\n    retract A until at-home\n    extend A\n    retract A\n", HEAD + CYCLE),
    ("RW311", HEAD + "cycle\n    extend A for 1.5 s\n    retract A\n", 
     HEAD + "cycle\n    extend A for 2 s\n    retract A\n"),
    ("RW312", HEAD.replace("LIT", "STEP") + CYCLE, HEAD + CYCLE),
    ("RW312", HEAD.replace("LIT", "1LT") + CYCLE, HEAD + CYCLE),
    ("RW313", HEAD + CYCLE, HEAD + CYCLE.replace("cycle\n", "cycle\n    turn on LIT\n") + "    turn off LIT\n"),
    ("RW314", HEAD + "cycle\n    extend A until at-end\n", HEAD + CYCLE),
    ("RW314", MEMORY + "cycle\n    extend A until at-end\n", MEMORY + CYCLE),
    ("RW314", HEAD + CYCLE + "    turn on LIT\n", HEAD + CYCLE),
    ("RW315", HEAD.replace("    extends in 1 s to 2 s, retracts in 1 s to 2 s\n", "") + CYCLE, HEAD + CYCLE),
    ("RW316", HEAD + CYCLE.replace("at-end", 'at-end, within 5 s or fault "x"'),
     HEAD + CYCLE.replace("at-end", 'at-end, within 5 s or fault "x"') + "when a fault is shown, turn on LIT\n"),
    ("RW317", HEAD.replace("home when A is at-home\n", "") + CYCLE, HEAD + CYCLE),
    ("RW318", HEAD.replace("STOP, normally closed", "STOP, normally open") + CYCLE, HEAD + CYCLE),
    ("RW319", MEMORY + CYCLE, MEMORY.replace("home when A is at-home\n", "") + CYCLE),
    ("RW321", CLOSED + CYCLE, HEAD + CYCLE),
    ("RW319", CLOSED + CYCLE, CLOSED.replace("home when A is at-home\n", "") + CYCLE),
    ("RW322", FLOAT + CYCLE, CLOSED + CYCLE),
    ("RW323", FLOAT + "cycle\n    extend A for 0.5 s\n    turn off Y1, hold 5 s\n    retract A until at-home\n",
     CLOSED + "cycle\n    extend A for 0.5 s\n    turn off Y1, hold 5 s\n    retract A until at-home\n"),
    ("RW305", CLOSED + CYCLE.replace("extend A", "extend A and turn on Y2"), CLOSED + CYCLE),
    ("RW314", CLOSED + "cycle\n    extend A until at-end\n    turn off Y1\n", CLOSED + CYCLE),
    ("RW313", HEAD.replace("lamp LIT", "electric motor M, M1 forward, M2 reverse") + CYCLE,
     HEAD.replace("lamp LIT", "electric motor M, M1 forward, M2 reverse") + CYCLE + "    run M forward for 1 s\n"),
    ("RW327", CLOSED + CYCLE, CLOSED + CYCLE + "    stop A\n"),
    ("RW324", OUT + "cycle\n    retract A until at-home\n    extend A until at-end\n", HEAD + CYCLE),
    ("RW325", QUICK.replace("0.5 s", "3 s") + CYCLE, QUICK + CYCLE),
    ("RW326", QUICK + CYCLE.replace("retract A", "retract A and turn on Y3"),
     QUICK + CYCLE.replace("extend A", "extend A rapidly")),
    ("RW313", QUICK.replace("lamp LIT\n", "") + CYCLE,
     QUICK.replace("lamp LIT\n", "") + CYCLE.replace("extend A", "extend A rapidly")),
    ("RW328", MEMORY.replace("A is at-home", "A is at-end") + CYCLE, MEMORY + CYCLE),
    ("RW328", MEMORY.replace("A is at-home", "A is at-end") + "cycle\n    retract A\n    extend A\n",
     MEMORY.replace("A is at-home", "A is at-end").replace("    stroke", "    normally extended\n    stroke")
     + "cycle\n    retract A\n    extend A\n"),
    ("RW250", QUICK.replace("    extends rapidly in 0.5 s\n", "") + CYCLE, QUICK + CYCLE),
    ("RW250", QUICK.replace("    rapid solenoid Y3\n", "") + CYCLE, QUICK + CYCLE),
    ("RW320", HEAD.replace("    single solenoid valve Y1, spring return\n", "") + CYCLE, HEAD + CYCLE),
]  # fmt: skip


TWO = (
    MEMORY.replace("pneumatic cylinder A", "pneumatic cylinder A", 1)
    + """
sensor PART
sensor AUTO
pushbutton RESET
counter N
pneumatic cylinder B
    stroke 100 mm
    extends in 1 s to 2 s, retracts in 1 s to 2 s
    single solenoid valve YB, spring return
    limit switch b1 at end, b0 at home
"""
)
LIMIT = ', within 5 s or fault "x"'
HOMEWARD = "when STOP is pressed, return home\n    retract A until at-home\n    retract B until at-home\n"
FINISH = "when STOP is pressed, finish the stroke\n"
TOGETHER = """cycle
    together
        extend A until at-end
        retract A until at-home
    meanwhile
        extend B until at-end
        retract B until at-home
"""

LATE = TOGETHER.replace("        extend B", "        hold 5 s\n        wait until A is at-end\n        extend B")
ANSWER = "        wait until B is at-end\n        retract A"
CHOICE = "cycle\n    if {}\n        wait 1 s\n    otherwise if {}\n        wait 2 s\n    count N\n"
KNOCK = "routine KNOCK\n    wait 1 s\n"

# The same for what goes beyond one line of steps.
WIDE_PAIRS = [
    ("RW331", HEAD + CYCLE + KNOCK, HEAD + CYCLE + "    do KNOCK\n" + KNOCK),
    ("RW332", TWO + "cycle\n    repeat until PART is made and PART is not made\n        wait 1 s\n",
     TWO + "cycle\n    repeat until PART is made and AUTO is not made\n        wait 1 s\n"),
    ("RW332", TWO + "cycle\n    repeat while PART is made or PART is not made\n        wait 1 s\n",
     TWO + "cycle\n    repeat while PART is made or AUTO is made\n        wait 1 s\n"),
    ("RW333", TWO + CHOICE.format("PART is made", "PART is made and AUTO is made"),
     TWO + CHOICE.format("PART is made and AUTO is made", "PART is made")),
    ("RW333", TWO + CHOICE.format("N has reached 2", "N has reached 3"),
     TWO + CHOICE.format("N has reached 3", "N has reached 2")),
    ("RW334", TWO + CYCLE + HOMEWARD, TWO + CYCLE + HOMEWARD.replace("    retract B until at-home\n", "")),
    ("RW335", TWO + CYCLE.replace("at-end", "at-end" + LIMIT) + FINISH,
     TWO + CYCLE.replace("at-end", "at-end" + LIMIT) + FINISH + "a fault is reset by RESET\n"),
    ("RW335", TWO + CYCLE.replace("at-end", "at-end" + LIMIT) + FINISH,
     TWO + CYCLE.replace("at-end", "at-end" + LIMIT) + HOMEWARD),
    ("RW336", TWO + "cycle\n    repeat until N has reached 2\n        wait 1 s\n",
     TWO + "cycle\n    repeat until N has reached 2\n        wait 1 s\n        count N\n"),
    ("RW337", TWO + "cycle\n    repeat until N has reached 2\n        wait 1 s\n        count N\n",
     TWO + "cycle\n    repeat until N has reached 2\n        wait 1 s\n        count N\n    clear N\n"),
    ("RW338", TWO + LATE, TWO + LATE.replace("        retract A", ANSWER)),
    ("RW314", TWO + "cycle\n    if PART is made\n        turn on LIT\n    extend A\n    retract A\n",
     TWO + "cycle\n    if PART is made\n        turn on LIT\n    extend A\n    retract A\n    turn off LIT\n"),
    ("RW314", TWO + CYCLE + "    turn on LIT\n    again while AUTO is made\n",
     TWO + CYCLE + "    turn on LIT\n    hold 1 s\n    turn off LIT\n    again while AUTO is made\n"),
    ("RW303", TWO + TOGETHER.replace("extend B until at-end", "extend B for 3 s"), TWO + TOGETHER),
    ("RW310", TWO + TOGETHER.replace("extend B until at-end", "wait until B is at-home\n        extend B"),
     TWO + TOGETHER),
    ("RW314", TWO + TOGETHER.replace("        retract A until at-home\n", ""), TWO + TOGETHER),
    ("RW308", TWO.replace("pushbutton STOP, normally closed\n", "") + CYCLE, TWO + CYCLE + FINISH),
    ("RW319", TWO + CYCLE, TWO + CYCLE + HOMEWARD),
]  # fmt: skip


def codes(program: str) -> set[str]:
    return {d.code for d in understand(Source("test", program)).diagnostics}


@pytest.mark.parametrize(("code", "deserving", "mended"), PAIRS + WIDE_PAIRS)
def test_a_finding_comes_and_goes_with_its_reason(code: str, deserving: str, mended: str) -> None:
    assert code in codes(deserving)
    assert code not in codes(mended)


def test_a_normally_extended_cylinder_rests_at_its_end() -> None:
    gate = HEAD.replace("    stroke", "    normally extended\n    stroke").replace("A is at-home", "A is at-end")
    found = codes(gate + "cycle\n    retract A until at-home\n    extend A until at-end\n")
    assert not found & {"RW310", "RW314", "RW317"}


def test_steps_out_of_reach_and_steps_without_a_way_out() -> None:
    chart = Chart(
        inputs=("x",),
        outputs=(),
        steps=(Step(name="S0", initial=True), Step(name="S1"), Step(name="S2")),
        transitions=(
            Transition(name="T1", sources=("S0",), targets=("S1",), condition=Signal(device="x")),
            Transition(name="T2", sources=("S2",), targets=("S0",), condition=Signal(device="x")),
        ),
    )
    found = {(d.code, d.message) for d in find(Machine(inputs=(Input(name="x", kind=InputKind.SENSOR),)), chart)}
    assert ("RW301", "step S2 is never reached") in found
    assert ("RW302", "nothing leads on from step S1") in found


@pytest.mark.parametrize("machine", [MEMORY, CLOSED])
@pytest.mark.parametrize(
    ("rule", "when"),
    [
        ("", "STOP or a lost supply"),
        ("when STOP is pressed, return home\n    retract A until at-home\n", "a lost supply"),
        (FINISH, "a lost supply"),
    ],
)
def test_a_stop_that_leads_home_is_not_said_to_leave_the_rod_out(machine: str, rule: str, when: str) -> None:
    said = understand(Source("test", machine + CYCLE + rule)).diagnostics
    (kept,) = (d.message for d in said if d.code in ("RW309", "RW321"))
    assert kept.startswith(f"on {when} A ")


def test_the_cure_names_the_words_to_add() -> None:
    limit = [d for d in understand(Source("test", HEAD + CYCLE)).diagnostics if d.code == "RW304"]
    assert limit[0].cure == 'add: within 3 s or fault "A did not extend"'  # half as much again as the greatest time


def test_a_missing_time_limit_is_told_of_the_stroke_and_not_of_a_lamp_before_it() -> None:
    text = HEAD + "lamp L\n" + CYCLE.replace("    extend", "    turn on L\n    extend", 1)
    source = Source("test", text)
    limits = [d for d in understand(source).diagnostics if d.code == "RW304"]
    assert limits
    assert all(d.span is not None and source.words(d.span).startswith(("extend", "retract")) for d in limits)


def test_a_missing_time_limit_is_told_of_the_stroke_and_not_of_the_choice_or_repeat_around_it() -> None:
    text = HEAD + "cycle\n    repeat 2 times\n        extend A until at-end\n        retract A until at-home\n"
    text += "    extend A\n    retract A\n    if LIT\n        turn off LIT, wait 1 s\n"
    source = Source("test", text.replace("lamp LIT", "sensor LIT").replace("turn off LIT, ", ""))
    limits = [d for d in understand(source).diagnostics if d.code == "RW304"]
    assert len(limits) == 4
    assert all(d.span is not None and source.words(d.span).startswith(("extend", "retract")) for d in limits)


def test_a_line_in_letters_is_told_once_that_its_strokes_have_no_time_limit() -> None:
    source = Source("test", "A+ B+ (C+ D+) B- A- (C- D-)\n")
    limits = [d for d in understand(source).diagnostics if d.code == "RW304"]
    assert [source.words(d.span) for d in limits if d.span is not None] == ["A+ B+ (C+ D+) B- A- (C- D-"]
    assert "write a step: extend A until at-end, within" in limits[0].cure
    assert limits[0].message == "no time limit on A+ B+ C+ D+ B- A- C- D-: letters take none"


def test_only_a_counter_that_rest_does_not_clear_is_said_to_last() -> None:
    """That of a repeat begins at 0 with every cycle; one that counts parts goes on from cycle to cycle."""
    text = (
        HEAD
        + "counter PARTS\ncycle\n    repeat 3 times\n        extend A until at-end\n        retract A until at-home\n"
    )
    read = understand(
        Source("test", text + "    count PARTS\n    if PARTS has reached 9\n        clear PARTS, wait 1 s\n")
    )
    assert read.chart is not None
    assert len(read.chart.counters) == 2
    told = " ".join(tell(read.machine, read.chart))
    assert "PARTS keeps its count over a STOP" in told


def test_each_branch_and_station_is_judged_by_its_own_cylinders() -> None:
    """Neither branch drives or watches the other's cylinder, nor one station the other's; nothing is amiss."""
    limited = TOGETHER.replace("at-end", "at-end" + LIMIT).replace("at-home", "at-home" + LIMIT)
    sound = {"RW303", "RW304", "RW306", "RW310", "RW311", "RW314"}
    assert not codes(TWO + limited) & sound
    stations = """cycle of LOADER
    extend A until at-end
    retract A until at-home
cycle of LIFTER
    extend B until at-end
    retract B until at-home
home when B is at-home
"""
    found = understand(Source("test", TWO + stations)).diagnostics
    assert not {d.code for d in found} & (sound - {"RW304"})
    # A's home condition is that of LOADER, B's that of LIFTER: both are there.
    assert not [d.message for d in found if d.code == "RW317"]
