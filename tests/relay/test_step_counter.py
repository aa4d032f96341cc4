"""The step counter: the sequence whatever its inputs do, and after a loss of supply whatever its relays remember."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from functools import partial
from itertools import product

import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.circuit import CircuitLogic, circuit_logic
from compiler.logic import Chattering, Reaction
from compiler.machine import Machine
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing
from compiler.proof.world import World
from compiler.races import races
from compiler.races.reachable import reachable
from compiler.simulation.run import Swiftness
from grammar.rungs import read
from grammar.rungs.tree import Circuit, Contact, Kind, contacts
from grammar.source import Source
from targets.build import announced
from targets.relay import TARGET
from targets.relay.groups import Stage, told
from targets.target import Artefact, Options
from tests.relay.beside_chart import repeats_inputs
from tests.relay.clock import play_both
from tests.relay.letters import ROWS, Row, chart_of, machine_of, solenoid, stages_of
from tests.relay.test_cascade import WITH_HOLDS, conducts, logic, printed, set_out, tree
from tests.relay.test_groups import closed_sequences
from tests.relay.test_step_chain import apart
from tests.strategies_chart import Moment, charts, histories, machines

NAME = "step-counter"
SEQUENCES = [*(row.sequence for row in ROWS), *WITH_HOLDS]


def circuit(sequence: str, *, anti_repeat: bool = False, poles: int = 99) -> CircuitLogic:
    text = printed(sequence, chart_of(sequence, home=True), anti_repeat=anti_repeat, name=NAME, poles=poles).text
    return circuit_logic(read(Source("counter.rungs", text)).tree, machine_of(sequence))


def wired(of: Circuit) -> list[Contact]:
    """Every contact there is: those of a master once for the whole group behind it. (There is one group at most.)"""
    masters = {master.network for rung in of.rungs for master in rung.masters}
    return [c for net in (*masters, *(rung.own for rung in of.rungs)) for c in contacts(net)]


@pytest.mark.parametrize("sequence", SEQUENCES)
@pytest.mark.parametrize("anti_repeat", [False, True])
def test_the_machine_moves_in_the_stated_order(sequence: str, anti_repeat: bool) -> None:
    machine = machine_of(sequence)
    made = logic(printed(sequence, chart_of(sequence), anti_repeat=anti_repeat, name=NAME), machine)
    stated = [{str(move) for move in stage} for stage in stages_of(sequence) if stage]
    for out, back in product(Swiftness, repeat=2):
        assert set_out(machine, made, (out, back)) == stated * 2


@pytest.mark.parametrize(
    ("sequence", "home"), [*((sequence, False) for sequence in SEQUENCES), ("A+ B+ B- A-", True)]
)
def test_is_the_sequence(sequence: str, home: bool) -> None:
    """With anti-repeat whatever happens: stuck switches, jams, presses at any moment and lost supplies. Without it,
    of a careful operator."""
    machine, chart = machine_of(sequence), chart_of(sequence, home=home)
    plain = printed(sequence, chart, name=NAME)
    found = prove(chart_logic(chart), logic(plain, machine), machine)
    assert found.standing is Standing.SAME_ONLY_IF
    assert set(found.needs) <= announced(plain.announces)
    careful = printed(sequence, chart, anti_repeat=True, name=NAME)
    assert careful.announces == frozenset()
    assert prove(chart_logic(chart), logic(careful, machine), machine).standing is Standing.SAME


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(closed_sequences(), st.lists(st.integers(1, 12)))
def test_any_closed_sequence_is_proved(stages: tuple[Stage, ...], busy: list[int]) -> None:
    sequence = told([stages])
    machine, chart = machine_of(sequence), chart_of(sequence, busy=tuple(busy))
    made = logic(printed(sequence, chart, anti_repeat=True, name=NAME), machine)
    found = prove(chart_logic(chart), made, machine)
    assert found.standing is Standing.SAME, f"{sequence}: {found.headline}"


@pytest.mark.parametrize("row", [row for row in ROWS if row.number in (1, 3, 13)], ids=lambda row: row.sequence)
@pytest.mark.parametrize(("poles", "within_us"), [(0, 0), (2, 0), (3, 50_000), (99, 30_000), (99, 40_000)])
def test_relays_of_few_poles_and_faults(row: Row, poles: int, within_us: int) -> None:
    machine, chart = machine_of(row.sequence), chart_of(row.sequence, home=True, within_us=within_us)
    made = printed(row.sequence, chart, anti_repeat=True, name=NAME, poles=poles)
    taken = Counter(c.name.text for c in wired(tree(made)))
    relays = {d.name.text for d in tree(made).devices if d.kind in (Kind.RELAY, Kind.LATCHING_RELAY)}
    assert max(taken[relay] for relay in relays) <= (poles or 4)
    found = prove(chart_logic(chart), logic(made, machine), machine)
    assert found.standing is Standing.SAME, found.headline


@settings(
    phases=(Phase.generate,),
    max_examples=12,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)
@given(machines(), charts(stored=False), histories())
def test_is_any_chart_that_fits(machine: Machine, chart: Chart, history: list[Moment]) -> None:
    """Steps of any kind, ended by any condition, whatever the inputs do."""
    made = next(iter(TARGET.emit(machine, chart, options=Options(anti_repeat=True, arrangements=(NAME,)))))
    assume(isinstance(made, Artefact))
    assert isinstance(made, Artefact)
    moments = [(moment.pause_us, moment.inputs) for moment in history]
    again = TARGET.read(made.text, made.file, machine)
    difference = play_both(chart_logic(chart), again, moments, joint=not apart(chart) and not repeats_inputs(made))
    assert difference is None, f"{difference}\n{made.text}"


# --- a loss of supply -----------------------------------------------------------------------------------------


def remembering(circuit: CircuitLogic, latched: tuple[bool, ...]) -> tuple[int, ...]:
    """A state as the supply finds it: every relay out, every timer reset, the latching relays as they were left."""
    devices = circuit.circuit.devices
    at = iter(latched)
    kinds = (Kind.RELAY, Kind.TIMER, Kind.LATCHING_RELAY)  # the order of a circuit's state
    return tuple(
        next(at) if kind is Kind.LATCHING_RELAY else 0 for kind in kinds for device in devices if device.kind is kind
    )


def kept_places(circuit: CircuitLogic) -> list[tuple[bool, ...]]:
    """Every way the latching relays can have been left, as many at once as you like."""
    count = sum(device.kind is Kind.LATCHING_RELAY for device in circuit.circuit.devices)
    return list(product((False, True), repeat=count))


def situation(react: Callable[[tuple[bool, ...]], Reaction], inputs: tuple[bool, ...]) -> object:
    """What comes of it. (With START held and every switch of a cylinder made at once a cycle is over in no time and
    begins again: no machine does that, but it is tried as well.)"""
    try:
        found = react(inputs)
    except Chattering:
        return "never settles"
    return found.state, found.outputs, found.running


def as_the_supply_comes_on(circuit: CircuitLogic, machine: Machine) -> list[str]:
    """Whatever the relays remember and whatever the inputs are: where the supply coming on does other than with all
    of them unlatched, which is what the proof takes for granted. Switches stand in every way, buttons too."""
    wrong = []
    switched = [k for k, name in enumerate(machine.inputs) if name.name in circuit.reads]
    for bits in product((False, True), repeat=len(switched)):
        inputs = tuple(bits[switched.index(k)] if k in switched else False for k in range(len(machine.inputs)))
        fresh = situation(circuit.power_up, inputs)
        for latched in kept_places(circuit):
            found = situation(partial(circuit.react, remembering(circuit, latched)), inputs)
            if found != fresh:
                wrong.append(f"{latched} {inputs}: {found}")
    return wrong


@pytest.mark.parametrize("sequence", ["A+ A-", "A+ B+ B- A-", "A+ 2 A- B+ B-"])
@pytest.mark.parametrize("anti_repeat", [False, True])
@pytest.mark.parametrize("poles", [4, 99])
def test_what_the_relays_remember_over_a_loss_of_supply_comes_to_nothing(
    sequence: str, anti_repeat: bool, poles: int
) -> None:
    """Exhaustive: so what is proved with relays that forget holds of real ones, which remember. Of two relays that
    stand for one step, having few poles, each may remember something else."""
    machine = machine_of(sequence)
    assert as_the_supply_comes_on(circuit(sequence, anti_repeat=anti_repeat, poles=poles), machine) == []


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.sequence)
def test_nothing_is_live_as_the_supply_comes_on_before_any_relay_has_moved(row: Row) -> None:
    """In the very first moment the latching relays still stand as they were left, and no output is fed."""
    printed_tree = tree(printed(row.sequence, chart_of(row.sequence), name=NAME))
    loads = {load.name for load in machine_of(row.sequence).loads}
    names = [device.name.text for device in printed_tree.devices if device.kind is Kind.LATCHING_RELAY]
    fed = [rung.network for rung in printed_tree.rungs for feed in rung.feeds if feed.name.text in loads]
    for bits in product((False, True), repeat=len(names)):
        stands = dict(zip(names, bits, strict=True)) | {"CR1": False}
        assert not any(conducts(network, stands) for network in fed)


def test_without_its_clearing_contacts_it_would_go_on_where_it_was() -> None:
    """The test above can fail, and this is what it is there to prevent."""
    sequence = "A+ B+ B- A-"
    text = printed(sequence, chart_of(sequence, home=True), name=NAME).text
    spoilt = text.replace("KR3 or CR1 NC, feeds KR2 unlatch", "KR3, feeds KR2 unlatch")
    assert spoilt != text
    made = circuit_logic(read(Source("spoilt.rungs", spoilt)).tree, machine_of(sequence))
    assert as_the_supply_comes_on(made, machine_of(sequence))


def test_no_start_is_quicker_than_the_clearing() -> None:
    """START held as the supply comes back: the relay of the cycle picks up only with every step found unlatched."""
    rungs = tree(printed("A+ B+ B- A-", chart_of("A+ B+ B- A-"), name=NAME)).rungs
    network = next(rung.network for rung in rungs if rung.feeds[0].name.text == "CR1")
    names = sorted({contact.name.text for contact in contacts(network)} - {"CR1"})
    starts = []
    for bits in product((False, True), repeat=len(names)):
        stands = dict(zip(names, bits, strict=True)) | {"CR1": False}
        if conducts(network, stands):
            starts.append({name for name, on in stands.items() if on and name.startswith("KR")})
    assert starts
    assert not any(starts)


# --- relays that move in any order ----------------------------------------------------------------------------


@pytest.mark.parametrize("row", [row for row in ROWS if row.number in (1, 3, 12)], ids=lambda row: row.sequence)
def test_it_matters_not_how_quick_its_relays_are(row: Row) -> None:
    sequence = row.sequence
    machine, made = machine_of(sequence), circuit(sequence)
    stimuli, whole = reachable(made, machine, World(), most_zones=20_000)
    assert whole
    found = races(made.circuit, machine, stimuli)
    assert found.free, found.lines


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.sequence)
def test_no_valve_gets_both_commands_however_the_relays_stand(row: Row) -> None:
    rungs = tree(printed(row.sequence, chart_of(row.sequence), name=NAME)).rungs
    fed = {feed.name.text: rung.network for rung in rungs for feed in rung.feeds}
    moves = {move for stage in stages_of(row.sequence) for move in stage if move.out}
    relays = ["CR1", *(f"KR{k}" for k in range(1, 1 + len(stages_of(row.sequence))))]
    for bits in product((False, True), repeat=len(relays)):
        stands = dict(zip(relays, bits, strict=True))
        for move in moves:
            out, back = fed[solenoid(move)], fed[solenoid(move.opposite)]
            assert not (conducts(out, stands) and conducts(back, stands)), (move, stands)
