"""Cycle times by arithmetic against the exact limits of the proof, which searches everything that can happen."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from compiler.chart_logic import ChartLogic
from compiler.physics.cycle import StationCycle, cycle_times
from compiler.proof.cycle import cycle_time
from compiler.shape import shape_of
from compiler.understand import Understood, understand
from grammar.source import Source

_EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.seq"))
HEAD = """
pneumatic cylinder A
    stroke 100 mm
    extends in 1 s to 2 s, retracts in 0.5 s to 0.7 s
    double solenoid valve YA1 extends, YA2 retracts
    limit switch a1 at end, a0 at home, a2 at 40 mm
    pressure switch PA at 6 bar
pneumatic cylinder B
    stroke 100 mm
    extends in 3 s, retracts in 2.5 s to 3.5 s
    double solenoid valve YB1 extends, YB2 retracts
    limit switch b1 at end, b0 at home
sensor PART
pushbutton START
home when A is at-home and B is at-home
cycle
    when START is pressed
"""


def understood(text: str) -> Understood:
    found = understand(Source("test", text))
    assert found.chart is not None, found.diagnostics
    return found


def only(text: str) -> StationCycle:
    program = understood(text)
    assert program.chart is not None
    (cycle,) = cycle_times(program.machine, program.chart)
    return cycle


def check(program: Understood) -> None:
    """The limits of each are those of the other; where nobody is waited for both have a greatest time.

    A rod that a valve's centre has held goes on from anywhere, for the proof, so there its limits are wider.
    """
    assert program.chart is not None
    exact = cycle_time(ChartLogic(program.chart), program.chart, program.machine, most_zones=50_000)
    assert exact is not None
    (cycle,) = cycle_times(program.machine, program.chart)
    if any(a.valve.centre is not None for a in program.machine.actuators):
        assert cycle.span.least_us >= exact.least_us - 2
        assert exact.greatest_us is None or cycle.span.greatest_us <= exact.greatest_us + 2
        return
    assert cycle.span.least_us == pytest.approx(exact.least_us, abs=2)
    if cycle.waits or cycle.uncounted:
        assert exact.greatest_us is None
    else:
        assert exact.greatest_us == pytest.approx(cycle.span.greatest_us, abs=2)
        assert sum(leg.usual_us for leg in cycle.path) == cycle.span.usual_us


@pytest.mark.parametrize("path", _EXAMPLES, ids=lambda path: path.stem)
def test_every_example_takes_what_the_proof_finds(path: Path) -> None:
    program = understand(Source(path.name, path.read_text(encoding="utf-8")))
    if program.chart is None or len(shape_of(program.chart).stations) > 1:
        pytest.skip("more than one station: the proof has one clock")
    check(program)


@pytest.mark.parametrize(
    "steps",
    [
        "extend A\nhold 1 s\nretract A",
        "extend A and B\nretract A and B",
        "extend A until a2\nextend B\nretract A and B",
        "extend A until PA\nretract A",
        "extend A\nretract A until not a2\nextend B\nretract A and B",
        "extend A until not a0\nextend A\nretract A",
        "extend B until b1 and a0 and not a1\nretract B",
        "together\n    extend A\n    hold 1 s\nmeanwhile\n    extend B\nretract A\nretract B",
        "repeat 3 times\n    extend A\n    retract A",
        "repeat 2 times\n    extend A\n    repeat 3 times\n        extend B\n        retract B\n    retract A",
        "extend A\nif PART is made\n    hold 2 s\notherwise\n    hold 4 s\nretract A",
        "if PART is made\n    extend A\n    retract A\nextend B\nretract B",
        "together\n    repeat 2 times\n        extend A\n        retract A\nmeanwhile\n    extend B\n    retract B",
        "extend A\nwait until PART is made\nretract A",
        "extend A until at-end, within 3 s or fault \"late\"\nretract A",
    ],
)  # fmt: skip
def test_blocks_take_what_the_proof_finds(steps: str) -> None:
    check(understood(HEAD + "".join(f"    {line}\n" for line in steps.split("\n"))))


def test_the_critical_path_names_the_slower_branch_and_the_longer_choice() -> None:
    cycle = only(HEAD + """    together
        extend A
        hold 1 s
    meanwhile
        extend B
    if PART is made
        hold 2 s
    otherwise
        hold 4 s
    repeat 3 times
        retract A
        extend A
    retract A and B
