"""Cascade groups: every sequence printed, read back, run in the Plant and proved; never both solenoids of a valve."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import product
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from compiler.chart import Chart, Transition
from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.condition import Condition, Not, Rise, Signal, Sustained, both
from compiler.logic import Logic
from compiler.machine import Input, InputKind, Machine, ValveKind
from compiler.proof.prove import prove
from compiler.proof.verdict import Proof, Standing
from compiler.proof.world import World
from compiler.races import RelayTimes, races
from compiler.races.reachable import reachable
from compiler.simulation.bench import Bench, wire
from compiler.simulation.run import Event, EventKind, Swiftness, stroke_times
from compiler.understand import understand
from grammar.rungs import read
from grammar.rungs.tree import Circuit, Contact, Form, Kind, Network, Parallel, Series
from grammar.source import Source
from targets.build import announced
from targets.relay import TARGET, repeats
from targets.relay.groups import Stage, told
from targets.target import Artefact, Assumption, Options, Refusal
from tests.relay.letters import ROWS, Row, chart_of, machine_of, solenoid, stages_of
from tests.relay.test_groups import closed_sequences

WITH_HOLDS = ("A+ 3 A-", "A+ B+ 2 B- 5 A- 1", "2 A+ 2 3 A- B+ B-", "(A+ B+) 4 (A- B-)")


MANY = 99


def printed(
    sequence: str, chart: Chart, *, anti_repeat: bool = False, name: str = "cascade", poles: int = MANY
) -> Artefact:
    """The rung list of a sequence, which must fit; with relays of so many poles, and switches of no fewer."""
    options = Options(anti_repeat=anti_repeat, arrangements=(name,), poles=poles)
    with patch.object(repeats, "BLOCKS", max(poles, repeats.BLOCKS)):
        made = next(iter(TARGET.emit(machine_of(sequence), chart, options=options)))
    assert isinstance(made, Artefact), made
    return made


def logic(rungs: Artefact, machine: Machine) -> Logic:
    return TARGET.read(rungs.text, rungs.file, machine)


def tree(rungs: Artefact) -> Circuit:
    return read(Source(rungs.file, rungs.text)).tree


def proof(sequence: str, chart: Chart, rungs: Artefact) -> Proof:
    machine = machine_of(sequence)
    return prove(chart_logic(chart), logic(rungs, machine), machine)


def test_the_textbook_example_comes_out_as_the_textbook_has_it() -> None:
    """A+ B+ / B- A-: in I A+ straight, B+ on a1; b1 selects II; in II B- straight, A- on b0. (Simmons and Dennis,
    ch. 27, retold for relays.) What is added: a solenoid's own switch, NC contacts against the other one, START."""
    rungs = {f.name.text: rung.network for rung in tree(printed("A+ B+ B- A-", chart_of("A+ B+ B- A-"))).rungs
             for f in rung.feeds}  # fmt: skip
    group_one, group_two = "CR1", "CR2"

    def needs(name: str) -> set[str]:
        network = rungs[name]
        assert isinstance(network, Series)
        return {c.name.text for c in network.parts if isinstance(c, Contact) and c.form is Form.NO}

    assert needs("SOLA1") == {group_one}
    assert needs("SOLB1") == {group_one, "LSA1"}
    assert needs("SOLB0") == {group_two}
    assert needs("SOLA0") == {group_two, "LSB0"}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.sequence)
@pytest.mark.parametrize("anti_repeat", [False, True])
def test_one_relay_a_group_and_the_notes_say_the_groups(row: Row, anti_repeat: bool) -> None:
    made = printed(row.sequence, chart_of(row.sequence), anti_repeat=anti_repeat)
    assert dict(made.parts)["relays"] == len(row.in_line.split("/")) + anti_repeat
    flowing = " ".join(line.lstrip("# ") for line in made.text.splitlines() if line.startswith("#"))
    assert f"Groups: {row.in_line}. " in flowing
    blocked = ", ".join(row.blocked.split()) or "no move"
    assert f"{blocked} would be blocked by the opposite command" in flowing
    fewer = row.cyclic < len(row.in_line.split("/"))
    assert (f"round the cycle {row.cyclic} would do" if fewer else "round the cycle no fewer would do") in flowing


