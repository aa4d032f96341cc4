"""The way home after STOP that cascade groups take: proved in any order of moves, spoilt, refused with reasons."""

from __future__ import annotations

from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.chart import Action, Chart, Forcing, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.condition import Condition, Elapsed, Rise, Signal, Sustained, both, negated
from compiler.machine import Machine
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing
from compiler.proof.world import World
from compiler.races import RelayTimes, races
from compiler.races.reachable import reachable
from compiler.understand import understand
from grammar.rungs import read
from grammar.source import Source
from targets.build import announced
from targets.relay import TARGET, repeats
from targets.relay.groups import Move, Stage, told
from targets.target import Artefact, Options, Refusal
from tests.relay.letters import ROWS, chart_of, letters_of, machine_of, solenoid, stages_of, switch
from tests.relay.test_groups import closed_sequences

MANY = 99


def with_way_home(chart: Chart, way: str, stop: Condition | None = None) -> Chart:
    """The chart, with a press of STOP leading home by these moves, a step a stage, and no start while it is down."""
    stages = stages_of(way)
    names = [f"H{k}" for k in range(1, len(stages) + 1)]
    steps = [
        Step(name=name, actions=tuple(Action(output=solenoid(move)) for move in stage))
        for name, stage in zip(names, stages, strict=True)
    ]
    onward = [
        Transition(
            name=f"TH{k}",
            sources=(name,),
            targets=(target,),
            condition=both(*(Signal(device=switch(move)) for move in stage)),
        )
        for k, (name, target, stage) in enumerate(zip(names, [*names[1:], "S0"], stages, strict=True))
    ]
    held = negated(Signal(device="STOP"))
    cycle = [
        Transition(**(dict[str, Any](t) | {"condition": both(t.condition, held)})) if t.sources == ("S0",) else t
        for t in chart.transitions
    ]
    return chart.model_copy(
        update={
            "steps": (*chart.steps, *steps),
            "transitions": (*cycle, *onward),
            "forcing": Forcing(condition=stop or Rise(device="STOP"), steps=(names[0],)),
        }
    )


def emitted(machine: Machine, chart: Chart, *, anti_repeat: bool = True, poles: int = MANY) -> Artefact | Refusal:
    options = Options(anti_repeat=anti_repeat, arrangements=("cascade",), poles=poles)
    with patch.object(repeats, "BLOCKS", max(poles, repeats.BLOCKS)):
        return next(iter(TARGET.emit(machine, chart, options=options)))


def printed(machine: Machine, chart: Chart, *, anti_repeat: bool = True, poles: int = MANY) -> Artefact:
    made = emitted(machine, chart, anti_repeat=anti_repeat, poles=poles)
    assert isinstance(made, Artefact), made
    return made


def proved(machine: Machine, chart: Chart, made: Artefact) -> None:
    """Every travel time, press and jam, lost supply and stuck switch: the same under no more than it announces."""
    found = prove(chart_logic(chart), TARGET.read(made.text, made.file, machine), machine)
    assert found.standing in (Standing.SAME, Standing.SAME_ONLY_IF), f"{found.headline}\n{made.text}"
    assert set(found.needs) <= announced(made.announces), f"{found.headline}\n{made.text}"


WAYS = [
    ("A+ B+ B- A-", "B- A-"),
    ("A+ B+ B- A-", "(A- B-)"),
    ("A+ B+ A- B-", "A-"),  # B is left where its valve sends it
    ("A+ A- B+ B-", "B+ A- B-"),  # out once more on its way
    ("A+ B- B+ A-", "B+ A-"),  # B rests out
    ("A+ 3 A-", "A-"),
]


@pytest.mark.parametrize(("sequence", "way"), WAYS)
@pytest.mark.parametrize("anti_repeat", [False, True])
@pytest.mark.parametrize("poles", [2, 4, MANY])
def test_a_press_of_stop_leads_home_as_written(sequence: str, way: str, anti_repeat: bool, poles: int) -> None:
    chart, machine = with_way_home(chart_of(sequence, home=True), way), machine_of(sequence)
    proved(machine, chart, printed(machine, chart, anti_repeat=anti_repeat, poles=poles))


@settings(max_examples=15, deadline=None)
@given(closed_sequences(), st.randoms(use_true_random=False), st.booleans())
def test_any_closed_sequence_comes_home_in_any_order(
    stages: tuple[Stage, ...], chance: Any, anti_repeat: bool
) -> None:
    sequence = told([stages])
    moves = [Move(letter, out) for letter, out in letters_of(stages).items()]
    chance.shuffle(moves)
    way = " ".join(map(str, moves[: chance.randint(1, 3)]))
    machine = machine_of(sequence)
    chart = with_way_home(chart_of(sequence, home=True), way)
    proved(machine, chart, printed(machine, chart, anti_repeat=anti_repeat))


def test_faults_lead_home_too() -> None:
    """In a fault nothing moves until STOP leads home. With every switch working."""
    sequence = "A+ B+ B- A-"
    chart = with_way_home(chart_of(sequence, home=True, within_us=50_000), "B- A-")
    machine = machine_of(sequence)
    made = printed(machine, chart)
    found = prove(chart_logic(chart), TARGET.read(made.text, made.file, machine), machine, worlds=[World()])
    assert found.standing is Standing.SAME, found.headline


