"""A rod that is turned round twice crosses in no time as far as a proof knows: it says so, and calls nothing
different for that alone."""

from __future__ import annotations

import pytest

from compiler.chart_logic import chart_logic
from compiler.condition import Elapsed, both
from compiler.proof.hasty import too_quick
from compiler.proof.prove import prove
from compiler.proof.verdict import Proof, Standing
from compiler.proof.world import Assumed
from compiler.simulation.run import Event, EventKind, Pace, Scenario
from compiler.understand import understand
from grammar.source import Source
from targets.proof_report import outside_line

_BENCH = """\
pneumatic cylinder RAM
    stroke 100 mm
    extends in 2 s to 3 s
    retracts in 1 s to 1.5 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
pushbutton START, normally open
pushbutton STOP, normally closed
sensor GUARD
cycle
    when START is pressed
    extend RAM until at-end
    retract RAM until at-home
when STOP is pressed, drop out everything
"""
_LOCK = "SOL1 only while GUARD is made\n"


def beside_one_that_waits(time_us: int, lock: str = _LOCK) -> tuple[Proof, str]:
    """The sequence beside one that leaves LS1 unheard for so long; and what is told of the last difference. Nothing
    is quicker out than 2 s, with however many turns."""
    understood = understand(Source("bench", _BENCH + lock))
    chart, machine = understood.chart, understood.machine
    assert chart is not None, understood.diagnostics
    waits = tuple(
        t.model_copy(update={"condition": both(t.condition, Elapsed(step="S1", time_us=time_us))})
        if t.sources == ("S1",)
        else t
        for t in chart.transitions
    )
    other = chart_logic(chart.model_copy(update={"transitions": waits}))
    proof = prove(chart_logic(chart), other, machine)
    return proof, outside_line(proof.outside[0], machine)


def test_what_only_a_rod_out_of_reason_shows_is_not_called_different() -> None:
    proof, told = beside_one_that_waits(500_000)
    assert proof.standing is Standing.NOT_SETTLED
    assert proof.headline == "not settled: no difference was found but in a run that cannot be real"
    assert told.endswith(
        "But RAM cannot be so quick: turned round twice, a rod may be anywhere as far as this is told"
    )


def test_where_a_real_run_shows_it_that_one_is_told() -> None:
    proof, told = beside_one_that_waits(4_000_000)
    assert proof.standing is Standing.DIFFERS
    assert proof.outside[0].hasty == ()
    assert "cannot be so quick" not in told


@pytest.mark.parametrize(("time_us", "hasty"), [(500_000, ("RAM",)), (2_500_000, ())])
def test_a_run_beyond_an_assumption_is_held_to_the_same(time_us: int, hasty: tuple[str, ...]) -> None:
    """Without the lock only STOP turns the ram round, and START sends it out again: not with a careful operator."""
    proof, _ = beside_one_that_waits(time_us, lock="")
    assert proof.standing is Standing.SAME_ONLY_IF
    outside = next(o for o in proof.outside if o.beyond in (Assumed.CAREFUL, Assumed.EXACT))
    assert outside.hasty == hasty


@pytest.mark.parametrize(("at_um", "hasty"), [(1_000, ()), (10_000, ("RAM",))])
def test_a_switch_that_lets_go_early_makes_no_rod_too_quick(at_um: int, hasty: tuple[str, ...]) -> None:
    """By hand: out takes 2 s for 100 mm at least, so 0.02 s for 1 mm. A switch that lets go after 0.0125 s has only
    let go within its reset travel of 1 mm, and its path is told as that 1 mm; 10 mm then are out of reason."""
    understood = understand(Source("bench", _BENCH))
    assert understood.chart is not None, understood.diagnostics
    paces = (
        Pace(actuator="RAM", from_us=1_000_000, at_um=at_um, by_us=1_012_500, past=True),
        Pace(actuator="RAM", from_us=1_012_500, at_um=100_000, by_us=4_000_000, past=False),
    )
    events = (Event(at_us=1_000_000, kind=EventKind.INPUT, device="START", on=True),)
    scenario = Scenario(name="one stroke", duration_us=4_500_000, events=events, paces=paces)
    logic = chart_logic(understood.chart)
    assert too_quick(understood.machine, logic, scenario, until_us=4_500_000) == hasty