def cycled(machine: Machine, logic: Logic, times: tuple[Swiftness, Swiftness]) -> Iterator[Bench]:
    """The machine at every instant of two cycles, each begun by a short press of START once all rests."""
    bench = Bench(machine, [wire(machine, logic)], stroke_times(machine, *times))
    bench.step(0)
    yield bench
    for _ in range(2):
        pressed = Event(at_us=0, kind=EventKind.INPUT, device="START", on=True)
        bench.step(bench.now_us + 500_000, [pressed])
        yield bench
        bench.step(bench.now_us + 1_000, [pressed.model_copy(update={"on": False})])
        yield bench
        while (due := bench.due_us()) is not None:
            bench.step(due)
            yield bench


def set_out(machine: Machine, logic: Logic, times: tuple[Swiftness, Swiftness]) -> list[set[str]]:
    """The moves in the order they set out, those of one instant together; on the way every valve is looked at."""
    both_on = [{a.valve.extend, a.valve.retract} for a in machine.actuators]
    found: list[set[str]] = []
    was: dict[str, int] = {}
    for bench in cycled(machine, logic, times):
        assert not any(pair <= set(bench.on()) for pair in both_on), f"{bench.on()} at {bench.now_us}"
        assert not bench.chattering
        now = {name: way for name, (_, way) in bench.plant.motion(bench.now_us).items()}
        moves = {f"{name}{'+' if way > 0 else '-'}" for name, way in now.items() if way and way != was.get(name)}
        if moves:
            found.append(moves)
        was = now
    assert bench.plant.at_rest(bench.now_us)
    assert not bench.on()
    return found


@pytest.mark.parametrize("sequence", [*(row.sequence for row in ROWS), *WITH_HOLDS])
@pytest.mark.parametrize("anti_repeat", [False, True])
def test_the_machine_moves_in_the_stated_order(sequence: str, anti_repeat: bool) -> None:
    machine = machine_of(sequence)
    made = logic(printed(sequence, chart_of(sequence), anti_repeat=anti_repeat), machine)
    stated = [{str(move) for move in stage} for stage in stages_of(sequence) if stage]
    for out, back in product(Swiftness, repeat=2):
        assert set_out(machine, made, (out, back)) == stated * 2


@pytest.mark.parametrize("sequence", [*(row.sequence for row in ROWS), *WITH_HOLDS])
@pytest.mark.parametrize(("anti_repeat", "home", "needs"), [
    (False, True, {"the operator is careful", "every switch works"}),
    (False, False, {"the operator is careful", "every switch works"}),
    (True, False, {"the operator is careful", "every switch works"}),
    (True, True, {"every switch works"}),
])  # fmt: skip
def test_is_the_sequence_under_what_it_announces(
    sequence: str, anti_repeat: bool, home: bool, needs: set[str]
) -> None:
    """Every travel time, every press, jams, STOP and lost supplies; with home conditions and anti-repeat nothing is
    taken for granted but the switches."""
    chart = chart_of(sequence, home=home)
    made = printed(sequence, chart, anti_repeat=anti_repeat)
    found = proof(sequence, chart, made)
    assert found.standing is Standing.SAME_ONLY_IF, found.headline
    assert set(map(str, found.needs)) <= needs
    assert set(found.needs) <= announced(made.announces)
    assert not found.chatters
    assert (Assumption.START_AT_HOME in made.announces) is not (home and anti_repeat)


@pytest.mark.parametrize("sequence", ["A+ B+ B- A-", "A+ A- B+ B-", "A+ B+ C+ (B- C-) A-", "A+ B+ 2 B- 5 A- 1"])
@pytest.mark.parametrize("within_us", [30_000, 40_000, 50_000])
def test_faults_are_watched_for(sequence: str, within_us: int) -> None:
    """Strokes take 20 to 40 ms: a limit that some of them exceed, one that they just reach, and one that only a jam
    exceeds. With every switch working."""
    chart = chart_of(sequence, home=True, within_us=within_us)
    made = printed(sequence, chart, anti_repeat=True)
    machine = machine_of(sequence)
    found = prove(chart_logic(chart), logic(made, machine), machine, worlds=[World()])
    assert found.standing is Standing.SAME, found.headline


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.sequence)
@pytest.mark.parametrize("poles", [0, 2, 3])
def test_relays_of_few_poles_do_the_same(row: Row, poles: int) -> None:
    """0: as many as relays usually have, which is four."""
    chart = chart_of(row.sequence, home=True)
    made = printed(row.sequence, chart, anti_repeat=True, poles=poles)
    taken = Counter(c.name.text for rung in tree(made).rungs for c in _contacts(rung.network))
    relays = {d.name.text for d in tree(made).devices if d.kind is Kind.RELAY}
    assert max(taken[relay] for relay in relays) <= (poles or 4)
    found = proof(row.sequence, chart, made)
    assert set(found.needs) <= announced(made.announces), found.headline
    assert found.standing in (Standing.SAME, Standing.SAME_ONLY_IF)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(closed_sequences(), st.lists(st.integers(1, 12)), st.booleans(), st.booleans())
