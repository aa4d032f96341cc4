"""Parallel work, choices, repeats, routines, stations and stops become charts: each form by its steps and ways.

What is expected is worked out by hand from what the form means, not copied from what came out.
"""

from __future__ import annotations

from textwrap import dedent

import pytest

from compiler.chart import ActionKind, Chart, CountingKind
from compiler.condition import Active, Always, And, Condition, Counted, Elapsed, Not, Or, Rise, Signal, Sustained
from compiler.machine import End, Machine, ValveKind
from compiler.understand import understand
from grammar.diagnostic import Severity
from grammar.source import Source

HEAD = """\
pneumatic cylinder A
    single solenoid valve YA, spring return
    limit switch a1 at end, a0 at home
pneumatic cylinder B
    single solenoid valve YB, spring return
    limit switch b1 at end, b0 at home
pneumatic cylinder M
    double solenoid valve YM1 extends, YM2 retracts
    limit switch m1 at end, m0 at home
sensor PART
selector AUTO
pushbutton START
pushbutton STOP, normally closed
pushbutton RESET
lamp LIT
lamp RED
counter PARTS
signal READY
"""


def built(cycle: str, head: str = HEAD) -> tuple[Machine, Chart]:
    understood = understand(Source("test", head + dedent(cycle)))
    assert understood.chart is not None, [(d.code, d.message) for d in understood.said(Severity.FAULT)]
    return understood.machine, understood.chart


def said(condition: Condition) -> str:
    """A condition in a short notation: & | ! for and, or, not; ^ an edge; X a step; t a time in step."""
    match condition:
        case Always():
            return "1"
        case Signal(device=name):
            return name
        case Rise(device=name):
            return f"^{name}"
        case Active(step=name):
            return f"X{name}"
        case Elapsed(step=name, time_us=time):
            return f"t{name}>{time // 1000}"
        case Sustained(of=of, time_us=time):
            return f"({said(of)} for {time // 1000})"
        case Counted(counter=name, at_least=number):
            return f"{name}>={number}"
        case Not(of=of):
            return f"!{said(of)}"
        case And(of=parts):
            return f"({' & '.join(map(said, parts))})"
        case Or(of=parts):
            return f"({' | '.join(map(said, parts))})"


_KINDS = {ActionKind.CONTINUOUS: "", ActionKind.SET_ON_ENTRY: "+", ActionKind.RESET_ON_ENTRY: "-"}


def steps(chart: Chart) -> list[str]:
    """Each step with what it switches and counts: + sets, - resets; C counts, 0C clears."""
    lines = []
    for step in chart.steps:
        doing = [f"{a.output}{_KINDS[a.kind]}" for a in step.actions]
        doing += [f"{'0' if c.kind is CountingKind.CLEAR else ''}{c.counter}" for c in step.counting]
        lines.append(" ".join([step.name, *doing]))
    return lines


def ways(chart: Chart) -> list[str]:
    return [
        f"{' '.join(t.sources)} -> {' '.join(t.targets)}: {said(t.condition)}"
        + (f" aborts {' '.join(t.aborts)}" if t.aborts else "")
        for t in chart.transitions
    ]


def test_branches_go_on_at_once_wait_for_each_other_and_keep_what_is_on() -> None:
    _, chart = built("""
        cycle
            turn on LIT
            together
                extend A until a1
                hold 2 s
            meanwhile
                extend B until b1, within 3 s or fault "late"
                retract B until b0
            retract A
            turn off LIT
        """)
    # LIT belongs to nobody: the first branch carries it. A stays out while its branch waits.
    assert steps(chart) == ["S0", "S1 YA LIT", "S2 YA LIT", "W1 YA LIT", "S3 YB", "S4", "W2", "S5 LIT", "F1"]
    assert ways(chart) == [
        "S0 -> S1 S3: ^START",
        "S1 -> S2: a1",
        "S2 -> W1: tS2>2000",
        "S3 -> S4: b1",
        "S4 -> W2: b0",
        "W1 W2 -> S5: 1",
        "S5 -> S0: a0",
        "S3 -> F1: (tS3>3000 & !b1) aborts S1 S2 W1",
    ]


