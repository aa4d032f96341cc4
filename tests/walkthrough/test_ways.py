"""Every way of a choice is told, from where it parts to where it joins; a repeat once, and then what ends it."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import HealthCheck, given, settings

from compiler.checking.scenarios import usual_cycle
from compiler.shape import shape_of
from compiler.understand import Understood, understand
from compiler.walk.course import course, passes
from compiler.walk.ways import other_ways
from grammar.sequence import tree
from grammar.sequence.write import write
from grammar.source import Source
from targets.build import emit_all, read_back
from targets.target import Options
from targets.walkthrough import Told, walk_through
from tests.strategies_program import working_programs
from tests.whole.programs import EXAMPLES, example

_DEVICES = """\
machine "Sorter"
pneumatic cylinder A
    stroke 100 mm, extends in 2 s, retracts in 2 s
    single solenoid valve Y1, spring return
    limit switch LS1 at end, LS2 at home
pneumatic cylinder B
    stroke 100 mm, extends in 2 s, retracts in 2 s
    single solenoid valve Y2, spring return
    limit switch LS3 at end, LS4 at home
pushbutton START, normally open
pushbutton STOP, normally closed
pushbutton GO
selector BIG
sensor PART
sensor WET
lamp L1
counter N
cycle
    when START is pressed
"""
_THREE = """\
    if PART is made
        A+ A-
    otherwise if WET is made
        B+ B-
        if BIG is on
            turn on L1 and wait 1 s
            turn off L1
    otherwise
        hold 1 s
    count N
    if N has reached 3
        B+ B-
        clear N
"""
_PRESSED = "    A+\n    if GO is pressed\n        B+ B-\n    A-\n"
_ROUND = "    repeat until PART is made\n        A+ A-\n    repeat while WET is made\n        B+ B-\n    hold 1 s\n"
_NESTED = "    repeat 3 times\n        A+\n        repeat 2 times\n            B+ B-\n        A-\n    hold 1 s\n"
_BESIDE = """\
    together
        repeat 2 times
            A+ A-
    meanwhile
        if PART is made
            B+ B-
        otherwise
            hold 3 s
    hold 1 s
    again while BIG is on
"""


@cache
def _program(steps: str) -> Understood:
    program = understand(Source("sorter.seq", _DEVICES + steps))
    assert program.chart is not None, program.diagnostics
    return program


@cache
def _told(steps: str) -> Told:
    program = _program(steps)
    assert program.chart is not None
    return walk_through(program.machine, program.chart)


def _ways(told: Told) -> dict[str, list[str]]:
    """The sections that tell other ways, and what they tell."""
    found = (s for s in told.sections if s.title.startswith("If "))
    return {s.title: [t.text for p in s.passages for t in p.sentences] for s in found}


def test_every_way_of_a_choice_is_told_and_only_that() -> None:
    ways = _ways(_told(_THREE))
    assert list(ways) == [
        "If PART is not made and WET is made instead",
        "If PART is not made and WET is not made instead",
        "If BIG is off instead",
        "If N has reached 3 instead",
    ]
    wet, none, small, counted = ways.values()
    assert [text for text in wet if "Y2" in text or "L1" in text]
    assert not [text for text in wet if "Y1" in text]
    assert not [text for text in none if "Y1" in text or "Y2" in text]
    assert any("goes on to “count N” (S8), as BIG is off." in text for text in small)
    assert any("goes on to “B+” (S9), as N has reached 3." in text for text in counted)


def test_a_way_says_where_it_parts_and_where_it_joins() -> None:
    """START at 0.5 s, two seconds a stroke: with GO down, B goes out and back between A's strokes."""
    told = _told(_PRESSED)
    (section,) = (s for s in told.sections if s.title == "If GO is held instead")
    assert section.opening == "The way parts from the cycle at 2.5 s, after “A+” (S1)."
    assert next(p.heading for p in section.passages if p.timed) == "2.5 s"
    assert section.passages[0].see_us == 2_500_000
    last = section.passages[-1]
    assert last.sentences[0].text == "“A-” (S4) and all that follows go as from 2.5 s on."
    assert last.see_us == 2_500_000
    cycle = [s.text for p in told.sections[0].passages for s in p.sentences]
    assert "If GO is held, the cycle goes another way here, which is told below." in cycle