def test_any_closed_sequence_is_proved(
    stages: tuple[Stage, ...], busy: list[int], anti_repeat: bool, home: bool
) -> None:
    """With a lamp on in any of the steps."""
    sequence = told([stages])
    chart = chart_of(sequence, home=home, busy=tuple(busy))
    made = printed(sequence, chart, anti_repeat=anti_repeat)
    found = proof(sequence, chart, made)
    assert set(found.needs) <= announced(made.announces), f"{sequence}: {found.headline}\n{made.text}"
    assert found.standing in (Standing.SAME, Standing.SAME_ONLY_IF), f"{sequence}: {found.headline}\n{made.text}"


@pytest.mark.parametrize("stop", [True, False])
def test_a_machine_without_stop_has_no_word_of_it(stop: bool) -> None:
    made = printed("A+ B+ B- A-", chart_of("A+ B+ B- A-", stop=stop))
    told_notes, _, rungs = made.text.partition("\n\n")
    assert ("STOP drops out" in told_notes) is stop
    assert ("STOP NC" in rungs) is stop


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.sequence)
def test_letters_as_a_whole_program_come_out_in_the_same_groups(row: Row) -> None:
    """From the words to the proof, with the devices that a program of letters alone is given."""
    understood = understand(Source("letters", row.sequence))
    chart, machine = understood.chart, understood.machine
    assert chart is not None, understood.diagnostics
    for name in ("cascade", "step-counter"):
        made = next(iter(TARGET.emit(machine, chart, options=Options(arrangements=(name,)))))
        assert isinstance(made, Artefact), made
        if name == "cascade":
            flowing = " ".join(line.lstrip("# ") for line in made.text.splitlines() if line.startswith("#"))
            assert f"Groups: {row.in_line}. " in flowing
        found = prove(chart_logic(chart), TARGET.read(made.text, made.file, machine), machine)
        assert found.standing is Standing.SAME_ONLY_IF, found.headline
        assert set(found.needs) <= announced(made.announces), found.headline


def conducts(network: Network, actuated: dict[str, bool]) -> bool:
    match network:
        case Contact(name=name, form=form):
            return actuated[name.text] is (form in (Form.NO, Form.NOTC))
        case Series(parts=parts):
            return all(conducts(part, actuated) for part in parts)
        case Parallel(parts=parts):
            return any(conducts(part, actuated) for part in parts)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.sequence)
def test_no_valve_gets_both_commands_however_the_relays_stand(row: Row) -> None:
    """Every combination of relays and switches, those that can never come about included: no relay that hangs, or
    moves before or after its turn, puts both solenoids of a valve on."""
    fed = {feed.name.text: rung.network for rung in tree(printed(row.sequence, chart_of(row.sequence))).rungs
           for feed in rung.feeds}  # fmt: skip
    for letter in {move.letter for stage in stages_of(row.sequence) for move in stage}:
        moves = [move for stage in stages_of(row.sequence) for move in stage if move.letter == letter]
        out, back = fed[solenoid(moves[0])], fed[solenoid(moves[0].opposite)]
        names = sorted({c.name.text for c in [*_contacts(out), *_contacts(back)]})
        for bits in product((False, True), repeat=len(names)):
            stands = dict(zip(names, bits, strict=True))
            assert not (conducts(out, stands) and conducts(back, stands)), (letter, stands)


def _contacts(network: Network) -> Iterator[Contact]:
    match network:
        case Contact():
            yield network
        case Series(parts=parts) | Parallel(parts=parts):
            for part in parts:
                yield from _contacts(part)


# --- broken on purpose ----------------------------------------------------------------------------------------