def test_the_first_case_that_holds_is_taken_and_no_other() -> None:
    _, chart = built("""
        cycle
            wait until RESET is held
            if PART is made
                extend A
                retract A
            otherwise if AUTO is on
                wait 1 s
            otherwise
                wait 2 s
        """)
    assert ways(chart) == [
        "S0 -> S1: ^START",
        "S1 -> S2: (RESET & PART)",
        "S2 -> S3: a1",
        "S1 -> S4: (RESET & !PART & AUTO)",
        "S1 -> S5: (RESET & !PART & !AUTO)",
        "S3 -> S0: a0",
        "S4 -> S0: tS4>1000",
        "S5 -> S0: tS5>2000",
    ]


def test_without_an_otherwise_the_cycle_goes_on() -> None:
    _, chart = built("cycle\n    wait 1 s\n    if PART is made\n        wait 2 s\n    wait 3 s\n")
    assert ways(chart)[1:4] == ["S1 -> S2: (tS1>1000 & PART)", "S2 -> S3: tS2>2000", "S1 -> S3: (tS1>1000 & !PART)"]


def test_what_differs_between_the_ways_to_a_step_is_stored() -> None:
    """LIT is on after one case and off after the other, so no later step can say; YA is off after both."""
    _, chart = built("""
        cycle
            wait 1 s
            if PART is made
                turn on LIT
                extend A
                retract A
            wait 2 s
            turn off LIT
            wait 3 s
        """)
    assert steps(chart) == ["S0", "S1", "S2 YA LIT+", "S3", "S4", "S5 LIT-"]


def test_what_is_stored_goes_off_in_a_fault() -> None:
    _, chart = built("""
        cycle
            wait 1 s
            if PART is made
                turn on LIT
            extend A, within 3 s or fault "late"
            retract A
            turn off LIT
            wait 1 s
        when a fault is shown, turn on RED
        """)
    assert steps(chart)[-1] == "F1 LIT- RED"


def test_passes_are_counted_as_they_begin() -> None:
    _, chart = built("""
        cycle
            repeat 3 times
                extend A
                retract A
            wait 1 s
        """)
    assert steps(chart) == ["S0 0C1", "S1 YA C1", "S2", "S3 0C1"]
    assert ways(chart) == [
        "S0 -> S1: ^START",
        "S1 -> S2: a1",
        "S2 -> S1: (a0 & !C1>=3)",
        "S2 -> S3: (a0 & C1>=3)",
        "S3 -> S0: tS3>1000",
    ]
    assert chart.counters == ("C1",)


def test_a_pass_of_one_step_goes_round_through_a_second_one() -> None:
    _, chart = built("cycle\n    repeat 2 times, counted by PARTS\n        wait 1 s\n")
    assert steps(chart) == ["S0 0PARTS", "S1 PARTS", "S2"]
    assert ways(chart)[1:] == ["S1 -> S2: tS1>1000", "S2 -> S1: !PARTS>=2", "S2 -> S0: PARTS>=2"]


def test_until_is_looked_at_after_a_pass_and_while_before_it() -> None:
    _, chart = built("cycle\n    repeat until PART is made\n        extend A\n        retract A\n")
    assert ways(chart) == ["S0 -> S1: ^START", "S1 -> S2: a1", "S2 -> S1: (a0 & !PART)", "S2 -> S0: (a0 & PART)"]
    _, chart = built("cycle\n    wait 1 s\n    repeat while PART is made\n        extend A\n        retract A\n")
    assert ways(chart)[1:] == [
        "S1 -> S2: (tS1>1000 & PART)",
        "S2 -> S3: a1",
        "S3 -> S2: (a0 & PART)",
        "S3 -> S0: (a0 & !PART)",
        "S1 -> S0: (tS1>1000 & !PART)",
    ]


def test_a_count_at_the_end_of_a_pass_comes_before_it_is_asked() -> None:
    _, chart = built("""
        cycle
            repeat until PARTS has reached 4
                extend A
                retract A
                count PARTS
            clear PARTS
            wait 1 s
        """)
    assert steps(chart) == ["S0", "S1 YA", "S2", "S3 PARTS", "S4 0PARTS"]
    assert ways(chart)[2:5] == ["S2 -> S3: a0", "S3 -> S1: !PARTS>=4", "S3 -> S4: PARTS>=4"]