def test_a_repeat_that_waits_for_something_is_not_told_for_ever() -> None:
    """PART has to come for the cycle to end at all; each way back is told once."""
    told = _told(_ROUND)
    assert "PART is made from the beginning" in told.sections[0].passages[-1].sentences[0].text
    ways = _ways(told)
    assert list(ways) == ["If PART is not made instead", "If WET is made instead", "If WET is not made instead"]
    assert ways["If PART is not made instead"][-1] == "“A+” (S1) and all that follows go as from 0.5 s on."
    assert ways["If WET is made instead"][-1] == "With that it comes back to “B+” (S3), and so on."
    assert len(ways["If WET is made instead"]) < 20


def test_ways_beside_other_branches_join_in_their_own() -> None:
    """B's branch ends in a wait for A's, whatever A does meanwhile."""
    ways = _ways(_told(_BESIDE))
    assert ways["If PART is made instead"][-1].startswith("wait for the other branches (W2)")
    assert ways["If BIG is on instead"][-1] == "“cycle” (S1) and all that follows go as from 0.5 s on."


def test_the_first_pass_is_told_and_then_what_ends_the_repeat() -> None:
    """Inside, B's two passes; around them, A's three: of these one is told, 12 s long from START at 0.5 s."""
    headings = [p.heading or p.sentences[0].text for p in _told(_NESTED).sections[0].passages]
    assert "One more pass goes the same way, until 10.5 s." in headings
    assert "Two more passes go the same way, until 36.5 s." in headings
    told = [float(heading.removesuffix(" s")) for heading in headings if heading.endswith(" s")]
    assert not [at for at in told if 12.5 < at < 36.5]
    assert 36.5 in told


def test_a_pass_that_is_one_step_long_is_seen_to_begin_again() -> None:
    """A is out at 2.5 s; then half a second three times over, in a step that is left and entered in one moment."""
    passages = _told("    A+\n    repeat 3 times\n        hold 0.5 s\n    A-\n").sections[0].passages
    said = {p.heading or p.sentences[0].text: " ".join(s.text for s in p.sentences) for p in passages}
    assert "goes on to “hold 0.5 s” (S2), as that has been done fewer than 3 times." in said["3 s"]
    assert "Two more passes go the same way, until 4 s." in said
    assert "3.5 s" not in said
    assert "as that has been done 3 times." in said["4 s"]


@pytest.mark.parametrize("part", ["", "step-chain", "one-hot"])
def test_passes_of_a_circuit_are_told_as_far_as_they_differ(part: str) -> None:
    """QUILL takes 1 s out and 0.6 s back: passes at 2, 3.6 and 5.2 s; in the rungs a counter counts them."""
    program = example("bead-drill")
    assert program.chart is not None
    made, _ = emit_all(program, Options())
    logic = next((read_back(a, program.machine) for a in made if part and part in a.file), None)
    passages = walk_through(program.machine, program.chart, logic).sections[0].passages
    assert [p.sentences[0].text for p in passages if "more pass" in p.sentences[0].text] == [
        "Two more passes go the same way, until 6.8 s.",
        "Two more passes go the same way, until 12.4 s.",
    ]
    later = [p for p in passages if p.at_us is not None and 3_600_000 < p.at_us < 6_800_000]
    texts = [s.text for p in later for s in p.sentences]
    assert bool(texts) is bool(part)
    if part:
        assert texts[0] == "As at 3.6 s, but for this."
        assert "CT1 has counted all 3" in texts[1]