SPOILT = [
    # A switch alone for a cylinder's first move, as short textbook forms have it: after STOP in B+ the valve sends B
    # out, and the next cycle takes b1 for the end of a move that has not begun.
    ("A+ A- B+ B-", "trusts the switch of a first move alone", "CR2 and LSA0 and LSB1", "CR2 and LSB1"),
    ("A+ B+ B- A-", "drops the seal-in of a group", r") or CR2,", "),"),
    ("A+ B+ B- A-", "loses the NC contact that drops group I out", "STOP NC, CR2 NC", "STOP NC"),
    ("A+ B+ B- A-", "lets a command stand past its switch", "CR1, LSA1 NC, CR2 NC", "CR1, CR2 NC"),
    ("A+ B+ B- A-", "ends the cycle on the wrong switch", "STOP NC, LSA0 NC", "STOP NC, LSB0 NC"),
    ("A+ 3 A-", "starts the hold with the group", "CR1, LSA1, feeds TR1", "CR1, feeds TR1"),
    ("A+ B+ B- A-", "lets a fault stand in nobody's way", "FR1 NC, ", ""),
    ("A+ B+ A- B-", "swaps two solenoids", "feeds SOLA1", "feeds SOLB1"),
]  # fmt: skip


@pytest.mark.parametrize(("sequence", "wrong", "was", "now"), SPOILT, ids=[row[1] for row in SPOILT])
def test_a_spoilt_circuit_is_not_proved(sequence: str, wrong: str, was: str, now: str) -> None:
    chart = chart_of(sequence, home=True, within_us=50_000 if "fault" in wrong else 0)
    made = printed(sequence, chart, anti_repeat=True)
    assert made.text.count(was) == (2 if "fault" in wrong else 1), made.text
    text = made.text.replace(was, now, 1)
    if wrong == "swaps two solenoids":
        text = made.text.replace("feeds SOLA1", "feeds X").replace("feeds SOLB1", "feeds SOLA1").replace("X", "SOLB1")
    machine = machine_of(sequence)
    spoilt = circuit_logic(read(Source("spoilt.rungs", text)).tree, machine)
    found = prove(chart_logic(chart), spoilt, machine)
    assert found.standing is Standing.DIFFERS or not set(found.needs) <= announced(made.announces), found.headline


def test_a_cycle_that_starts_by_a_selector_keeps_out_starts_in_later_groups() -> None:
    """Nobody presses anything: what starts it stands all the time, in every group."""
    sequence = "A+ B+ B- C+ C- A-"
    chart = ending(chart_of(sequence), 0, Signal(device="START"))
    machine = machine_of(sequence).model_copy(update={"start": None})
    made = next(iter(TARGET.emit(machine, chart, options=Options(arrangements=("cascade",), poles=MANY))))
    assert isinstance(made, Artefact)
    sound = prove(chart_logic(chart), logic(made, machine), machine)
    assert {"every switch works"} >= set(map(str, sound.needs)), sound.headline
    assert made.text.count("(START and CR3 NC)") == 1
    spoilt = circuit_logic(read(Source("spoilt", made.text.replace("(START and CR3 NC)", "START"))).tree, machine)
    assert prove(chart_logic(chart), spoilt, machine).standing is Standing.DIFFERS


# --- what does not fit ----------------------------------------------------------------------------------------


def refused(machine: Machine, chart: Chart) -> str:
    made = next(iter(TARGET.emit(machine, chart, options=Options(arrangements=("cascade",)))))
    assert isinstance(made, Refusal), made
    return made.reason


def ending(chart: Chart, step: int, condition: Condition) -> Chart:
    """The chart with another condition after a step."""
    changed = [
        Transition(**(dict[str, Any](t) | {"condition": condition})) if t.sources == (f"S{step}",) else t
        for t in chart.transitions
    ]
    return chart.model_copy(update={"transitions": tuple(changed)})


SQUARE = "A+ B+ B- A-"


