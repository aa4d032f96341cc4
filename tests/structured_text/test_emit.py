"""What the printed block looks like, what is refused, and that user's words can't break out of a comment."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.chart import Action, ActionKind, Chart, Forcing, Interlock, Step, Transition, Words
from compiler.condition import (
    Active,
    Always,
    And,
    Condition,
    Counted,
    Elapsed,
    Not,
    Or,
    Rise,
    Signal,
    Sustained,
    both,
)
from compiler.machine import Contact, Input, InputKind, Load, LoadKind, Machine
from targets.controller.comment import comment
from targets.controller.exclusive import can_hold
from targets.structured_text import TARGET
from targets.target import CAUTION, Artefact, Options, Refusal
from tests.structured_text.clock import Clocked

MACHINE = Machine(
    title="Bung press",
    inputs=(
        Input(name="START", kind=InputKind.PUSHBUTTON),
        Input(name="STOP", kind=InputKind.PUSHBUTTON, contact=Contact.NORMALLY_CLOSED),
        Input(name="LS1", kind=InputKind.LIMIT_SWITCH),
    ),
    loads=(Load(name="SOL1", kind=LoadKind.SOLENOID),),
    start="START",
    stop="STOP",
)
A, B = Signal(device="START"), Signal(device="LS1")


def chart(*transitions: Transition, forcing: Condition | None = None, words: str = "hold 30 s") -> Chart:
    names = list(dict.fromkeys(["S0", *(n for t in transitions for n in (*t.sources, *t.targets))]))
    return Chart(
        inputs=("START", "STOP", "LS1"),
        outputs=("SOL1",),
        steps=tuple(
            Step(
                name=n,
                initial=n == "S0",
                words=Words(text=words),
                actions=(Action(output="SOL1"),) if n == "S1" else (),
            )
            for n in names
        ),
        transitions=transitions,
        forcing=None if forcing is None else Forcing(condition=forcing, words=Words(text="when STOP is pressed")),
    )


def go(name: str, source: str, target: str, condition: Condition, words: str = "") -> Transition:
    return Transition(name=name, sources=(source,), targets=(target,), condition=condition, words=Words(text=words))


CYCLE = chart(
    go("T1", "S0", "S1", Rise(device="START"), "when START is pressed"),
    go("T2", "S1", "S0", Elapsed(step="S1", time_us=30_000_000), "hold 30 s"),
    forcing=Signal(device="STOP"),
)


def emit(given_chart: Chart, machine: Machine = MACHINE) -> Artefact | Refusal:
    (made,) = TARGET.emit(machine, given_chart, options=Options())
    return made


def printed(given_chart: Chart) -> Artefact:
    made = emit(given_chart)
    assert isinstance(made, Artefact)
    return made


def test_the_block_reads_as_agreed() -> None:
    text = printed(CYCLE).text
    for line in (
        "FUNCTION_BLOCK FB_Bung_press",
        "    STOP : BOOL;  (* pushbutton STOP, wired normally closed: TRUE at rest, FALSE when pressed *)",
        "START_pressed := START;",
        "STOP_pressed := NOT STOP;  (* wired normally closed: TRUE at rest *)",
        "START_rose := START_trig.Q AND NOT FirstScan;",
        "Step10_after_30s(IN := (StepNo = 10), PT := T#30s);",
        "IF STOP_pressed THEN  (* when STOP is pressed *)",
        "    10:  (* S1: hold 30 s *)",
        "        IF Step10_after_30s.Q THEN  (* T2: hold 30 s *)",
        "SOL1 := (StepNo = 10);",
    ):
        assert line in text.split("\n")
    assert CAUTION.split()[0] in text
    assert " ".join(CAUTION.split()[-6:]) in " ".join(text.split())
    assert text.isascii()
    assert text.endswith("END_FUNCTION_BLOCK\n")


def test_lines_tell_the_words_they_came_from() -> None:
    made = printed(CYCLE)
    lines = made.text.split("\n")
    told = {lines[number - 1].strip(): words for number, words in made.lines.items()}
    assert told["IF START_rose THEN  (* T1: when START is pressed *)"] == "when START is pressed"
    assert told["StepNo := 10;"] == "when START is pressed"
    assert told["10:  (* S1: hold 30 s *)"] == "hold 30 s"


REFUSED = {
    "back to itself": chart(go("T1", "S0", "S0", A)),
    "which is not an input": chart(go("T1", "S0", "S1", Signal(device="SOL1"))),
    "an edge or another time": chart(go("T1", "S0", "S1", Sustained(of=Rise(device="LS1"), time_us=5))),
    "no initial step": CYCLE.model_copy(
        update={"steps": tuple(s.model_copy(update={"initial": False}) for s in CYCLE.steps)}
    ),
    "waits for an edge": CYCLE.model_copy(
        update={"interlocks": (Interlock(output="SOL1", only_while=Rise(device="LS1")),)}
    ),
    "must fit INT": chart(go("T1", "S0", "S1", Counted(counter="N", at_least=32_768))),
}  # fmt: skip


@pytest.mark.parametrize("reason", REFUSED)
def test_what_can_not_be_told_is_refused_with_its_reason(reason: str) -> None:
    made = emit(REFUSED[reason])
    assert isinstance(made, Refusal)
    assert reason in made.reason


@pytest.mark.parametrize(("condition", "possible"), [
    (both(B, Not(of=B)), False),
    (both(Rise(device="LS1"), Not(of=B)), False),
    (both(Not(of=Rise(device="LS1")), B), True),
    (both(Elapsed(step="S1", time_us=9), Not(of=Elapsed(step="S1", time_us=5))), False),
    (both(Elapsed(step="S1", time_us=5), Not(of=Elapsed(step="S1", time_us=9))), True),
    (Elapsed(step="S2", time_us=5), False),
    (both(Sustained(of=B, time_us=5), Not(of=B)), False),
    (both(Or(of=(A, B)), Not(of=A)), True),
    (both(Or(of=(A, B)), Not(of=A), Not(of=B)), False),
    (And(of=(Active(step="S1"), Always())), True),
    (Active(step="S0"), False),
    (both(Counted(counter="N", at_least=3), Not(of=Counted(counter="N", at_least=2))), False),
    (both(Counted(counter="N", at_least=2), Not(of=Counted(counter="N", at_least=3))), True),
])  # fmt: skip
def test_what_can_hold_together_in_step_s1(condition: Condition, possible: bool) -> None:
    assert can_hold(condition, "S1") is possible


def test_what_can_hold_while_other_steps_are_active_as_well() -> None:
    assert can_hold(Elapsed(step="S2", time_us=5), "S1", alone=False)
    assert can_hold(Active(step="S0"), "S1", alone=False)
    assert not can_hold(both(A, Not(of=A)), "S1", alone=False)
    assert not can_hold(Not(of=Active(step="S1")), "S1", alone=False)


def test_a_choice_whose_ways_exclude_each_other_is_printed() -> None:
    made = printed(chart(go("T1", "S0", "S1", both(A, B)), go("T2", "S0", "S2", both(A, Not(of=B)))))
    assert "ELSIF START_pressed AND NOT LS1_made THEN" in made.text


def test_stored_actions_are_written_on_the_way() -> None:
    stored = Step(name="S1", actions=(
        Action(output="SOL1", kind=ActionKind.SET_ON_ENTRY), Action(output="SOL1", kind=ActionKind.RESET_ON_EXIT),
    ))  # fmt: skip
    made = printed(CYCLE.model_copy(update={"steps": (CYCLE.steps[0], stored)}))
    assert made.text.count("SOL1_stored := TRUE;") == 1
    assert made.text.count("SOL1_stored := FALSE;") == 2  # on the way out, and by STOP


def test_an_input_already_on_at_power_up_starts_nothing() -> None:
    made = printed(CYCLE)
    held = Clocked(TARGET.read(made.text, made.file, MACHINE), (True, False, False))
    assert held.outputs == (False,)
    held.advance(1_000_000, (False, False, False))
    held.advance(2_000_000, (True, False, False))
    assert held.outputs == (True,)
    held.advance(31_999_999, (True, False, False))
    assert held.outputs == (True,)
    held.advance(32_000_000, (True, False, False))
    assert held.outputs == (False,)
    assert held.logic.lit(held.state)[0] == "StepNo = 0"


@settings(max_examples=40, deadline=None)
@given(st.text(max_size=40) | st.text(alphabet="(*)/ é\n\0", max_size=20))
def test_no_words_break_out_of_a_comment(words: str) -> None:
    said = comment(words)
    assert said.replace("\u200c", "").replace("\u200d", "").isprintable()
    for mark in ("(*", "*)", "/*", "*/", "//"):
        assert mark not in f"({said})".strip("()") or mark not in said
    cycle = CYCLE.model_copy(update={"title": words, "steps": tuple(
        step.model_copy(update={"words": Words(text=words), "fault": words if step.name == "S1" else ""})
        for step in CYCLE.steps
    )})  # fmt: skip
    made = emit(cycle, MACHINE.model_copy(update={"title": words}))
    assert isinstance(made, Artefact)
    assert TARGET.read(made.text, made.file, MACHINE).timers[0].preset_us == 30_000_000


@pytest.mark.parametrize("words", ["presse bridée – 30 µs “à fond”", "日本", "Пресс", "مكبس", "می\u200cشود"])
def test_comments_keep_letters_of_every_script(words: str) -> None:
    """IEC 61131-3:2013 6.2.2: any characters may stand in a comment (from memory)."""
    assert comment(words) == words


def test_comments_do_not_end_early_nor_turn_round_what_follows() -> None:
    assert comment("halt *) x (* y") == "halt * ) x ( * y"
    assert comment("a\u202eb\u200bc\x07d") == "a?b?c?d"
    assert comment("two\nlines\u2028and more") == "two lines and more"


def test_output_is_the_same_under_any_hash_seed() -> None:
    program = (
        "from tests.structured_text.test_emit import *\n"
        "from tests.structured_text import drill\n"
        "made = printed(CYCLE).text, emit(drill.CHART, drill.MACHINE).text\n"
        "import hashlib; print(hashlib.sha256(repr(made).encode()).hexdigest())"
    )
    runs = [
        subprocess.run(
            [sys.executable, "-c", program], capture_output=True, text=True, check=True,
            env={"PYTHONHASHSEED": seed, "PATH": ""},
        ).stdout
        for seed in ("1", "2")
    ]  # fmt: skip
    assert runs[0] == runs[1]


def test_a_long_chart_is_printed_and_read() -> None:
    """256 steps: the output expression is long, the CASE is wide, and nothing is nested by it."""
    steps = [f"S{k}" for k in range(257)]
    ring = chart(*(
        go(f"T{k}", name, steps[(k + 1) % 257], both(A if k % 2 else Not(of=A), B)) for k, name in enumerate(steps)
    ))  # fmt: skip
    on = ring.model_copy(update={"steps": tuple(
        s.model_copy(update={"actions": (Action(output="SOL1"),)}) for s in ring.steps
    )})  # fmt: skip
    made = printed(on)
    logic = TARGET.read(made.text, made.file, MACHINE)
    reaction = logic.power_up((False, False, False))
    for k in range(300):
        reaction = logic.react(reaction.state, (k % 2 == 1, False, True))
    assert reaction.outputs == (True,)