def test_both_stations_and_a_count_to_twelve() -> None:
    large = EXAMPLES[0].parent / "large" / "tray-transfer.seq"
    program = understand(Source(large.name, large.read_text(encoding="utf-8")))
    assert program.chart is not None
    ways = _ways(walk_through(program.machine, program.chart))
    assert list(ways) == ["If LID is made instead", "If TRAYS has reached 12 instead"]
    assert any("BOX_FULL comes on" in text for text in ways["If TRAYS has reached 12 instead"])
    assert not [text for text in ways["If LID is made instead"] if "SORTER" in text]


@settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(working_programs(depth=1))
def test_a_way_is_told_or_named_and_its_run_takes_it(program: tree.Program) -> None:
    understood = understand(Source("a program", write(program)))
    if understood.chart is None:
        return
    machine, chart = understood.machine, understood.chart
    main = course(machine, chart, usual_cycle(machine, chart))
    branches, missing = other_ways(machine, chart, main.scenario)
    ways = shape_of(chart).ways
    choices = [way for way in ways if sum(other.sources == way.sources for other in ways) > 1]
    faults = {step.name for step in chart.steps if step.fault}
    for branch in branches:
        assert branch.way.sources == branch.instead.sources
        assert (branch.parts_us, branch.way) in {(c.at_us, c.transition) for c in branch.run.cleared}
        assert (branch.instead_us, branch.instead) in {(c.at_us, c.transition) for c in branch.parent.cleared}
        before = (c for c in branch.run.cleared if c.at_us <= branch.parts_us)
        assert not faults & {name for c in before for name in c.transition.targets}
        assert branch.joins is None or branch.joins.at_us >= branch.parts_us
    for way in choices:
        told = main.first(way) or any(b.run.first(way) for b in branches)
        assert told or way in missing
    for one in passes(shape_of(chart), main):
        assert one.begun_us == tuple(sorted(one.begun_us))
        assert one.begun_us[-1] <= one.over_us


def test_a_counter_that_keeps_its_count_over_the_cycle_is_told_by_where_it_stands() -> None:
    """N counts one piece in the cycle and is only cleared at three."""
    program = _program(_THREE)
    assert program.chart is not None
    (made,) = (
        a for a in emit_all(program, Options(arrangements=("step-chain",)))[0] if a.file.endswith("chain.rungs")
    )
    told = walk_through(program.machine, program.chart, read_back(made, program.machine))
    ends = [s.text for p in told.sections[0].passages for s in p.sentences if s.text.startswith("In the end")]
    assert ends == ["In the end not all is as it was at the start: CT1 stands at 1."]


_ONE_LIMIT = """\
    extend A until at-end, within 4 s or fault "A is slow"
    retract A until at-home
    extend A until at-end
    retract A until at-home
"""


def test_a_jam_that_only_one_of_two_strokes_watches_for_is_not_told_of_both() -> None:
    """The time limit stands on the first stroke alone: the second waits for ever."""
    told = [s.text for s in _told(_ONE_LIMIT).sections[-1].passages[0].sentences]
    assert (
        "If A jams on its way out in “extend A until at-end” (S1), a fault ends the cycle, with every load off."
        in told
    )
    waits = next(text for text in told if "verything waits" in text)
    assert "if A jams on its way out in “extend A until at-end” (S3), with Y1 on" in waits
    assert "if A jams on its way back in “retract A until at-home” (S2), with every load off" in waits


_ASKED_TWICE = """\
    if PART is made
        hold 2 s
    otherwise
        hold 1 s
    A+ A-
    if PART is made
        B+ B-
    hold 1 s
"""


def test_a_way_that_parts_once_more_further_on_is_not_said_to_go_on_alike() -> None:
    """What decides the first choice decides the second as well: behind the first A moves, but only one way B does."""
    section = next(s for s in _told(_ASKED_TWICE).sections if s.title == "If PART is not made instead")
    assert "From there it does not go on as the cycle does." in section.passages[-1].sentences[-1].text
    assert not any("all that follows" in s.text for p in section.passages for s in p.sentences)