def test_a_routine_is_written_out_where_it_is_done_and_says_so() -> None:
    text = "cycle\n    do KNOCK\n    do KNOCK\nroutine KNOCK\n    extend A\n    retract A\n"
    _, chart = built(text)
    assert steps(chart) == ["S0", "S1 YA", "S2", "S3 YA", "S4"]
    words = chart.step("S3").words
    assert words.text == "extend A, in KNOCK"
    assert (HEAD + text)[words.start : words.end] == "extend A"


def test_a_cycle_begins_again_while_it_is_told_to_and_until_asked_to_finish() -> None:
    _, chart = built("""
        cycle
            extend A
            retract A
            again while AUTO is on
        stop at end of cycle when RESET is pressed
        """)
    assert ways(chart) == [
        "S0 -> S1: ^START",
        "S1 -> S2: a1",
        "S2 -> S1: (a0 & AUTO & !XN1)",
        "S2 -> S0: (a0 & !(AUTO & !XN1))",
        "N0 -> N1: (^RESET & !XS0)",
        "N1 -> N0: XS0",
    ]


def test_stations_go_side_by_side_and_shake_hands() -> None:
    _, chart = built("""
        cycle of LOADER
            extend A
            retract A
            turn on READY
            wait until LIFTER is at rest
            turn off READY
            wait 1 s
        cycle of LIFTER
            when READY is on
            extend B
            retract B
        home when A is at-home and B is at-home
        """)
    assert ways(chart) == [
        "LOADER_S0 -> LOADER_S1: (^START & a0)",
        "LOADER_S1 -> LOADER_S2: a1",
        "LOADER_S2 -> LOADER_S3: a0",
        "LOADER_S3 -> LOADER_S4: XLIFTER_S0",
        "LOADER_S4 -> LOADER_S0: tLOADER_S4>1000",
        "LIFTER_S0 -> LIFTER_S1: (XLOADER_S3 & b0)",
        "LIFTER_S1 -> LIFTER_S2: b1",
        "LIFTER_S2 -> LIFTER_S0: b0",
    ]
    assert [step.name for step in chart.steps if step.initial] == ["LOADER_S0", "LIFTER_S0"]


def test_a_signal_that_depends_on_the_way_is_remembered_by_two_steps() -> None:
    _, chart = built("""
        cycle of LOADER
            wait 1 s
            if PART is made
                turn on READY
            wait 2 s
            turn off READY
            wait 3 s
        cycle of LIFTER
            when READY is on
            extend B
            retract B
        """)
    # LOADER_S2 is where READY is turned on, LOADER_S4 where it is turned off.
    remembered = ["N0 -> N1: XLOADER_S2", "N1 -> N0: (XLOADER_S4 | XLOADER_S0)"]
    assert [w for w in ways(chart) if w.startswith("N")] == remembered
    assert "LIFTER_S0 -> LIFTER_S1: XN1" in ways(chart)


def test_stop_may_let_the_stroke_finish() -> None:
    _, chart = built("""
        cycle
            extend A
            hold 1 s
            retract A
        when STOP is pressed, finish the stroke
        """)
    assert chart.forcing is None
    assert ways(chart) == [
        "S0 -> S1: (^START & !STOP)",
        "S1 -> S2: (a1 & !XN1)",
        "S2 -> S3: (tS2>1000 & !XN1)",
        "S3 -> S0: a0",
        "N0 -> N1: (^STOP & !XS0)",
        "N1 -> N0: XS0",
        "S1 -> S0: (a1 & XN1)",
        "S2 -> S0: (tS2>1000 & XN1)",
    ]


def test_a_stop_that_finishes_strokes_does_not_wait_for_somebody() -> None:
    """Nobody stops a machine to see it wait for a part that never comes. A time goes by, and a stroke is finished."""
    _, chart = built("""
        cycle
            turn on LIT and wait until PART is made
            extend A until PART is made
            extend B, wait until PART is made or after 9 s
            extend M for 1 s, wait until m1 is made
            together
                wait until RESET is pressed
            meanwhile
                retract M
            wait until AUTO is off
        when STOP is pressed, finish the stroke
        """)
    stopped = [way for way in ways(chart) if way.startswith("S") and way.endswith(("XN1", " & XN1)"))]
    assert stopped == [
        "S1 -> S0: XN1",
        "S2 -> S0: (PART & XN1)",
        "S3 -> S0: (b1 & XN1)",
        "S4 -> S0: ((PART | tS4>9000) & XN1)",
        "S5 -> S0: (tS5>1000 & XN1)",
        "S6 -> S0: (m1 & XN1)",
        "S9 -> S0: XN1",
        "S7 -> W3: XN1",
        "S8 -> W5: (m0 & XN1)",
    ]
    assert {step.name: step.words.text for step in chart.steps if step.name.startswith("N")} == {
        "N0": "no stop is remembered",
        "N1": "the stop is remembered",
    }


