"""Conditions about steps, said as whoever wrote the sequence says them. Worked out from the words of each program."""

from __future__ import annotations

import pytest

from compiler.tell import tell
from compiler.understand import understand
from grammar.source import Source

STATIONS = """\
machine "Plate marker"
pneumatic cylinder FEED
    stroke 100 mm, extends in 1 s to 2 s, retracts in 1 s to 2 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
pneumatic cylinder STYLUS
    stroke 40 mm, extends in 1 s to 2 s, retracts in 1 s to 2 s
    single solenoid valve SOL2, spring return
    limit switch LS3 at end, LS4 at home
pushbutton START, normally open
signal PLATE-READY
cycle of FEEDING
    when START is pressed
    extend FEED until at-end
    turn on PLATE-READY
    {waiting}
    turn off PLATE-READY
    retract FEED until at-home
cycle of MARKING
    when PLATE-READY is on
    extend STYLUS until at-end
    retract STYLUS until at-home
"""


def told(waiting: str) -> str:
    program = understand(Source("test", STATIONS.format(waiting=waiting)))
    assert program.chart is not None, program.diagnostics
    return "\n".join(tell(program.machine, program.chart))


def test_a_signal_is_told_by_its_name_and_the_steps_that_it_is() -> None:
    """It is turned on in FEEDING_S2, the step behind the stroke, and off behind the wait."""
    assert "When PLATE-READY is on (FEEDING_S2 is active" in told("wait until MARKING is not at rest")


@pytest.mark.parametrize(
    ("waiting", "words"),
    [
        ("wait until MARKING is not at rest", "until MARKING is not at rest (MARKING_S0 is not active), then"),
        ("hold 2 s, wait until MARKING is at rest", "until MARKING is at rest (MARKING_S0 is active), then"),
    ],
)
def test_a_station_at_rest_is_told_so(waiting: str, words: str) -> None:
    assert words in told(waiting)


def test_two_phrases_in_one_condition_are_told_by_steps() -> None:
    """Which of them is which cannot be seen from the words alone, so neither is named by a guess."""
    both = told("wait until MARKING is at rest or PLATE-READY is off")
    assert "MARKING is at rest" not in both


def test_what_holds_in_one_of_two_ways_stands_in_brackets_behind_a_signal() -> None:
    """Without them it would read as though either switch alone let the marking begin."""
    said = told("wait until MARKING is at rest and (LS1 is made or LS2 is made)")
    assert "until MARKING is at rest (MARKING_S0 is active) and (LS1 is made or LS2 is made), then" in said
