"""Programs with valves that have a centre, quick strokes and motors, read back from print and told again."""

from __future__ import annotations

import pytest

from compiler.proof.verdict import Standing
from compiler.retell.retell import retell
from compiler.understand import understand
from grammar.source import Source
from targets.build import read_back
from targets.structured_text import TARGET
from targets.target import Artefact, Options

HEAD = """machine "Pallet press"

hydraulic cylinder PRESS
    stroke 250 mm
    extends in 4 s to 5 s
    retracts in 2 s to 3 s
    {valve}
    limit switch LS1 at end
    limit switch LS2 at home
    limit switch LS3 at 200 mm

electric motor FEED, M1 forward, M2 reverse
pushbutton START, normally open
pushbutton STOP, normally closed
sensor PART

home when PRESS is at-home

cycle
    when START is pressed
"""
QUICK = "\n    rapid solenoid SOL3\n    extends rapidly in 1 s"
CYCLES = {
    "three-position valve SOL1 extends, SOL2 retracts, tandem centre" + QUICK: """
    run FEED forward until PART is made
    extend PRESS rapidly until LS3 is made
    extend PRESS until at-end
    stop PRESS and wait 2 s
    retract PRESS until at-home
    stop PRESS and run FEED in reverse for 1 s
""",
    "double solenoid valve SOL1 extends, SOL2 retracts" + QUICK: """
    run FEED in reverse until PART is made
    extend PRESS rapidly until LS3 is made
    extend PRESS until at-end
    retract PRESS until at-home
""",
    "single solenoid valve SOL1, spring return" + QUICK: """
    extend PRESS until LS3 is made
    extend PRESS rapidly until at-end
    hold 2 s
    retract PRESS and run FEED forward until at-home
""",
}


@pytest.mark.parametrize("valve", CYCLES)
def test_what_was_printed_is_told_in_the_words_it_was_written_in(valve: str) -> None:
    text = HEAD.format(valve=valve) + CYCLES[valve].lstrip("\n") + "\nwhen STOP is pressed, drop out everything\n"
    understood = understand(Source("test", text))
    assert understood.machine is not None
    assert understood.chart is not None, understood.diagnostics
    printed = next(iter(TARGET.emit(understood.machine, understood.chart, options=Options())))
    assert isinstance(printed, Artefact)
    retold = retell(read_back(printed, understood.machine), understood.machine)
    assert retold.proof is not None
    assert retold.proof.standing is Standing.SAME
    told, written = (
        [line.strip() for line in t.splitlines() if line.startswith("    ")] for t in (retold.text, text)
    )
    assert told == written