def test_stop_may_lead_home_in_a_stated_order() -> None:
    _, chart = built("""
        cycle
            extend M
            extend A
            retract A
            retract M
        when STOP is pressed, return home
            wait until A is at-home
            retract M until at-home
        """)
    assert chart.forcing is not None
    assert (said(chart.forcing.condition), chart.forcing.steps) == ("^STOP", ("H1",))
    assert steps(chart)[-2:] == ["H1", "H2 YM2"]
    assert ways(chart)[-2:] == ["H1 -> H2: a0", "H2 -> S0: m0"]
    assert ways(chart)[0] == "S0 -> S1: (^START & !STOP)"


def test_a_reset_leads_out_of_a_fault() -> None:
    _, chart = built("""
        cycle
            extend A, within 3 s or fault "late"
            retract A
        a fault is reset by RESET
        """)
    assert "F1 -> S0: ^RESET" in ways(chart)


def test_interlocks_hold_of_outputs_cylinders_and_both_ways_of_a_motor() -> None:
    _, chart = built(
        "cycle\n    extend A\n    retract A\nA only while PART is made\nnever YB with YM1\n",
        HEAD + "hydraulic motor WINCH, YW1 forward, YW2 reverse\n",
    )
    assert [f"{i.output}: {said(i.only_while)}" for i in chart.interlocks] == [
        "YW1: !YW2",
        "YW2: !YW1",
        "YA: PART",
        "YB: !YM1",
        "YM1: !YB",
    ]


def test_a_motor_runs_until_its_step_is_over_or_until_it_is_stopped() -> None:
    _, chart = built(
        """
        cycle
            run W forward until PART is made
            wait 1 s
            run W in reverse
            wait 2 s
            wait 3 s
            stop W
            wait 4 s
        """,
        HEAD + "electric motor W, K1 forward, K2 reverse\n",
    )
    assert steps(chart) == ["S0", "S1 K1", "S2", "S3 K2", "S4 K2", "S5"]


def test_letters_alone_are_a_program_with_memory_valves() -> None:
    machine, chart = built("A+ B+ (C+ D-) (C- D+) B- A-\n", "")
    assert steps(chart)[1:4] == ["S1 SOL_A_OUT", "S2 SOL_B_OUT", "S3 SOL_C_OUT SOL_D_BACK"]
    assert ways(chart)[3] == "S3 -> S4: (c1 & d0)"
    assert {a.valve.kind for a in machine.actuators} == {ValveKind.MEMORY}
    assert [a.rest for a in machine.actuators] == [End.HOME, End.HOME, End.HOME, End.END]


FAULTS = [
    ("cycle\n    together\n        extend A\n    meanwhile\n        retract A\n", "RW221", "retract A"),
    ("cycle of L\n    extend A\ncycle of K\n    retract A\n", "RW221", "retract A"),
    ("cycle\n    repeat until PART is made\n        count PARTS\n", "RW222", "repeat until PART is made"),
    ("cycle\n    repeat until PART is made\n        if AUTO is on\n            wait 1 s\n", "RW222",
     "repeat until PART is made"),
    ("cycle\n    do X\nroutine X\n    do Y\nroutine Y\n    do X\n", "RW223", "do X"),
    ("cycle\n    A+ A+\n", "RW224", "A+"),
    ("cycle\n    A+ B+ A-\n", "RW224", "B+"),
    ("cycle\n    extend A\n    retract A\nnever PARTS has reached 3\n", "RW225", "PARTS has reached 3"),
    ("cycle\n    extend A\n    stop A\n", "RW226", "A"),
    ("cycle\n    extend A rapidly\n", "RW228", "extend A rapidly"),
    ("cycle\n    extend A\n    retract A\nstop at end of cycle when RESET is pressed\n", "RW229",
     "stop at end of cycle when RESET is pressed"),
    ("cycle\n    extend A\n    retract A\nwhen PART is made, return home\n    retract A\n", "RW230", "PART is made"),
    ("cycle\n    wait until READY is on\n", "RW231", "READY"),
    ("cycle\n    extend A\n    retract A\nnever YA with YA\n", "RW232", "never YA with YA"),
    ("cycle of L\n    extend A\n    wait until L is at rest\n    retract A\n", "RW233", "wait until L is at rest"),
    ("cycle\n    extend A\ncycle\n    retract A\n", "RW211", None),
    ("cycle\n    do NOTHING\n", "RW202", "NOTHING"),
    ("cycle\n    count LIT\n", "RW203", "LIT"),
    ("cycle\n    wait until LIFTER is at rest\n", "RW202", "LIFTER"),
]  # fmt: skip


