"""Timers against tables worked out from the rules of IEC 61131-3:2013 Table 46 (from memory).

An event at a time is already visible in the values listed at that time.
"""

from __future__ import annotations

import pytest

from compiler.timers import Phase, TimerKind, advance, operated

PRESET = 5
PATTERNS = {
    "short": [(1, 3)],
    "long": [(1, 9)],
    "two pulses": [(1, 3), (5, 12)],
    "three pulses": [(1, 2), (4, 5), (8, 9)],
}

# Each row is worked out by hand from the rules, preset 5: kind, pattern, where the output is on.
ROWS = [
    (TimerKind.ON_DELAY, "short", []),
    (TimerKind.ON_DELAY, "long", [(6, 9)]),
    (TimerKind.ON_DELAY, "two pulses", [(10, 12)]),
    (TimerKind.OFF_DELAY, "short", [(1, 8)]),
    (TimerKind.OFF_DELAY, "long", [(1, 14)]),
    (TimerKind.OFF_DELAY, "two pulses", [(1, 17)]),
    (TimerKind.ONE_SHOT, "short", [(1, 6)]),
    (TimerKind.ONE_SHOT, "long", [(1, 6)]),
    (TimerKind.ONE_SHOT, "two pulses", [(1, 6)]),
    (TimerKind.ONE_SHOT, "three pulses", [(1, 6), (8, 13)]),
    (TimerKind.RETRIGGERABLE, "two pulses", [(1, 10)]),
    (TimerKind.RETRIGGERABLE, "three pulses", [(1, 13)]),
]


def within(t: int, stretches: list[tuple[int, int]]) -> bool:
    return any(start <= t < end for start, end in stretches)


def run(kind: TimerKind, pattern: list[tuple[int, int]]) -> list[bool]:
    """A timer driven second by second, its clock kept here."""
    phase, due, trace = Phase.IDLE, None, []
    for t in range(20):
        turn = advance(kind, phase, within(t, pattern), expired=due == t)
        phase = turn.phase
        due = t + PRESET if turn.started else due
        trace.append(operated(kind, phase))
    return trace


@pytest.mark.parametrize(("kind", "pattern", "on"), ROWS)
def test_output_follows_the_table(kind: TimerKind, pattern: str, on: list[tuple[int, int]]) -> None:
    assert run(kind, PATTERNS[pattern]) == [within(t, on) for t in range(20)]


@pytest.mark.parametrize("kind", list(TimerKind))
def test_a_dead_input_at_power_up_runs_no_pulse(kind: TimerKind) -> None:
    assert advance(kind, Phase.IDLE, energised=False, expired=False).phase is Phase.IDLE


def test_an_on_delay_whose_input_goes_as_it_expires_does_not_operate() -> None:
    assert advance(TimerKind.ON_DELAY, Phase.RUNNING, energised=False, expired=True).phase is Phase.IDLE


def test_a_one_shot_needs_a_new_rise_after_its_pulse() -> None:
    turn = advance(TimerKind.ONE_SHOT, Phase.RUNNING, energised=True, expired=True)
    assert turn.phase is Phase.DONE
    assert advance(TimerKind.ONE_SHOT, turn.phase, energised=True, expired=False).phase is Phase.DONE
