"""Every fault of a function chart is told at its words, all at once, and the reader never raises."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from grammar.diagnostic import Diagnostic, Severity
from grammar.reading import ReadBack
from grammar.sfc import read
from grammar.source import Source
from targets.sfc import TARGET

MACHINE = Machine(
    inputs=(Input(name="LS1", kind=InputKind.LIMIT_SWITCH), Input(name="LS2", kind=InputKind.LIMIT_SWITCH)),
    loads=(Load(name="SOL1", kind=LoadKind.SOLENOID),),
)
SOUND = """FUNCTION_BLOCK FB_Rig
VAR_INPUT LS1 : BOOL; LS2 : BOOL; END_VAR
VAR_OUTPUT SOL1 : BOOL; END_VAR
VAR Lamp : BOOL; END_VAR
INITIAL_STEP S0: END_STEP
TRANSITION T1 FROM S0 TO S1 := LS1; END_TRANSITION
STEP S1: SOL1(N); Note(P1); END_STEP
TRANSITION T2 FROM S1 TO S0 := LS2 AND S1.T >= T#2s; END_TRANSITION
ACTION Note: Lamp := LS1; END_ACTION
END_FUNCTION_BLOCK
"""
# what is written instead of what; the code, and the words at fault
FAULTS = [
    ("INITIAL_STEP S0", "STEP S0", "RW534", "S0"),
    ("FROM S0 TO S1", "FROM S0 TO S2", "RW532", "S2"),
    ("FROM S0 TO S1", "FROM S0 TO S0", "RW535", "S1"),
    ("T1 FROM S0", "T1 S0", "RW531", "S0"),
    ("LS1; END_TRANSITION", "LS1 END_TRANSITION", "RW501", "LS1"),
    (":= LS1; END_TRANSITION", ":= ; END_TRANSITION", "RW501", ";"),
    (":= LS1; END_TRANSITION", ": LS1; END_TRANSITION", "RW531", ":"),
    (":= LS1; END_TRANSITION", ":= LS9; END_TRANSITION", "RW509", "LS9"),
    (":= LS1; END_TRANSITION", ":= LS1; Lamp := LS2; END_TRANSITION", "RW531", "Lamp := LS2"),
    (":= LS1; END_TRANSITION", ":= 5; END_TRANSITION", "RW510", "5"),
    ("SOL1(N)", "SOL1(Q)", "RW537", "Q"),
    ("SOL1(N)", "SOL1(D)", "RW537", "SOL1"),
    ("SOL1(N)", "SOL1(N, T#2s)", "RW537", "T#2s"),
    ("SOL1(N)", "SOL1(D, T#2)", "RW511", "T#2"),
    ("SOL1(N)", "SOL1(D, T#0s)", "RW516", "T#0s"),
    ("SOL1(N)", "SOL1(D, T#2s, Lamp)", "RW531", ","),
    ("SOL1(N)", "SOL1(D, T#2s); SOL1(L, T#1s)", "RW537", "SOL1"),
    ("SOL1(N)", "SOL2(N)", "RW532", "SOL2"),
    ("SOL1(N);", "SOL1(N)", "RW531", "Note"),
    ("STEP S1:", "STEP LS1:", "RW533", "LS1"),
    ("STEP S1:", "STEP S0:", "RW533", "S0"),
    ("STEP S1:", "STEP S1", "RW531", "SOL1"),
    ("S1.T >= T#2s", "S1.T = T#2s", "RW538", "S1.T"),
    ("S1.T >= T#2s", "S1.Y", "RW538", "S1.Y"),
    ("Lamp := LS1", "S1.X := LS1", "RW538", "S1.X"),
    ("Lamp := LS1", "IF LS1 THEN Lamp := LS1", "RW502", "END_ACTION"),
    ("Lamp := LS1", "LS1 := LS2", "RW515", "LS1"),
    ("ACTION Note:", "Lamp := LS1; ACTION Note:", "RW531", "Lamp"),
    ("END_STEP\nTRANSITION T2", "TRANSITION T2", "RW531", "STEP"),
    ("END_FUNCTION_BLOCK", "", "RW531", "END_ACTION"),
    ("END_FUNCTION_BLOCK", "END_FUNCTION_BLOCK PROGRAM", "RW531", "PROGRAM"),
]


@pytest.mark.parametrize(("words", "instead", "code", "at"), FAULTS, ids=[f"{f[2]} {f[1]}" for f in FAULTS])
def test_a_fault_is_told_at_its_words(words: str, instead: str, code: str, at: str) -> None:
    assert words in SOUND
    text = SOUND.replace(words, instead, 1)
    with pytest.raises(ReadBack) as told:
        TARGET.read(text, "x.sfc", MACHINE)
    found = [(d.code, text[d.span.start : d.span.end]) for d in told.value.diagnostics if d.span is not None]
    assert (code, at) in found
    assert text != SOUND


def test_the_sound_text_is_read() -> None:
    logic = TARGET.read(SOUND, "x.sfc", MACHINE)
    assert [timer.preset_us for timer in logic.timers] == [2_000_000]


def test_all_faults_are_told_at_once() -> None:
    text = SOUND
    for words, instead in (("S1 := LS1", "S1 := LS9"), ("SOL1(N)", "SOL1(D)"), ("FROM S1 TO S0", "FROM S1 TO S7")):
        text = text.replace(words, instead)
    with pytest.raises(ReadBack) as told:
        TARGET.read(text, "x.sfc", MACHINE)
    assert [d.code for d in told.value.diagnostics if d.severity is Severity.FAULT] == ["RW509", "RW537", "RW532"]


def test_parallel_work_that_is_not_joined_is_told() -> None:
    """One branch goes back alone, so that its step and those of the fork may be entered once more."""
    text = SOUND.replace("FROM S0 TO S1", "FROM S0 TO (S1, S2)").replace("ACTION", "STEP S2: END_STEP ACTION", 1)
    reading = read(Source("x.sfc", text))
    assert [(d.code, d.severity) for d in reading.diagnostics] == [("RW536", Severity.WARNING)]


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_nothing_is_raised_but_readback(data: st.DataObject) -> None:
    """Words left out, put twice or changed for others."""
    words = SOUND.replace(";", " ; ").replace("(", " ( ").replace(")", " ) ").split()
    strays = ["END_STEP", "STEP", "(", "(*", "TRANSITION", "?", "T#5s", ".", "FROM"]
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(words) - 1))
        words[at : at + 1] = data.draw(st.sampled_from([[], [words[at]] * 2, *([word] for word in strays)]))
    assert all(one.span is not None for one in _said(" ".join(words)))


def _said(text: str) -> tuple[Diagnostic, ...]:
    try:
        TARGET.read(text, "x.sfc", MACHINE)
    except ReadBack as told:
        return told.diagnostics
    return ()
