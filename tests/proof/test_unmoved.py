"""A difference in a solenoid that moves nothing as it begins is told so; one that moves something is not.

The valve stays where it was put and the rod stands out while the cycle holds, so that its solenoid may be on or off.
"""

from __future__ import annotations

import pytest

from compiler.chart_logic import chart_logic
from compiler.proof.prove import prove
from compiler.proof.telling import sentence
from compiler.understand import understand
from grammar.source import Source
from targets.relay.read import read

PUSHER = """\
machine "Tag pusher"
pneumatic cylinder A
    stroke 100 mm, extends in 1 s to 2 s, retracts in 1 s to 2 s
    double solenoid valve Y1 extends, Y2 retracts
    limit switch LS1 at end, LS2 at home
pushbutton START, normally open
cycle
    when START is pressed
    extend A until at-end
    hold 1 s
    retract A until at-home
"""
CHAIN = """\
timer TR1, on-delay 1 s
rung 1: START or CR1, CR4 NC, feeds CR1
rung 2: CR1, LS1 or CR2, feeds CR2
rung 3: CR2, TR1 NOTC or CR3, feeds CR3
rung 4: CR3, LS2 or CR4, feeds CR4
rung 5: CR2, feeds TR1
rung 6: CR1, {past} NC, feeds Y1
rung 7: {back}, feeds Y2
"""
SAID = "A is out already: nothing moves otherwise at that moment"


@pytest.mark.parametrize(
    ("past", "back", "said"),
    [("CR3", "CR3", True), ("CR2", "CR2", False)],
    ids=["the solenoid stays on through the hold", "the rod goes back without the hold"],
)
def test_a_solenoid_that_moves_nothing_is_told(past: str, back: str, said: bool) -> None:
    program = understand(Source("pusher.seq", PUSHER))
    assert program.chart is not None, program.diagnostics
    rungs = read(CHAIN.format(past=past, back=back), "pusher.rungs", program.machine)
    proof = prove(chart_logic(program.chart), rungs, program.machine)
    told = [sentence(outside.run, program.machine) for outside in proof.outside if outside.run is not None]
    assert told
    assert any(SAID in one for one in told) == said, told
