"""What is proved of a sequence alone, against what can be worked out on paper."""

from __future__ import annotations

import pytest

from compiler.chart import Action, Chart, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.condition import Always, Signal
from compiler.proof.cycle import CycleTime
from compiler.proof.examine import Examined, examine
from compiler.understand import Understood, understand
from grammar.source import Source

HEAD = """\
hydraulic cylinder RAM
    stroke 100 mm, extends in 2 s to 3 s, retracts in 1 s to 1.5 s
    {valve}
    limit switch LS1 at end, LS2 at home
pushbutton START, normally open
pushbutton STOP, normally closed
sensor PART
lamp BUSY
"""
SPRING = "single solenoid valve SOL1, spring return"
MEMORY = "double solenoid valve SOL1A extends, SOL1B retracts"


def program(cycle: str, valve: str = SPRING) -> Understood:
    understood = understand(Source("bench", HEAD.format(valve=valve) + cycle))
    assert understood.chart is not None, understood.diagnostics
    return understood


def examined(understood: Understood, chart: Chart | None = None) -> Examined:
    chart = chart or understood.chart
    assert chart is not None
    return examine(chart_logic(chart), chart, understood.machine, most_zones=50_000)


@pytest.mark.parametrize(
    ("steps", "cycle"),
    [
        ("extend until at-end\n    hold 4 s\n    retract until at-home", CycleTime(7_000_000, 8_500_000)),
        ("turn on BUSY and wait 1 s\n    turn off BUSY", CycleTime(1_000_000, 1_000_000)),
        # The stroke out ends the cycle, and the ram goes home in its own time.
        ("extend until at-end", CycleTime(2_000_000, 3_000_000)),
        # A part may be there already, or never come.
        ("extend until at-end\n    wait until PART is made\n    retract until at-home", CycleTime(3_000_000, None)),
        # Whichever of the two comes first ends the wait: 5 s at most.
        ("wait until PART is made for 5 s", CycleTime(0, None)),
    ],
)
def test_the_time_of_a_cycle_is_exact(steps: str, cycle: CycleTime) -> None:
    assert examined(program(f"cycle\n    when START is pressed\n    {steps}\n")).cycle == cycle


def test_a_sound_sequence_has_only_good_news() -> None:
    found = examined(program("cycle\n    extend until at-end\n    hold 4 s\n    retract until at-home\n"))
    assert found.settled
    assert found.good
    assert (found.chatters, found.both_on, found.stuck, found.away, found.unreached) == ((), (), (), (), ())


def test_stop_leaves_a_rod_on_a_memory_valve_where_it_went() -> None:
    found = examined(program("cycle\n    extend until at-end\n    retract until at-home\n", MEMORY))
    assert found.away == ("S0",)
    assert found.good  # another cycle brings it home


def test_both_solenoids_of_a_valve_are_seen() -> None:
    plain = program("cycle\n    extend until at-end\n    retract until at-home\n", MEMORY)
    assert plain.chart is not None
    both = tuple(Action(output=name) for name in ("SOL1A", "SOL1B"))
    steps = tuple(s.model_copy(update={"actions": both}) if s.name == "S1" else s for s in plain.chart.steps)
    found = examined(plain, plain.chart.model_copy(update={"steps": steps}))
    assert found.both_on == ("RAM",)
    assert not found.good


def test_a_step_without_a_way_on_is_stuck_but_for_stop() -> None:
    plain = program("cycle\n    extend until at-end\n    retract until at-home\n")
    assert plain.chart is not None
    ways = tuple(t for t in plain.chart.transitions if t.sources != ("S2",))
    without_stop = plain.chart.model_copy(update={"transitions": ways, "forcing": None})
    assert examined(plain, without_stop).stuck == ("S1", "S2")
    assert examined(plain, plain.chart.model_copy(update={"transitions": ways})).stuck == ()


def test_a_step_that_is_passed_at_once_is_told() -> None:
    plain = program("cycle\n    extend until at-end\n    retract until at-home\n")
    assert plain.chart is not None
    extra = Step(name="X")
    ways = [t.model_copy(update={"targets": ("X",)}) if t.sources == ("S1",) else t for t in plain.chart.transitions]
    ways.append(Transition(name="TX", sources=("X",), targets=("S2",), condition=Always()))
    chart = plain.chart.model_copy(update={"steps": (*plain.chart.steps, extra), "transitions": tuple(ways)})
    assert examined(plain, chart).unreached == ("X",)


def test_what_never_settles_is_named() -> None:
    plain = program("cycle\n    extend until at-end\n    retract until at-home\n")
    assert plain.chart is not None
    part = Signal(device="PART")
    ring = (
        Transition(name="TA", sources=("S1",), targets=("S2",), condition=part),
        Transition(name="TB", sources=("S2",), targets=("S1",), condition=part),
    )
    chart = plain.chart.model_copy(update={"transitions": (*plain.chart.transitions, *ring)})
    found = examined(plain, chart)
    assert found.chatters
    assert not found.good


def test_a_requirement_is_kept_or_broken_with_the_shortest_run() -> None:
    body = "cycle\n    turn on BUSY and extend until at-end\n    turn off BUSY\n    retract until at-home\n"
    kept = examined(program(f"{body}never BUSY while STOP is pressed\n")).kept
    assert [(k.broken, k.settled, k.free) for k in kept] == [(False, True, True)]
    broken = examined(program(f"{body}never BUSY while PART is made\n")).kept[0]
    assert broken.broken
    assert broken.run is not None
    # START and PART, in either order, are enough.
    assert sorted(e.device for e in broken.run.scenario.events) == ["PART", "START"]


def test_what_must_follow_is_asked_of_undisturbed_runs() -> None:
    body = "cycle\n    extend until at-end\n    retract until at-home\n"
    in_time = examined(program(f"{body}whenever SOL1, RAM is at-end within 3 s\n")).kept[0]
    assert (in_time.broken, in_time.free) == (False, False)
    late = examined(program(f"{body}whenever SOL1, RAM is at-end within 2.999 s\n")).kept[0]
    assert late.broken
