"""The usual cycle of a machine with a choice goes the way that is written first."""

from __future__ import annotations

import pytest

from compiler.chart_logic import chart_logic
from compiler.checking.scenarios import make_scenarios, usual_cycle
from compiler.simulation.run import EventKind
from compiler.simulation.simulate import simulate
from compiler.understand import understand
from grammar.source import Source
from targets.walkthrough import as_markdown, walk_through
from targets.walkthrough.scenes import Scenes

CAPPER = """\
machine "Jar capper"
pneumatic cylinder CAPPER
    stroke 60 mm, extends in 1 s to 2 s, retracts in 1 s to 2 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
pneumatic cylinder REJECT
    stroke 60 mm, extends in 1 s to 2 s, retracts in 1 s to 2 s
    single solenoid valve SOL2, spring return
    limit switch LS3 at end, LS4 at home
pushbutton START, normally open
sensor JAR
cycle
    when START is pressed
    hold 1 s
    if JAR is {made}
        extend CAPPER until at-end
        retract CAPPER until at-home
    otherwise
        extend REJECT until at-end
        retract REJECT until at-home
"""


@pytest.mark.parametrize(("made", "sensor"), [("made", {"JAR"}), ("not made", set())])
def test_the_first_way_of_a_choice_is_taken_and_the_sensor_is_as_it_asks(made: str, sensor: set[str]) -> None:
    program = understand(Source("jar.seq", CAPPER.format(made=made)))
    machine, chart = program.machine, program.chart
    assert chart is not None, program.diagnostics
    cycle = usual_cycle(machine, chart)
    assert cycle == make_scenarios(machine, chart)[0]
    done = {event.device for event in cycle.events if event.kind is EventKind.INPUT and event.on}
    assert done - {"START"} == sensor
    run = simulate(machine, chart_logic(chart), cycle)
    came_on = {change.signal for change in run.changes if change.on}
    assert ("SOL1" in came_on, "SOL2" in came_on) == (True, False)
    told = " ".join(as_markdown(walk_through(machine, chart)).split())
    said = "In this cycle JAR is made from the beginning, which decides its choices."
    assert (said in told) == bool(sensor)
    assert Scenes.of(machine, chart, chart_logic(chart)).normal.scenario.events == cycle.events


ROUND_AND_ROUND = """\
machine "Two stations"
pneumatic cylinder FEED
    stroke 60 mm, extends in 1 s, retracts in 1 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
pneumatic cylinder PRESS
    stroke 60 mm, extends in 1 s, retracts in 1 s
    single solenoid valve SOL2, spring return
    limit switch LS3 at end, LS4 at home
pushbutton START
selector AUTO
counter PARTS
lamp FULL
signal READY
cycle of FEEDER
    when START is pressed
    FEED+ FEED-
    count PARTS
    if PARTS has reached 2
        turn on FULL
        hold 1 s
        turn off FULL
    turn on READY
    wait until PRESSER is not at rest
    turn off READY
    again while AUTO is on
cycle of PRESSER
    when READY is on
    PRESS+ PRESS-
"""


def test_a_station_that_goes_round_for_ever_is_no_usual_cycle() -> None:
    """With AUTO on the feeder never rests again, whatever the presser does: the cycle is told with AUTO off."""
    program = understand(Source("round.seq", ROUND_AND_ROUND))
    assert program.chart is not None, program.diagnostics
    assert {event.device for event in usual_cycle(program.machine, program.chart).events} == {"START"}
