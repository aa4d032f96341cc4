"""The grouping rule against every way to cut a sequence, and overlap against a plant wired directly.

The published rule and counts: Simmons and Dennis, Manual of Engineering Drawing, ch. 27, and lecture notes. The brute
force below is this file's own and shares no code with the rule.
"""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from compiler.simulation.plant import Plant
from compiler.simulation.run import StrokeTimes
from targets.relay.groups import Group, Move, Stage, in_line, opening, overlap, roman, round_the_cycle, told
from tests.relay.letters import ROWS, Row, letters_of, machine_of, solenoid, stages_of, switch

_STROKE_US = 1_000_000


def _no_letter_twice(stages: tuple[Stage, ...]) -> bool:
    letters = [move.letter for stage in stages for move in stage]
    return len(letters) == len(set(letters))


def _cut(stages: tuple[Stage, ...], places: tuple[int, ...], *, ring: bool) -> tuple[Group, ...]:
    """The parts between the cuts; place k is just before stage k, and in a ring place 0 is a cut like any other."""
    if not ring:
        edges = (0, *places, len(stages))
        return tuple(stages[a:b] for a, b in pairwise(edges))
    twice = stages + stages
    ends = (*places[1:], places[0] + len(stages))
    return tuple(twice[a:b] for a, b in zip(places, ends, strict=True))


def _fewest(stages: tuple[Stage, ...], *, ring: bool) -> list[tuple[Group, ...]]:
    """Every way to cut into the least number of groups in which no letter comes twice."""
    count = len(stages)
    for size in range(1 if ring else 0, count + 1):
        sets = combinations(range(0 if ring else 1, count), size)
        found = [parts for places in sets if all(map(_no_letter_twice, parts := _cut(stages, places, ring=ring)))]
        if found:
            return found
    raise AssertionError("a letter twice in one stage")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.sequence)
def test_groups_as_published_or_tried_out(row: Row) -> None:
    stages = stages_of(row.sequence)
    assert told(in_line(stages)) == row.in_line
    linear, ring = _fewest(stages, ring=False), _fewest(stages, ring=True)
    assert in_line(stages) in linear
    assert len(linear[0]) == len(row.in_line.split("/"))
    assert len(ring[0]) == row.cyclic
    assert len(round_the_cycle(stages)) == row.cyclic
    assert told(round_the_cycle(stages)) == (row.cyclic_groups or row.in_line)


@st.composite
def closed_sequences(draw: st.DrawFn) -> tuple[Stage, ...]:
    """Any closed sequence of one to four letters, some of them starting out, some moves made together."""
    letters = "ABCD"[: draw(st.integers(1, 4))]
    order = draw(st.permutations([letter for letter in letters for _ in range(2 * draw(st.integers(1, 2)))]))
    place = {letter: draw(st.booleans()) for letter in letters}
    stages: list[list[Move]] = []
    for letter in order:
        place[letter] = not place[letter]
        move = Move(letter, place[letter])
        if stages and letter not in {m.letter for m in stages[-1]} and draw(st.integers(0, 4)) == 0:
            stages[-1].append(move)
        else:
            stages.append([move])
    return tuple(map(tuple, stages))


@given(closed_sequences())
def test_the_rule_finds_the_fewest_of_all_cuts(stages: tuple[Stage, ...]) -> None:
    linear, ring = _fewest(stages, ring=False), _fewest(stages, ring=True)
    assert in_line(stages) in linear
    assert len(round_the_cycle(stages)) == len(ring[0])
    assert all(map(_no_letter_twice, round_the_cycle(stages)))
    assert opening(stages) == ""
    for group in in_line(stages)[1:]:  # a new group begins with a letter that has moved before
        assert group[0]


def _standing(sequence: str) -> Plant:
    machine = machine_of(sequence)
    times = [StrokeTimes(actuator=a.name, extend_us=_STROKE_US, retract_us=_STROKE_US) for a in machine.actuators]
    return Plant(machine, times)


def _commanded(stages: tuple[Stage, ...], made: dict[str, bool]) -> set[str]:
    """Direct wiring: each solenoid is fed through the switches of the moves just before, START being down."""
    return {
        solenoid(move)
        for k, stage in enumerate(stages)
        for move in stage
        if all(made[switch(before)] for before in stages[k - 1])
    }


def _let_move(plant: Plant, now_us: int, on: set[str]) -> int:
    plant.command(now_us, on)
    while (due := plant.due_us()) is not None:
        plant.advance(due)
        now_us = due
    return now_us


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.sequence)
def test_overlap_is_what_direct_wiring_commands_both_ways(row: Row) -> None:
    """Each move made by hand in turn; just before it, what direct wiring would feed is looked at."""
    stages, plant, now_us = stages_of(row.sequence), _standing(row.sequence), 0
    blocked = []
    for stage in stages:
        fed = _commanded(stages, plant.made())
        assert {solenoid(move) for move in stage} <= fed, "each move is commanded when it is due"
        blocked += [str(move) for move in stage if solenoid(move.opposite) in fed]
        now_us = _let_move(plant, now_us + 1, {solenoid(move) for move in stage})
    assert blocked == row.blocked.split()
    assert [str(move) for move in overlap(stages)] == blocked


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.sequence)
def test_a_directly_wired_machine_runs_exactly_where_nothing_overlaps(row: Row) -> None:
    """The loop closed: the valves obey the direct wiring for one cycle, with START held."""
    stages, plant, now_us = stages_of(row.sequence), _standing(row.sequence), 0
    in_order = True
    for stage in stages:
        before = {name: at for name, (at, _) in plant.motion(now_us).items()}
        now_us = _let_move(plant, now_us + 1, _commanded(stages, plant.made()))
        after = {name: at for name, (at, _) in plant.motion(now_us).items()}
        in_order &= {name for name in after if after[name] != before[name]} == {move.letter for move in stage}
    assert in_order is (row.blocked == "")


@pytest.mark.parametrize(
    ("sequence", "reason"),
    [
        ("A+ A+", "A is sent out twice in a row"),
        ("A+ B+ A-", "B does not end the cycle where it began it"),
        ("A- B+ B-", "A does not end the cycle where it began it"),
        ("A+ (B+ B-) A-", "B moves twice at once"),
        ("A+ B+ A- A- B-", "A is sent back twice in a row"),
    ],
)
def test_a_cycle_that_does_not_close_is_told(sequence: str, reason: str) -> None:
    assert opening(stages_of(sequence)) == reason


def test_a_hold_belongs_to_the_group_it_comes_in() -> None:
    stages = stages_of("A+ 5 A- 3")
    assert [len(group) for group in in_line(stages)] == [2, 2]
    assert told(in_line(stages)) == "A+ / A-"
    assert told(round_the_cycle(stages)) == "A+ / A-"
    assert overlap(stages) == overlap(stages_of("A+ A-"))


def test_groups_are_numbered_in_roman() -> None:
    told_as = {1: "I", 2: "II", 3: "III", 4: "IV", 5: "V", 6: "VI", 9: "IX", 14: "XIV", 40: "XL", 99: "XCIX"}
    assert {number: roman(number) for number in told_as} == told_as
    assert letters_of(stages_of("A+ B- B+ A-")) == {"A": False, "B": True}