@pytest.mark.parametrize(
    ("condition", "reason"),
    [
        (Signal(device="LSB1"), "the move A+ is not ended by a limit switch at its end, which groups need"),
        (Not(of=Signal(device="LSA1")), "the move A+ is not ended by a limit switch at its end, which groups need"),
        (
            Sustained(of=Signal(device="LSA1"), time_us=1_000),
            "the move A+ is not ended by a limit switch at its end, which groups need",
        ),
        (Rise(device="LSA1"), "the move A+ is not ended by a limit switch at its end, which groups need"),
        (
            both(Signal(device="LSA1"), Signal(device="LSB0")),
            "step S1 waits for more than the limit switches of its own moves",
        ),
    ],
)
def test_a_move_not_ended_by_its_own_switch_does_not_fit(condition: Condition, reason: str) -> None:
    assert refused(machine_of(SQUARE), ending(chart_of(SQUARE), 1, condition)) == reason


def test_what_else_does_not_fit() -> None:
    machine, chart = machine_of(SQUARE), chart_of(SQUARE)
    valve = machine.actuators[1].valve.model_copy(update={"kind": ValveKind.SPRING_RETURN})
    sprung = machine.actuators[1].model_copy(update={"valve": valve})
    assert refused(machine.model_copy(update={"actuators": (machine.actuators[0], sprung)}), chart) == (
        "the valve of B does not stay where it was put; groups are for memory valves"
    )
    near = machine.actuators[0].limit_switches[1].model_copy(update={"at_um": 97_000})
    close = machine.actuators[0].model_copy(update={"limit_switches": (machine.actuators[0].limit_switches[0], near)})
    assert refused(machine.model_copy(update={"actuators": (close, machine.actuators[1])}), chart) == (
        "LSA1 and LSA0 of A may be made at the same time"
    )
    assert refused(machine_of("A+ A+"), chart_of("A+ A+")) == "the moves do not close: A is sent out twice in a row"


@pytest.mark.parametrize(
    ("sequence", "step", "groups"),
    [
        ("A+ 5 A-", 2, "A+ / A-"),
        ("A+ 5 B+ B- A-", 2, "A+ / B+ / B- A-"),
        ("5 A+ B+ 3 A- B-", 1, "wait / A+ B+ / A- B-"),
    ],
)
@pytest.mark.parametrize("condition", [Signal(device="PART"), Not(of=Signal(device="PART"))])
def test_a_wait_ends_its_group(sequence: str, step: int, groups: str, condition: Condition) -> None:
    """What is waited for may pass again; the relay of the next group remembers that it has been so."""
    plain, machine = chart_of(sequence, home=True), machine_of(sequence)
    chart = ending(plain, step, condition).model_copy(update={"inputs": (*plain.inputs, "PART")})
    machine = machine.model_copy(update={"inputs": (*machine.inputs, Input(name="PART", kind=InputKind.SENSOR))})
    made = next(iter(TARGET.emit(machine, chart, options=Options(anti_repeat=True, arrangements=("cascade",)))))
    assert isinstance(made, Artefact), made
    found = prove(chart_logic(chart), logic(made, machine), machine)
    assert set(map(str, found.needs)) <= {"every switch works"}, f"{found.headline}\n{made.text}"
    assert found.standing in (Standing.SAME, Standing.SAME_ONLY_IF), found.headline
    assert f"Groups: {groups}. " in " ".join(line.lstrip("# ") for line in made.text.splitlines())


def test_a_wait_in_the_end_does_not_fit() -> None:
    waits = ending(chart_of("A+ A- 5"), 3, Signal(device="START"))
    assert refused(machine_of("A+ A- 5"), waits) == "the last step waits for what may be so before it begins"


# --- relays that move in any order ----------------------------------------------------------------------------


@pytest.mark.parametrize("row", [row for row in ROWS if row.number in (1, 3, 12)], ids=lambda row: row.sequence)
def test_relays_of_usual_times_race_for_nothing(row: Row) -> None:
    """The relay that comes in must seal itself before the one it drops out has let go: relays do whose contacts cross
    over faster than they drop out. Of relays of any times at all it is not so, and the analysis says it."""
    sequence = row.sequence
    machine = machine_of(sequence, least_us=400_000, greatest_us=800_000)
    circuit = tree(printed(sequence, chart_of(sequence, home=True), anti_repeat=True))
    stimuli, whole = reachable(circuit_logic(circuit, machine), machine, World(), most_zones=20_000)
    assert whole
    times = RelayTimes(pick_up=(5_000, 15_000), drop_out=(3_000, 10_000), middle=2_000)
    found = races(circuit, machine, stimuli, times={device.name.text: times for device in circuit.devices})
    assert found.free, found.lines
    assert not races(circuit, machine, stimuli).free