""")  # fmt: skip
    assert [(leg.words, leg.usual_us, leg.passes) for leg in cycle.path] == [
        ("extend B", 3_000_000, 0),  # against 1.5 s and 1 s of the other branch
        ("hold 4 s", 4_000_000, 0),
        ("repeat 3 times", 2 * 2_100_000, 2),
        ("retract A", 600_000, 0),
        ("extend A", 1_500_000, 0),
        ("retract A and B", 3_000_000, 0),
    ]
    # 3 + 2 or 4 + 3 (0.5 to 0.7 and 1 to 2) + 2.5 to 3.5
    assert (cycle.span.least_us, cycle.span.greatest_us) == (12_000_000, 18_600_000)


def test_a_switch_on_the_way_is_reached_in_its_share_of_the_stroke() -> None:
    """40 of 100 mm at 1 s to 2 s; on the way back it lets go 60 to 61 mm from the end, at 0.5 s to 0.7 s."""
    cycle = only(HEAD + "    extend A until a2\n    hold 5 s\n    retract A\n")
    assert [(leg.words, leg.usual_us) for leg in cycle.path][:1] == [("extend A until a2", 600_000)]
    cycle = only(HEAD + "    extend A\n    retract A until not a2\n    hold 5 s\n")
    assert (cycle.span.least_us, cycle.span.greatest_us) == (
        1_000_000 + 300_000 + 5_000_000,
        2_000_000 + 427_000 + 5_000_000,
    )
    assert [leg.usual_us for leg in cycle.path] == [1_500_000, 366_000, 5_000_000]


def test_a_quick_stroke_goes_on_slowly_from_where_it_was() -> None:
    """250 of 300 mm at the quick speed, the rest at the slow one; while the centre holds it nothing moves."""
    cycle = only("""hydraulic cylinder P
    stroke 300 mm
    extends in 6 s to 9 s, retracts in 3 s
    extends rapidly in 1.2 s
    three-position valve Y1 extends, Y2 retracts, closed centre
    rapid solenoid Y3
    limit switch LS1 at end, LS2 at home, LS3 at 250 mm
pushbutton START
sensor GUARD
cycle
    when START is pressed
    extend P rapidly until LS3
    stop P and hold 10 s
    extend P until at-end
    retract P until at-home
    stop P
Y1 only while GUARD is made
""")
    assert [leg.usual_us for leg in cycle.path] == [1_000_000, 10_000_000, 1_250_000, 3_000_000]
    assert [cycle.span.least_us, cycle.span.greatest_us] == pytest.approx([15_000_000, 15_500_000], abs=2)
    assert cycle.waits == ("GUARD",)


def test_what_is_waited_for_and_never_counted_is_named() -> None:
    cycle = only(HEAD + "    repeat until PART is made\n        extend A\n        retract A\n")
    assert cycle.uncounted == ("repeat until PART is made",)
    assert (cycle.span.least_us, cycle.waits) == (1_500_000, ())
    assert only(HEAD + "    extend A\n    wait until PART is made\n    retract A\n").waits == ("PART",)


def test_stations_have_cycles_of_their_own() -> None:
    program = understood(
        """
cycle of LOADER
    when START is pressed
    extend A
    turn on READY
    wait until LIFTER is at rest
    retract A
    turn off READY
    again while PART is made
cycle of LIFTER
    when READY is on
    extend B
    hold 1 s
    retract B
signal READY
""".replace("\ncycle of LOADER", HEAD[: HEAD.index("home when")] + "cycle of LOADER", 1)
    )
    assert program.chart is not None
    loader, lifter = cycle_times(program.machine, program.chart)
    assert (loader.station, loader.waits, loader.uncounted) == (
        "LOADER",
        ("LIFTER at rest",),
        ("again while PART is made",),
    )
    assert (loader.span.least_us, loader.span.greatest_us) == (1_500_000, 2_700_000)
    assert (lifter.station, lifter.waits, lifter.uncounted) == ("LIFTER", (), ())
    assert (lifter.span.least_us, lifter.span.greatest_us) == (6_500_000, 7_500_000)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(st.data())
def test_rows_of_random_strokes_take_what_the_proof_finds(data: st.DataObject) -> None:
    out = {"A": False, "B": False}
    lines = []
    for _ in range(data.draw(st.integers(1, 4))):
        name = data.draw(st.sampled_from(["A", "B"]))
        lines.append(f"{'retract' if out[name] else 'extend'} {name}")
        out[name] = not out[name]
        if data.draw(st.booleans()):
            lines.append(f"hold {data.draw(st.integers(1, 9))} s")
    lines += [f"retract {name}" for name in sorted(out) if out[name]]
    assume(lines)
    check(understood(HEAD + "".join(f"    {line}\n" for line in lines)))
