"""Timelines: within the width, nothing lost, readable by eye. The drawn rows are worked out by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compiler.chart_logic import chart_logic
from compiler.simulation.run import Change, Difference, Event, Move, Outcome, Role, Run, Scenario, Side, StrokeTimes
from compiler.simulation.simulate import simulate
from compiler.simulation.timeline import timeline, told
from compiler.simulation.waveform import scale_of, waveform
from compiler.understand import understand
from grammar.source import Source
from tests.simulation.machines import DWELL, DWELL_CHART, SECOND, SealIn, event, jam, supply

SEQUENCE = chart_logic(DWELL_CHART)
EXACT = (StrokeTimes(actuator="RAM", extend_us=SECOND, retract_us=SECOND),)

THREE_STROKES = """\
counter STROKES
pneumatic cylinder RAM
    stroke 80 mm
    extends in 1 s, retracts in 1 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
cycle
    when START is pressed
    repeat 3 times, counted by STROKES
        extend RAM, retract RAM
"""


def ran(*events: Event, duration_us: int = 40 * SECOND, shadow: SealIn | None = None, after_us: int = 0) -> Run:
    scenario = Scenario(name="a run", duration_us=duration_us, events=events, strokes=EXACT)
    return simulate(DWELL, SEQUENCE, scenario, shadow=shadow, after_us=after_us)


def hand_made(changes: list[tuple[int, bool]], ended_us: int) -> Run:
    """One output that changes at these seconds; no two changes more than half the run apart, so nothing is cut."""
    return Run(
        machine="Stand",
        driver="the rungs",
        scenario=Scenario(name="a run", duration_us=ended_us),
        changes=tuple(
            Change(at_us=at, side=Side.DRIVER, role=Role.OUTPUT, signal="SOL1", on=is_on) for at, is_on in changes
        ),
        ended_us=ended_us,
        outcome=Outcome.COMPLETED,
    )


def row(lines: list[str], name: str) -> str:
    return next(line[13:] for line in lines if line[:12].strip() == name)


def test_the_cycle_is_told_in_words() -> None:
    lines = told(ran(event(SECOND, "START", True), event(1_300_000, "START", False)), DWELL, chart=DWELL_CHART)
    assert lines == [
        "    0.000 s  LS2 made → S0",
        "    1.000 s  START pressed → S1 → SOL1 on",
        "    1.010 s  LS2 let go",
        "    1.300 s  START let go",
        "    2.000 s  LS1 made → S2",
        "   32.000 s  time in S2: 30 s over → S3 → SOL1 off",
        "   32.010 s  LS1 let go",
        "   33.000 s  LS2 made → S0",
        "   40.000 s  end of the run",
    ]


def test_a_lost_supply_a_jam_and_a_difference_are_told() -> None:
    run = ran(
        event(SECOND, "START", True),
        jam(1_400_000, "RAM"),
        supply(2 * SECOND, False),
        jam(3 * SECOND, "RAM", False),
        supply(5 * SECOND, True),
        shadow=SealIn(),
        after_us=SECOND,
    )
    text = "\n".join(told(run, DWELL))
    assert "1.400 s  RAM jams at 40 mm" in text
    assert "2.000 s  supply lost → S1 off → SOL1 off" in text
    assert "3.000 s  RAM free again" in text
    assert "5.000 s  supply back → S0 on → SOL1 on in the seal-in rungs" in text
    assert "▲ they differ: SOL1 is on in the seal-in rungs, off in the sequence" in text


def test_outlines_edges_and_spikes() -> None:
    """Ten seconds in ten columns; on from the start, a spike at 4.2-4.4 s, on from 6 s."""
    on_off = [(0, True), (2 * SECOND, False), (4_200_000, True), (4_400_000, False), (6 * SECOND, True)]
    drawn = row(waveform(hand_made(on_off, 10 * SECOND), DWELL, width=23), "SOL1")
    assert drawn == "▔▔╲▁│▁╱▔▔▔"


def test_a_dip_shorter_than_a_column_is_seen() -> None:
    dip = [(0, True), (4_200_000, False), (4_300_000, True)]
    assert row(waveform(hand_made([*dip, (7 * SECOND, False)], 10 * SECOND), DWELL, width=23), "SOL1") == "▔▔▔▔│▔▔╲▁▁"


def test_a_rod_is_drawn_by_the_height_it_has_reached() -> None:
    run = hand_made([(0, True), (4 * SECOND, False)], 8 * SECOND).model_copy(
        update={
            "moves": (
                Move(at_us=0, actuator="RAM", position_um=0, way=1),
                Move(at_us=4 * SECOND, actuator="RAM", position_um=100_000, way=0),
                Move(at_us=6 * SECOND, actuator="RAM", position_um=100_000, way=-1),
                Move(at_us=8 * SECOND, actuator="RAM", position_um=0, way=0),
            )
        }
    )
    # Seen in the middle of each second of a stroke of 100 mm: 1/8, 3/8, 5/8 and 7/8 of the way out, then out, then
    # 3/4 and 1/4.
    assert row(waveform(run, DWELL, width=21), "RAM") == "▂▄▅▇██▆▃"


def test_the_values_of_a_number_share_a_row_and_are_told_as_they_come() -> None:
    counted = [(0, 0, True), (2, 0, False), (2, 1, True), (4, 1, False), (4, 2, True)]
    changes = tuple(
        Change(at_us=at * SECOND, side=Side.DRIVER, role=Role.INSIDE, signal=f"count = {value}", on=on)
        for at, value, on in counted
    )
    run = hand_made([], 8 * SECOND).model_copy(update={"changes": changes})
    assert told(run, DWELL) == [
        "    0.000 s  count = 0",
        "    2.000 s  count = 1",
        "    4.000 s  count = 2",
        "    8.000 s  end of the run",
    ]
    assert row(waveform(run, DWELL, width=21), "count") == " 0│1│2"


def test_of_what_comes_after_a_difference_the_first_three_moments_are_told() -> None:
    run = hand_made([(SECOND * at, at % 2 == 1) for at in range(1, 9)], 10 * SECOND)
    difference = Difference(at_us=2 * SECOND, output="SOL1", driver_on=False, shadow_on=True)
    lines = told(run.model_copy(update={"shadow": "the other", "difference": difference}), DWELL)
    assert [line.split("  ")[-1].strip() for line in lines] == [
        "SOL1 on",
        "SOL1 off",
        "▲ they differ: SOL1 is on in the other, off in the rungs",
        "SOL1 on",
        "SOL1 off",
        "SOL1 on",
        "and so on: 3 more",
        "end of the run",
    ]


def test_a_long_quiet_time_is_cut_and_marked() -> None:
    run = hand_made(
        [(SECOND, True), (2 * SECOND, False), (3602 * SECOND, True), (3603 * SECOND, False)], 3604 * SECOND
    )
    lines = waveform(run, DWELL)
    drawn = row(lines, "SOL1")
    assert drawn.count("≈") == 1
    assert drawn.count("╱") == drawn.count("╲") == 2
    assert "3602" in lines[-1]


@pytest.mark.parametrize("width", [40, 80, 120])
def test_no_line_is_wider_than_asked(width: int) -> None:
    run = ran(event(SECOND, "START", True), shadow=SealIn(), after_us=SECOND)
    assert max(map(len, timeline(run, DWELL, chart=DWELL_CHART, width=width).splitlines())) <= width


def test_both_logics_are_drawn_under_their_names_with_the_difference_pointed_at() -> None:
    run = ran(event(SECOND, "START", True), shadow=SealIn(), after_us=SECOND)
    lines = waveform(run, DWELL)
    assert "the sequence as written:" in lines
    assert "the seal-in rungs:" in lines
    assert lines[-1].split("▲") == [lines[-1][: lines[-1].index("▲")], ""]
    assert lines[-1].strip() == "thick where they differ ▲"
    assert lines[-1].index("▲") == 13 + scale_of(run, 67).column(32 * SECOND)
    assert row(lines, "step").strip().startswith("S0")


def test_both_outputs_are_thick_just_where_they_differ() -> None:
    """The seal-in keeps SOL1 on as the sequence lets it go after 31 s: from then on both rows are thick."""
    run = ran(event(SECOND, "START", True), shadow=SealIn(), after_us=SECOND)
    lines = waveform(run, DWELL)
    first = scale_of(run, 67).column(32 * SECOND)
    rows = [line[13:] for line in lines if line[:12].strip() == "SOL1"]
    assert [{k for k, c in enumerate(r) if c in "▀▄"} - {first} for r in rows] == [set(range(first + 1, 67))] * 2
    assert [r[-1] for r in rows] == ["▄", "▀"]
    alone = waveform(ran(event(SECOND, "START", True)), DWELL)
    assert not [line for line in alone if line[:12].strip() == "SOL1" and set(line) & set("▀▄")]


def test_the_time_gone_by_on_a_timer_rises_from_its_start_to_its_end() -> None:
    """LS1 makes at 2 s and the dwell of 30 s begins: half of it is gone at 17 s, all of it at 32 s."""
    run = ran(event(SECOND, "START", True), event(1_300_000, "START", False))
    (clock,) = run.clocks
    assert (clock.from_us, clock.to_us, clock.ran_out) == (2 * SECOND, 32 * SECOND, True)
    scale = scale_of(run, 67)
    drawn = row(waveform(run, DWELL), clock.timer)
    first, last = scale.column(2 * SECOND), scale.column(32 * SECOND - 1)
    ramp = [c for c in drawn[first : last + 1] if c != "≈"]
    assert ramp == sorted(ramp, key="▁▂▃▄▅▆▇█".index)
    assert ramp[-1] == "█"
    assert drawn[scale.column(17 * SECOND)] in "▄▅≈"
    assert set(drawn[: first - 1] + drawn[last + 1 :]) <= {"▁", "≈"}


@given(
    moments=st.lists(st.integers(1, 1_000), min_size=1, max_size=30, unique=True),
    end=st.integers(1, 1_000),
    columns=st.integers(8, 120),
)
def test_a_scale_never_turns_back_and_uses_its_whole_width(moments: list[int], end: int, columns: int) -> None:
    turns = [(at, k % 2 == 0) for k, at in enumerate(sorted(moments))]
    run = hand_made([t for t in turns if t[0] <= end], end)
    scale = scale_of(run, columns)
    places = [scale.column(at) for at in range(end + 1)]
    assert places == sorted(places)
    assert places[0] == 0
    assert places[-1] == columns - 1


@given(quiet=st.integers(2_000, 100_000), before=st.integers(10, 900), columns=st.integers(20, 120))
def test_seconds_are_equally_long_before_and_after_what_is_left_out(quiet: int, before: int, columns: int) -> None:
    """Two changes within a thousand microseconds and a long quiet time between them."""
    end = 1_000 + quiet
    scale = scale_of(hand_made([(before, True), (before + quiet, False)], end), columns)
    assert scale.cut is not None
    from_us, to_us = scale.cut
    assert before < from_us < to_us < before + quiet
    assert scale.place(from_us) == scale.place(to_us)
    first = scale.place(from_us) / from_us
    assert (columns - scale.place(to_us)) / (end - to_us) == pytest.approx(first, rel=0.01)
    assert scale.place(before) == pytest.approx(before * first)


@given(moments=st.lists(st.integers(1, 99), max_size=40, unique=True), columns=st.integers(8, 60))
def test_no_change_is_lost_from_a_row(moments: list[int], columns: int) -> None:
    """Every column in which a signal changes shows an edge or a spike, and no other does."""
    turns = [(at, k % 2 == 0) for k, at in enumerate(sorted(moments))]
    run = hand_made(turns, 100)
    scale = scale_of(run, columns)
    for line in [line for line in waveform(run, DWELL, width=columns + 13) if line[:12].strip() == "SOL1"]:
        marked = {k for k, c in enumerate(line[13:]) if c in "╱╲│"}
        assert marked | {scale.cut_column} == {scale.column(at) for at, _ in turns} | {scale.cut_column}


MOMENTS = st.integers(0, 60 * SECOND)


@given(st.lists(st.builds(event, MOMENTS, st.sampled_from(["START", "STOP"]), st.booleans()), max_size=8))
def test_any_run_can_be_drawn(events: list[Event]) -> None:
    run = ran(*events, duration_us=60 * SECOND, shadow=SealIn(), after_us=SECOND)
    text = timeline(run, DWELL, chart=DWELL_CHART)
    assert all(len(line) <= 80 for line in text.splitlines())
    assert text.endswith("\n")


def test_how_far_a_counter_of_the_sequence_has_got_is_told_and_drawn() -> None:
    """Three strokes out, 1 s each way: the counter is at 1, 2 and 3 as each begins, and back at 0 with the last."""
    what = understand(Source("three.seq", THREE_STROKES))
    assert what.chart is not None
    press = Scenario(name="a run", duration_us=8 * SECOND, events=(event(SECOND, "START", True),))
    run = simulate(what.machine, chart_logic(what.chart), press)
    counted = [(c.at_us // SECOND, c.signal) for c in run.changes if c.on and c.signal.startswith("STROKES")]
    assert counted == [
        (0, "STROKES = 0"),
        (1, "STROKES = 1"),
        (3, "STROKES = 2"),
        (5, "STROKES = 3"),
        (7, "STROKES = 0"),
    ]
    assert row(waveform(run, what.machine, width=53), "STROKES").split() == ["0", "│1", "│2", "│3", "│0"]
