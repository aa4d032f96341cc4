"""Standard blocks against IEC 61131-3:2013 Tables 43 to 46 (from memory; call by call and interval by interval,
worked by hand from the table's definitions)."""

from __future__ import annotations

import pytest

from compiler.logic import Bits, Chattering
from tests.structured_text.clock import intervals, logic_of

SECOND = 1_000_000
# Input patterns: when the input is on, in seconds.
PATTERNS = {"A": [(1, 3)], "B": [(1, 9)], "C": [(1, 3), (5, 12)], "D": [(1, 2), (4, 5), (8, 9)]}
# PT = 5 s: when Q is on.
TIMED: dict[tuple[str, str], list[tuple[int, int]]] = {
    ("TON", "A"): [],
    ("TON", "B"): [(6, 9)],
    ("TON", "C"): [(10, 12)],
    ("TOF", "A"): [(1, 8)],
    ("TOF", "B"): [(1, 14)],
    ("TOF", "C"): [(1, 17)],
    ("TP", "A"): [(1, 6)],
    ("TP", "B"): [(1, 6)],
    ("TP", "C"): [(1, 6)],
    ("TP", "D"): [(1, 6), (8, 13)],
}


def program(body: str, variables: str = "", inputs: str = "x", outputs: str = "y : BOOL;") -> str:
    return (
        f"FUNCTION_BLOCK F VAR_INPUT {inputs} : BOOL; END_VAR VAR_OUTPUT {outputs} END_VAR "
        f"VAR {variables} END_VAR {body} END_FUNCTION_BLOCK"
    )


@pytest.mark.parametrize(("block", "pattern"), TIMED)
def test_timers(block: str, pattern: str) -> None:
    logic = logic_of(program("b(IN := x, PT := T#5s, Q => y);", f"b : {block};"), ("x",), ("y",))
    changes: dict[int, Bits] = {
        t * SECOND: (on,) for start, end in PATTERNS[pattern] for t, on in ((start, True), (end, False))
    }
    found = [(start / SECOND, end / SECOND) for start, end in intervals(logic, changes, 20 * SECOND)]
    assert found == TIMED[block, pattern]


def test_an_off_delay_runs_no_pulse_at_cold_start() -> None:
    logic = logic_of(program("b(IN := x, PT := T#5s); y := b.Q;", "b : TOF;"), ("x",), ("y",))
    assert intervals(logic, {}, 20 * SECOND) == []


@pytest.mark.parametrize(
    ("block", "clk", "q"),
    [
        ("R_TRIG", "011010", "010010"),
        ("R_TRIG", "1101", "1001"),  # the first call with CLK on gives a pulse
        ("F_TRIG", "110010", "001001"),
        ("F_TRIG", "0010", "1001"),  # the first call with CLK off gives a pulse
    ],
)
def test_edges(block: str, clk: str, q: str) -> None:
    """The pulse lasts one call. A toggle counts it, since a reaction goes on until nothing changes."""
    text = program("e(CLK := x); IF e.Q THEN n := n + 1; END_IF; y := (n MOD 2) = 1;", f"e : {block}; n : INT;")
    logic = logic_of(text, ("x",), ("y",))
    reaction = logic.power_up((clk[0] == "1",))
    pulses = [reaction.outputs[0]]
    for bit in clk[1:]:
        before = reaction.outputs[0]
        reaction = logic.react(reaction.state, (bit == "1",))
        pulses.append(reaction.outputs[0] != before)
    # A call with the input unchanged is no new reaction to an edge: the same call is simply repeated.
    assert "".join(str(int(p)) for p in pulses) == q


@pytest.mark.parametrize(("block", "pins", "q"), [
    ("SR", "S1 := one, R := two", "0110110"),
    ("RS", "S := one, R1 := two", "0110000"),
])  # fmt: skip
def test_bistables(block: str, pins: str, q: str) -> None:
    logic = logic_of(program(f"b({pins}, Q1 => y);", f"b : {block};", "one, two"), ("one", "two"), ("y",))
    calls = [(call[0] == "1", call[1] == "1") for call in ["00", "10", "00", "01", "11", "00", "01"]]
    reaction = logic.power_up(calls[0])
    outputs = [reaction.outputs[0]]
    for call in calls[1:]:
        reaction = logic.react(reaction.state, call)
        outputs.append(reaction.outputs[0])
    assert "".join(str(int(bit)) for bit in outputs) == q