def test_it_is_told_what_leads_home() -> None:
    sequence = "A+ B+ B- A-"
    text = printed(machine_of(sequence), with_way_home(chart_of(sequence, home=True), "B- A-")).text
    notes = " ".join(line.lstrip("# ") for line in text.splitlines())
    assert "A press of STOP drops out every group and leads home, one relay a step (HR1 B-, HR2 A-)" in notes
    assert "SOLA0: A- in group II and on the way home (HR2); never in group I, where A+ is commanded." in notes
    assert "SOLB1: B+ in group I; never in group II and on the way home (HR1), where B- is commanded." in notes


SPOILT = [
    ("the press leads nowhere", "QR1 or HR1,", "HR1,"),
    ("a second press does not begin the way again", "HR2, QR1 NC,", "HR2,"),
    ("a held STOP leads home again as a switch lets go", "(HR1 NC and (LSB0 NC or LSA0 NC))", "HR1 NC"),
    ("the way begins as the supply comes back", "STOP, AR1, feeds QR1", "STOP, feeds QR1"),
    ("the second step does not wait for the first", "(HR1 and LSB0) or HR2", "HR1 or HR2"),
    ("the second step has no seal-in", "(HR1 and LSB0) or HR2,", "HR1, LSB0,"),
    ("the way never ends", "LSA0 NC, feeds HR2", "feeds HR2"),
    ("a group goes on under STOP", "CR1, STOP NC, CR2 NC, feeds CR1", "CR1, CR2 NC, feeds CR1"),
]  # fmt: skip


@pytest.mark.parametrize(("wrong", "was", "now"), SPOILT, ids=[row[0] for row in SPOILT])
def test_a_spoilt_way_home_is_not_proved(wrong: str, was: str, now: str) -> None:
    sequence = "A+ B+ B- A-"
    chart, machine = with_way_home(chart_of(sequence, home=True), "B- A-"), machine_of(sequence)
    made = printed(machine, chart)
    assert made.text.count(was) == 1, made.text
    spoilt = circuit_logic(read(Source("spoilt.rungs", made.text.replace(was, now))).tree, machine)
    found = prove(chart_logic(chart), spoilt, machine)
    assert found.standing is Standing.DIFFERS or not set(found.needs) <= announced(made.announces), found.headline


def test_relays_of_usual_times_race_for_nothing() -> None:
    sequence = ROWS[0].sequence
    machine = machine_of(sequence, least_us=400_000, greatest_us=800_000)
    chart = with_way_home(chart_of(sequence, home=True), "B- A-")
    circuit = read(Source("home.rungs", printed(machine, chart, anti_repeat=False).text)).tree
    stimuli, whole = reachable(circuit_logic(circuit, machine), machine, World(), most_zones=20_000)
    assert whole
    times = RelayTimes(pick_up=(5_000, 15_000), drop_out=(3_000, 10_000), middle=2_000)
    found = races(circuit, machine, stimuli, times={device.name.text: times for device in circuit.devices})
    assert found.free, found.lines


SQUARE = "A+ B+ B- A-"


def refused(chart: Chart) -> str:
    made = emitted(machine_of(SQUARE), chart)
    assert isinstance(made, Refusal), made
    return made.reason


def test_what_does_not_fit_is_refused_with_the_reason() -> None:
    plain = chart_of(SQUARE, home=True)
    lasting = Sustained(of=Signal(device="STOP"), time_us=1_000_000)
    assert refused(with_way_home(plain, "A-", lasting)).startswith("more than the press of one button leads home")
    waiting = with_way_home(plain, "B- A-")
    held = [
        Transition(**(dict[str, Any](t) | {"condition": Elapsed(step="H1", time_us=1_000_000)}))
        if t.sources == ("H1",)
        else t
        for t in waiting.transitions
    ]
    assert refused(waiting.model_copy(update={"transitions": tuple(held)})) == (
        "the move B- is not ended by a limit switch at its end, which groups need"
    )
    back = waiting.model_copy(update={"forcing": Forcing(condition=Rise(device="STOP"), steps=("S3",))})
    assert "S3" in refused(back) or "line" in refused(back)


@pytest.mark.parametrize("arrangement", ["on-delay", "off-delay", "one-shot", "step-counter"])
def test_an_arrangement_without_a_way_home_names_those_that_have_one(arrangement: str) -> None:
    chart = with_way_home(chart_of(SQUARE, home=True), "B- A-")
    made = next(iter(TARGET.emit(machine_of(SQUARE), chart, options=Options(arrangements=(arrangement,)))))
    assert isinstance(made, Refusal)
    assert made.reason == (
        "it has a stop that leads home by steps of its own; cascade groups, the step chain and the one-hot chain are "
        "for that"
    )


def test_buttons_of_other_names_are_told_to_be_start_and_stop() -> None:
    """The papers speak of START and STOP; whoever wires them finds only the names of the machine on its buttons."""
    program = (
        "pneumatic cylinder A\n    stroke 10 mm\n    double solenoid valve Y1 extends, Y2 retracts\n"
        "    limit switch B1 at end, B2 at home\npushbutton START, STOP NC\n"
        "cycle\n    when START is pressed\n    A+ A-\n"
        "when STOP is pressed, drop out everything\n"
    )
    german = program.replace("START", "EIN").replace("STOP", "HALT")
    read = [understand(Source("test", text)) for text in (german, program)]
    texts = [
        made.text
        for each in read
        if each.chart is not None
        for made in TARGET.emit(each.machine, each.chart, options=Options(arrangements=("cascade",)))
        if isinstance(made, Artefact) and made.implementation
    ]
    assert ["In what is told here START is EIN and STOP is HALT." in text for text in texts] == [True, False]