@pytest.mark.parametrize(("cycle", "code", "words"), FAULTS)
def test_what_cannot_be_is_told_of_the_words(cycle: str, code: str, words: str | None) -> None:
    source = Source("test", HEAD + cycle)
    understood = understand(source)
    found = [d for d in understood.said(Severity.FAULT) if d.code == code]
    assert found, [(d.code, d.message) for d in understood.diagnostics]
    assert understood.chart is None
    if words is not None:
        assert words in [source.words(d.span) for d in found if d.span is not None]


def test_the_chain_of_routines_is_named() -> None:
    text = HEAD + "cycle\n    do X\nroutine X\n    do Y\nroutine Y\n    do X\n"
    (found,) = [d.message for d in understand(Source("test", text)).said(Severity.FAULT) if d.code == "RW223"]
    assert found == "X does itself: X, which does Y, which does X"


def test_every_transition_and_step_of_all_forms_has_its_words() -> None:
    _, chart = built("""
        cycle of LOADER
            together
                repeat 2 times
                    do KNOCK
            meanwhile
                if PART is made
                    wait 1 s
                otherwise
                    turn on LIT
            again while AUTO is on
        cycle of LIFTER
            when READY is on
            extend B
            retract B
        cycle of THIRD
            turn on READY
            wait 1 s
        routine KNOCK
            extend A, within 3 s or fault "late"
            retract A
        when STOP is pressed, return home
            retract A
        stop at end of cycle when RESET is pressed
        """)
    rests = {step.name for step in chart.steps if step.initial or step.name.split("_")[-1] == "R1"}
    for step in chart.steps:
        assert step.words.end or step.name in rests, step.name
    for t in chart.transitions:
        assert t.words.text, t.name


@pytest.mark.parametrize(
    "program",
    [
        "cycle\n    do KNOCK\nroutin KNOCK\n    wait 1 s\n",
        "cycle\n    repeat until PART is made\n        wiat 1 s\n    wait 1 s\n",
        "cycle\n    wait until READY is on\n    trun on READY\n    wait 1 s\n",
        "cycle\n    repeat until PARTS has reached 3\n        wait 1 s\n        cuont PARTS\n",
        "cycle\n    A+\n    A -- \n",
    ],
)
def test_what_cannot_be_read_is_not_called_missing_either(program: str) -> None:
    """One mistake, one message."""
    found = understand(Source("test", HEAD + program)).said(Severity.FAULT)
    assert {d.code[:3] for d in found} == {"RW1"}, [(d.code, d.message) for d in found]


def test_steps_that_no_words_stand_for_say_what_they_are() -> None:
    _, chart = built("""\
        cycle
            when START is pressed
            together
                if PART is made
                    extend A
                hold 1 s
            meanwhile
                extend B
            if PART is made
                retract A
            otherwise
                retract B
            repeat until PART is made
                wait until AUTO is on
            """)
    waits = "wait for the other branches"
    assert [step.words.text for step in chart.steps if step.words.text] == [
        "this branch begins",  # what the choice in it is looked at in
        "extend A",
        "hold 1 s",
        waits,
        "extend B",
        waits,
        "all branches done",
        "retract A",
        "retract B",
        "wait until AUTO is on",
        "end of the pass",
    ]
    choosing = next(step.name for step in chart.steps if step.words.text == "this branch begins")
    assert [t.words.text for t in chart.transitions if t.sources == (choosing,)] == ["PART is made", "otherwise"]