@pytest.mark.parametrize(("block", "pins", "calls", "cv", "q"), [
    ("CTU", "CU := one, R := two, PV := 3, Q => y, CV => n", "00 10 10 00 10 00 10 00 10 11 10 00 10",
     "0 1 1 1 2 2 3 3 4 0 0 0 1", ["0000001110000"]),
    ("CTD", "CD := one, LD := two, PV := 3, Q => y", "00 01 10 00 10 00 10 00 10 01",
     "0 3 2 2 1 1 0 0 -1 3", ["1000001110"]),
    ("CTUD", "CU := one, CD := two, R := three, LD := four, PV := 2, QU => y, QD => z",
     "0000 0001 1000 0100 0000 1100 0000 0100 0000 0100 0011 0000 0100",
     "0 2 3 2 2 2 2 1 1 0 0 0 -1", ["0111111000000", "1000000001111"]),
])  # fmt: skip
def test_counters(block: str, pins: str, calls: str, cv: str, q: list[str]) -> None:
    """An edge that comes with R or LD is lost, both edges at once change nothing, R beats LD; counting goes past PV
    and below 0. Traces worked out by hand from IEC 61131-3:2013 Table 45 (from memory)."""
    devices = ("one", "two", "three", "four")[: len(calls.split()[0])]
    text = program(f"b({pins});", f"b : {block};", ", ".join(devices), "y, z : BOOL; n : INT;")
    logic = logic_of(text, devices, ("y", "z"))
    counts, outputs = [], []
    reaction = None
    for call in calls.split():
        inputs = tuple(bit == "1" for bit in call)
        reaction = logic.power_up(inputs) if reaction is None else logic.react(reaction.state, inputs)
        counts.append(next(word for word in logic.lit(reaction.state) if word.startswith("b.CV = ")))
        outputs.append(reaction.outputs)
    assert counts == [f"b.CV = {value}" for value in cv.split()]
    for k, trace in enumerate(q):
        assert "".join(str(int(bits[k])) for bits in outputs) == trace


@pytest.mark.parametrize(("pins", "loading", "counting"), [
    ("CU := one, R := FALSE, PV := 0", "", 32767), ("CD := one, LD := FALSE, PV := 0", "", -32768),
])  # fmt: skip
def test_counting_stops_at_the_end_of_int(pins: str, loading: str, counting: int) -> None:
    """PVmax and PVmin of Table 45 (from memory): CV stays at the end of its type, it does not wrap round."""
    block = "CTU" if counting > 0 else "CTD"
    logic = logic_of(program(f"b({pins}); y := one;", f"b : {block};", "one"), ("one",), ("y",))
    plan = logic.plan  # type: ignore[attr-defined]  # the Logic of a program
    place = [slot.field for slot in plan.slots].index("CV")
    state = list(plan.start)
    state[place] = counting
    assert logic.lit(logic.react(tuple(state), (True,)).state)[-1] == f"b.CV = {counting}"


def test_a_block_that_is_not_called_keeps_its_state() -> None:
    """Called only while x is on: the time that ran out meanwhile is noticed at the next call, not before."""
    body = "IF x THEN b(IN := TRUE, PT := T#5s); END_IF; y := b.Q;"
    logic = logic_of(program(body, "b : TON;"), ("x",), ("y",))
    changes: dict[int, Bits] = {1 * SECOND: (True,), 2 * SECOND: (False,), 9 * SECOND: (True,), 10 * SECOND: (False,)}
    assert intervals(logic, changes, 20 * SECOND) == [(9 * SECOND, 20 * SECOND)]


def test_an_input_left_out_of_a_call_keeps_its_value() -> None:
    body = "IF x THEN b(S1 := TRUE, R := FALSE); ELSE b(); END_IF; y := b.Q1;"
    logic = logic_of(program(body, "b : SR;"), ("x",), ("y",))
    assert intervals(logic, {1 * SECOND: (True,), 2 * SECOND: (False,)}, 5 * SECOND) == [(1 * SECOND, 5 * SECOND)]


