"""The compiled scan, with all its shortcuts, against the tree walked step by step."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from compiler.logic import Chattering, Reaction
from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from compiler.program import ProgramLogic, program_logic
from grammar.source import Source
from grammar.structured_text import read, write
from grammar.structured_text.blocks import BLOCKS, Kind
from grammar.structured_text.tree import Assignment, Call, Duration, Expression, Given, Integer, Name, Unit, Variable
from tests.structured_text.clock import logic_of
from tests.structured_text.stepwise import Memory, first_memory, scan
from tests.structured_text.strategies import INSTANCES, SECTIONS, SHARED, UNTIMED, units

MACHINE = Machine(
    inputs=tuple(Input(name=name, kind=InputKind.SENSOR) for name in ("START", "Ls_1")),
    loads=tuple(Load(name=name, kind=LoadKind.LAMP) for name in ("SOL1", "SOL2")),
)
KINDS = {name.text.lower(): kind for kind, name in INSTANCES.items()}
_MOST = 400  # scans in one look; beyond, the walk takes it for chattering


def settled(unit: Unit, memory: Memory, inputs: tuple[bool, bool]) -> tuple[bool, ...] | None:
    """Scans until nothing changes; the outputs then, or None where that never comes."""
    memory |= {"start": inputs[0], "ls_1": inputs[1]}
    for _ in range(_MOST):
        before = dict(memory)
        scan(unit, memory, KINDS)
        if memory == before:
            return bool(memory["sol1"]), bool(memory["sol2"])
    return None


sources = st.lists(st.sampled_from(["START", "Ls_1", "x1", "flag", "SOL1"]), min_size=5, max_size=5)


def call(kind: str, sources: list[str]) -> Call:
    """A call of a block with all its pins given, the BOOL ones by those variables in turn."""
    values: dict[Kind, Expression] = {Kind.INT: Integer("2"), Kind.TIME: Duration("t#1m30s")}
    return Call(
        INSTANCES[kind],
        tuple(
            Given(Name(pin), values.get(of, Variable(Name(source))))
            for (pin, of), source in zip(BLOCKS[kind].inputs.items(), sources, strict=False)
        ),
    )


# SOL2 told by what blocks and numbers are, so that little of what goes on inside stays unseen.
COUNTED = "SOL2 := bCTUD.QU OR (bCTU.CV = 1) XOR (bCTD.CV = 1) OR (StepNo = 1) OR (n2 = 2) OR (bRS.Q1 <> bSR.Q1)"
TIMED = "SOL2 := bTON.Q XOR bTOF.Q XOR bTP.Q"


def assignment(text: str) -> Assignment:
    empty = write(Unit("PROGRAM", Name("P"), SECTIONS, (), SHARED))
    reading = read(Source("t.st", empty.replace("END_PROGRAM", f"{text}; END_PROGRAM")))
    assert reading.tree is not None
    (made,) = reading.tree.body
    assert isinstance(made, Assignment)
    return made


@settings(max_examples=120, deadline=None)
@given(units(UNTIMED), sources, st.lists(st.tuples(st.booleans(), st.booleans()), min_size=2, max_size=8))
def test_the_compiled_scan_does_what_the_tree_says(
    drawn: Unit, sources: list[str], looks: list[tuple[bool, bool]]
) -> None:
    calls = tuple(call(kind, sources[k % 3 :]) for k, kind in enumerate(UNTIMED))
    unit = replace(drawn, body=(*calls, *drawn.body, assignment(COUNTED)))
    reading = read(Source("t.st", write(unit)))
    assert reading.sound
    assert reading.tree is not None
    logic = program_logic(reading.tree, MACHINE, {name: name for name in ("START", "Ls_1", "SOL1", "SOL2")})
    assert isinstance(logic, ProgramLogic)
    memory, state = first_memory(unit), None
    for inputs in looks:
        want = settled(unit, memory, inputs)
        try:
            reaction = logic.power_up(inputs) if state is None else logic.react(state, inputs)
        except Chattering:
            event("chatters")
            assert want is None
            return
        if want is None:  # the walk remembers what does not matter, and may wait for that too
            event("the walk is restless")
            return
        assert reaction.outputs == want
        state = reaction.state
    event("settles each time")


@settings(max_examples=80, deadline=None)
@given(
    units(),
    sources,
    st.lists(st.tuples(st.booleans(), st.booleans(), st.sets(st.integers(0, 3))), min_size=2, max_size=8),
)
def test_the_last_scan_that_is_left_out_would_have_changed_nothing(
    drawn: Unit, sources: list[str], looks: list[tuple[bool, bool, set[int]]]
) -> None:
    """With timers, some of which run out: the same as when scanning on until a scan changes nothing at all."""
    timers = tuple(call(kind, sources[k:]) for k, kind in enumerate(("TON", "TOF", "TP")))
    unit = replace(drawn, body=(assignment(TIMED), *timers, *drawn.body))
    logic = program_logic(unit, MACHINE, {name: name for name in ("START", "Ls_1", "SOL1", "SOL2")})
    assert isinstance(logic, ProgramLogic)
    scan_once = logic.scan
    patient = replace(logic, scan=lambda state, wires, started: (*scan_once(state, wires, started)[:2], True))
    state: Hashable = None
    for first, second, late in looks:
        expired = frozenset(late) & frozenset(range(len(logic.timers)))
        reactions: list[Reaction | None] = []
        for one in (logic, patient):
            try:
                inputs = (first, second)
                reactions.append(one.power_up(inputs) if state is None else one.react(state, inputs, expired))
            except Chattering:
                reactions.append(None)
        ours, theirs = reactions
        assert ours == theirs
        if ours is None:
            return
        event(f"{len(ours.started)} timers started")
        state = ours.state


def state_of(declarations: str, body: str) -> list[str]:
    """What is remembered of a program with input x and output y."""
    text = f"PROGRAM P VAR_INPUT x : BOOL; END_VAR VAR_OUTPUT y : BOOL; END_VAR {declarations} {body} END_PROGRAM"
    logic = logic_of(text, ("x",), ("y",))
    assert isinstance(logic, ProgramLogic)
    return [f"{slot.name}.{slot.field}".rstrip(".") for slot in logic.plan.slots]


def test_only_what_one_scan_leaves_to_the_next_is_remembered() -> None:
    own = "VAR a, b : BOOL; n : INT; k : INT := 5; e : R_TRIG; t : TON; END_VAR"
    assert state_of(own, "a := x; y := a;") == []
    assert state_of(own, "y := a; a := x;") == ["a"]
    assert state_of(own, "IF x THEN a := TRUE; END_IF; y := a;") == ["a"]
    assert state_of(own, "IF x THEN a := TRUE; ELSE a := FALSE; END_IF; y := a;") == []
    assert state_of(own, "IF x THEN RETURN; END_IF; a := x; y := a;") == ["y"]
    assert state_of(own, "IF x THEN a := TRUE; END_IF; y := x;") == []
    assert state_of(own, "IF x THEN y := TRUE; END_IF;") == ["y"]
    assert state_of(own, "CASE n OF 1: a := x; ELSE a := b; END_CASE; y := a;") == []
    assert state_of(own, "CASE n OF 1: a := x; END_CASE; y := a;") == ["a"]
    assert state_of(own, "y := k = 5;") == []
    assert state_of(own, "y := y OR x;") == ["y"]
    assert state_of(own, "e(CLK := x); y := e.Q;") == ["e.M"]
    assert state_of(own, "y := e.Q; e(CLK := x);") == ["e.M", "e.Q"]
    assert state_of(own, "n := n + 0; t(IN := x, PT := T#1s); y := t.Q;") == ["t.phase", "n"]
    assert state_of(own, "t.IN := x; t(PT := T#1s); y := t.Q;") == ["t.phase"]
    assert state_of(own, "t(PT := T#1s); t.IN := x; y := t.Q;") == ["t.phase", "t.pin IN"]


@pytest.mark.parametrize("n", range(5))
@pytest.mark.parametrize("m", range(3))
def test_numbers_looked_up_together_are_each_looked_at(n: int, m: int) -> None:
    text = (
        "PROGRAM P VAR_INPUT x : BOOL; END_VAR VAR_OUTPUT y : BOOL; END_VAR VAR CONSTANT TOP : INT := 3; END_VAR "
        f"VAR n, m : INT; END_VAR n := {n}; m := {m}; y := n = 1 OR m = 2 OR x OR n = TOP; END_PROGRAM"
    )
    assert logic_of(text, ("x",), ("y",)).power_up((False,)).outputs == (n in (1, 3) or m == 2,)


def test_a_temporary_variable_begins_anew_in_every_scan() -> None:
    """IEC 61131-3:2003 2.4.3 (from memory): VAR_TEMP is allocated and initialised at each call."""
    text = (
        "PROGRAM P VAR_INPUT x : BOOL; END_VAR VAR_OUTPUT y : BOOL; END_VAR VAR_TEMP n : INT := 2; END_VAR "
        "IF x THEN n := n + 1; END_IF; y := n = 3; END_PROGRAM"
    )
    logic = logic_of(text, ("x",), ("y",))
    on = logic.power_up((True,))
    assert on.outputs == (True,)
    assert logic.react(on.state, (False,)).outputs == (False,)


def test_what_comes_after_return_waits_for_the_next_scan() -> None:
    """IEC 61131-3:2003 3.3.2.2 (from memory): RETURN leaves the unit early; variables keep what they had."""
    text = (
        "PROGRAM P VAR_INPUT x : BOOL; END_VAR VAR_OUTPUT y, z : BOOL; END_VAR "
        "z := x; IF x THEN RETURN; y := TRUE; END_IF; y := NOT z; END_PROGRAM"
    )
    logic = logic_of(text, ("x",), ("y", "z"))
    off = logic.power_up((False,))
    assert off.outputs == (True, False)
    on = logic.react(off.state, (True,))
    assert on.outputs == (True, True)
    assert logic.power_up((True,)).outputs == (False, True)


def test_what_is_on_inside_leaves_out_the_outputs() -> None:
    """SOL1 keeps its value from scan to scan, but it is a load and told as one."""
    text = (
        "PROGRAM P VAR_INPUT START : BOOL; END_VAR VAR_OUTPUT SOL1 : BOOL; END_VAR VAR kept : BOOL; n : INT; END_VAR "
        "SOL1 := START OR SOL1; kept := START OR kept; IF START AND n = 0 THEN n := 3; END_IF; END_PROGRAM"
    )
    logic = logic_of(text, ("START",), ("SOL1",))
    at = logic.power_up((True,))
    assert at.outputs == (True,)
    assert logic.lit(at.state) == ("kept", "n = 3")
