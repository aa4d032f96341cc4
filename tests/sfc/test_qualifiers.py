"""What each qualifier makes of an action: rows derived from the ACTION_CONTROL block (IEC 61131-3:2003 2.6.4.5 and
Table 45, from memory). The step is active from 0 s for 10 s, or for 2 s; the time is 3 s; R acts at 20 s."""

from __future__ import annotations

import pytest

from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from targets.sfc import TARGET
from tests.structured_text.clock import Clocked

MACHINE = Machine(
    inputs=tuple(Input(name=name, kind=InputKind.PUSHBUTTON) for name in ("ON", "DONE", "CLEAR")),
    loads=(Load(name="LAMP", kind=LoadKind.LAMP),),
)
TEXT = """FUNCTION_BLOCK FB_Rig
VAR_INPUT N_ON : BOOL; DONE : BOOL; CLEAR : BOOL; END_VAR
VAR_OUTPUT LAMP : BOOL; END_VAR
INITIAL_STEP Rest: END_STEP
TRANSITION FROM Rest TO Work := N_ON; END_TRANSITION
STEP Work: LAMP({qualifier}); END_STEP
TRANSITION FROM Work TO Still := DONE; END_TRANSITION
STEP Still: END_STEP
TRANSITION FROM Still TO Over := CLEAR; END_TRANSITION
STEP Over: LAMP(R); END_STEP
END_FUNCTION_BLOCK
"""
S = 1_000_000
# qualifier, when the lamp is on with the step active for 10 s, and for 2 s
TABLE = [
    ("N", [(0, 10)], [(0, 2)]),
    ("S", [(0, 20)], [(0, 20)]),
    ("R", [], []),
    ("L, T#3s", [(0, 3)], [(0, 2)]),
    ("D, T#3s", [(3, 10)], []),
    ("SD, T#3s", [(3, 20)], [(3, 20)]),
    ("DS, T#3s", [(3, 20)], []),
    ("SL, T#3s", [(0, 3)], [(0, 3)]),
    ("P", [], []),
    ("P1", [], []),
    ("P0", [], []),
]


@pytest.mark.parametrize(("qualifier", "long", "short"), TABLE, ids=[row[0] for row in TABLE])
def test_the_table_of_qualifiers(qualifier: str, long: list[tuple[int, int]], short: list[tuple[int, int]]) -> None:
    logic = TARGET.read(TEXT.format(qualifier=qualifier), "x.sfc", MACHINE)
    for lasts, expected in ((10, long), (2, short)):
        run = Clocked(logic, (False, False, False))
        zero = 100 * S
        for at, inputs in ((0, (1, 0, 0)), (lasts, (1, 1, 0)), (20, (1, 1, 1)), (30, (1, 1, 1))):
            run.advance(zero + at * S, tuple(map(bool, inputs)))
        last: dict[int, bool] = {at: outputs[0] for at, outputs in run.trace}
        times = sorted(last)
        edges = [t for k, t in enumerate(times) if last[t] != (k > 0 and last[times[k - 1]])]
        assert [(a - zero) / S for a in edges] == [moment for span in expected for moment in span]


COUNTED = """FUNCTION_BLOCK FB_Rig
VAR_INPUT N_ON : BOOL; DONE : BOOL; CLEAR : BOOL; END_VAR
VAR_OUTPUT LAMP : BOOL; END_VAR
VAR n : INT; END_VAR
INITIAL_STEP Rest: Many({rest}); END_STEP
TRANSITION FROM Rest TO Work := N_ON; END_TRANSITION
STEP Work: Many({work}); END_STEP
TRANSITION FROM Work TO Still := DONE; END_TRANSITION
STEP Still: END_STEP
ACTION Many: n := n + 1; LAMP := n >= 2; END_ACTION
END_FUNCTION_BLOCK
"""


@pytest.mark.parametrize(
    ("rest", "work", "runs"),
    [("P1", "R", 1), ("P0", "R", 0), ("R", "P1", 1), ("R", "P0", 1), ("R", "P", 1), ("P1", "P1", 2), ("P0", "P0", 2)],
)
def test_a_pulse_is_one_run_of_the_body(rest: str, work: str, runs: int) -> None:
    """A step with R masks what the one before it would still do as it is left."""
    logic = TARGET.read(COUNTED.format(rest=rest, work=work), "x.sfc", MACHINE)
    now = logic.power_up((False, False, False))
    for inputs in ((True, False, False), (True, True, False)):
        now = logic.react(now.state, inputs)
    assert f"n = {runs}" in logic.lit(now.state)
    assert now.outputs == (runs >= 2,)