def test_a_timer_restarted_at_one_instant_is_reported() -> None:
    """The edge of x switches the timer's input off for one scan: its clock starts from zero without a pause."""
    body = "e(CLK := x); b(IN := NOT e.Q, PT := T#5s); y := b.Q;"
    logic = logic_of(program(body, "e : R_TRIG; b : TON;"), ("x",), ("y",))
    first = logic.power_up((False,))
    assert (first.running, first.started) == (frozenset({0}), frozenset({0}))
    quiet = logic.react(first.state, (False,))
    assert (quiet.running, quiet.started) == (frozenset({0}), frozenset())
    again = logic.react(first.state, (True,))
    assert (again.running, again.started) == (frozenset({0}), frozenset({0}))


def test_a_pulse_called_twice_in_a_scan_is_looked_at_again() -> None:
    """Once the pulse is over, the second call lets it go, which only the first call of the next scan can notice."""
    body = "b(IN := x, PT := T#5s); IF z THEN b(IN := FALSE, PT := T#5s); END_IF; y := b.Q;"
    logic = logic_of(program(body, "b : TP;", "x, z"), ("x", "z"), ("y",))
    over = logic.react(logic.power_up((True, False)).state, (True, False), frozenset({0}))
    assert over.outputs == (False,)
    again = logic.react(over.state, (True, True))
    assert (again.outputs, again.started) == ((True,), frozenset({0}))


def test_chattering_names_what_changes() -> None:
    logic = logic_of(program("z := NOT z; n := 3; y := x;", "z : BOOL; n : INT;"), ("x",), ("y",))
    with pytest.raises(Chattering) as caught:
        logic.power_up((False,))
    assert caught.value.loop == ("z",)


def test_what_counts_without_end_is_chattering() -> None:
    logic = logic_of(program("n := n + 1; y := x;", "n : INT;"), ("x",), ("y",))
    with pytest.raises(Chattering) as caught:
        logic.power_up((False,))
    assert caught.value.loop == ("n",)


def test_case_takes_the_first_match_only_and_does_not_fall_through() -> None:
    """IEC 61131-3:2003 3.3.2.3 (from memory): no match and no ELSE runs nothing."""
    entries = "1: m := 10; 2, 3: m := 20; 5..9: m := 30; -4: m := 40;"
    for n, want in {0: 7, 1: 10, 2: 20, 3: 20, 4: 7, 5: 30, 7: 30, 9: 30, 10: 7, -4: 40}.items():
        body = f"n := {n}; m := 7; CASE n OF {entries} END_CASE; y := m = {want};"
        logic = logic_of(program(body, "n, m : INT;"), ("x",), ("y",))
        assert logic.power_up((False,)).outputs == (True,), n
    body = f"n := 4; CASE n OF {entries} ELSE m := 50; END_CASE; y := m = 50;"
    assert logic_of(program(body, "n, m : INT;"), ("x",), ("y",)).power_up((False,)).outputs == (True,)


@pytest.mark.parametrize(("calls", "most"), [
    ("c(CU := one, R := FALSE, PV := 3, Q => y);", 3),  # only Q is seen
    ("c(CU := one, R := FALSE, PV := 3, Q => y); IF c.CV = 7 THEN y := FALSE; END_IF;", 9),
    ("c(CU := one, R := FALSE, PV := 3, Q => y, CV => n);", 9),
    ("c(CU := one); IF two THEN c(CU := FALSE, PV := 3, Q => y); END_IF;", 9),  # PV is 0 until it is given
])  # fmt: skip
def test_a_counter_stops_at_its_preset_where_nobody_can_tell(calls: str, most: int) -> None:
    logic = logic_of(program(calls, "c : CTU;", "one, two", "y : BOOL; n : INT;"), ("one", "two"), ("y",))
    reaction = logic.power_up((False, False))
    for _ in range(9):
        for one in (True, False):
            reaction = logic.react(reaction.state, (one, False))
    counts = [word for word in logic.lit(reaction.state) if word.startswith("c.CV")]
    assert counts == [f"c.CV = {most}"]
