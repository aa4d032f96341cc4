"""Input relays: no button or switch is asked for more contacts than fit behind it; the circuit does what it did."""

from __future__ import annotations

from collections import Counter
from unittest.mock import patch

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.machine import Contact as Wired
from compiler.machine import Input, InputKind, Machine
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing
from compiler.proof.world import World
from compiler.races import RelayTimes, races
from compiler.races.reachable import reachable
from compiler.understand import understand
from grammar.rungs import read
from grammar.rungs.tree import INPUTS, Circuit, Feed, Form, Name, Network, wired
from grammar.rungs.write import write_network
from grammar.source import Source
from targets.build import announced
from targets.relay import TARGET, repeats
from targets.relay.draft import Draft
from targets.relay.network import contact, nc, parallel, series
from targets.relay.repeats import repeated
from targets.target import Artefact, Options
from tests.relay.clock import play_both
from tests.relay.letters import chart_of, machine_of
from tests.relay.strategies import MACHINE, resting_charts
from tests.relay.test_homeward import with_way_home
from tests.strategies_chart import Moment, histories
from tests.whole.programs import EXAMPLES, example


def _asked(circuit: Circuit) -> dict[str, Counter[Form]]:
    """The contacts of each input, by their form."""
    inputs = {device.name.text for device in circuit.devices if device.kind in INPUTS}
    found: dict[str, Counter[Form]] = {name: Counter() for name in inputs}
    for one in wired(circuit):
        if one.name.text in inputs:
            found[one.name.text][one.form] += 1
    return found


@pytest.mark.parametrize("stem", [path.stem for path in EXAMPLES])
def test_no_input_of_an_example_is_asked_for_more_contacts_than_fit(stem: str) -> None:
    """Four blocks behind a button (common practice); so all terminals have one of the nine places of EN 50005."""
    understood = example(stem)
    assert understood.chart is not None
    for one in TARGET.emit(understood.machine, understood.chart, options=Options()):
        if isinstance(one, Artefact) and one.implementation:
            asked = _asked(read(Source(one.file, one.text)).tree)
            assert max(found.total() for found in asked.values()) <= 4, one.file


_TWO_FAULTS = """\
pneumatic cylinder A
    stroke 80 mm, extends in 0.6 s to 1 s, retracts in 0.5 s to 0.9 s
    single solenoid valve Y1, spring return
    limit switch LS1 at end, LS2 at home
pushbutton START
pushbutton STOP, normally closed
pushbutton RESET
cycle
    when START is pressed
    extend A, within 2 s or fault "stuck at home"
    hold 1 s
    retract A, within 2 s or fault "stuck out there"
a fault is reset by RESET
when STOP is pressed, drop out everything
"""


@pytest.mark.parametrize("arrangement", ["one-hot", "step-chain"])
def test_one_button_block_each_way_resets_every_fault(arrangement: str) -> None:
    """One relay sees RESET let go, whichever fault is on; for a press to reset a fault it must come after that."""
    understood = understand(Source("two", _TWO_FAULTS))
    assert understood.chart is not None
    machine, chart = understood.machine, understood.chart
    made = next(iter(TARGET.emit(machine, chart, options=Options(anti_repeat=True, arrangements=(arrangement,)))))
    assert isinstance(made, Artefact), made
    circuit = read(Source(made.file, made.text)).tree
    assert _asked(circuit)["RESET"] == {Form.NO: 1, Form.NC: 1}
    found = prove(chart_logic(chart), circuit_logic(circuit, machine), machine)
    assert found.standing is Standing.SAME or set(found.needs) <= announced(made.announces), found.headline
    held = made.text.replace("RESET NC or AR2", "RESET NC or RESET or AR2")
    assert held != made.text
    spoilt = prove(chart_logic(chart), circuit_logic(read(Source("spoilt", held)).tree, machine), machine)
    assert spoilt.standing is Standing.DIFFERS or not set(spoilt.needs) <= announced(made.announces)


@pytest.mark.parametrize("arrangement", ["one-hot", "step-chain"])
def test_relays_of_usual_times_race_for_nothing_as_a_fault_is_reset(arrangement: str) -> None:
    """With poles enough: relays beside each other race by themselves. The times are of the size that data sheets of
    small relays give (common practice)."""
    understood = understand(Source("two", _TWO_FAULTS))
    assert understood.chart is not None
    options = Options(anti_repeat=True, arrangements=(arrangement,), poles=99)
    made = next(iter(TARGET.emit(understood.machine, understood.chart, options=options)))
    assert isinstance(made, Artefact), made
    assert _free(read(Source(made.file, made.text)).tree, understood.machine)


def test_relays_of_usual_times_race_for_nothing_where_relays_repeat_the_switches() -> None:
    machine = machine_of("A+ B+ B- A-", least_us=400_000, greatest_us=800_000)
    chart = with_way_home(chart_of("A+ B+ B- A-", home=True), "B- A-")
    with patch.object(repeats, "BLOCKS", 1):
        options = Options(arrangements=("cascade",), poles=99)
        made = next(iter(TARGET.emit(machine, chart, options=options)))
    assert isinstance(made, Artefact), made
    circuit = read(Source(made.file, made.text)).tree
    assert any(device.name.text == "IR3" for device in circuit.devices)
    assert _free(circuit, machine)


def _free(circuit: Circuit, machine: Machine) -> bool:
    """Whether no order in which relays of usual times move makes a lasting difference, whatever the machine does."""
    stimuli, whole = reachable(circuit_logic(circuit, machine), machine, World(), most_zones=20_000)
    times = RelayTimes(pick_up=(5_000, 15_000), drop_out=(3_000, 10_000), middle=2_000)
    return whole and races(circuit, machine, stimuli, times={d.name.text: times for d in circuit.devices}).free


def _rungs(*drafts: tuple[Network, str]) -> list[str]:
    """The rungs of LS1's relay and of these, with one contact taken to be all that LS1 has."""
    machine = Machine(inputs=(Input(name="LS1", kind=InputKind.LIMIT_SWITCH), Input(name="A", kind=InputKind.SENSOR)))
    asked = [Draft(net, (Feed(Name(fed)),), "", "") for net, fed in drafts]
    with patch.object(repeats, "BLOCKS", 1):
        rungs, _ = repeated(machine, asked, lambda prefix: f"{prefix}1")
    return [f"{write_network(rung.network)} > {rung.feeds[0].name.text}" for rung in rungs]


def test_all_contacts_of_a_switch_go_over_to_its_relay() -> None:
    waiting = series(contact("CR1"), parallel(nc("LS1"), contact("CR2")))
    assert _rungs((contact("LS1"), "CR1"), (waiting, "CR2")) == [
        "LS1 > IR1",
        "IR1 > CR1",
        "CR1, IR1 NC or CR2 > CR2",
    ]


@pytest.mark.parametrize(
    "first", [nc("LS1"), series(contact("A"), nc("LS1"), nc("CR2")), parallel(nc("LS1"), nc("A"))]
)
def test_a_switch_that_a_rung_asks_not_to_be_made_as_the_supply_comes_keeps_its_contacts(first: Network) -> None:
    assert _rungs((contact("LS1"), "CR2"), (first, "CR1"))[0] == "LS1 > CR2"


def test_no_relay_repeats_a_button_that_is_to_act_by_a_broken_wire() -> None:
    """Through a make contact of a relay a broken wire to a normally closed button would look as if it were let go."""
    button = Input(name="HALT", kind=InputKind.PUSHBUTTON, contact=Wired.NORMALLY_CLOSED)
    asked = [Draft(contact("HALT"), (Feed(Name(fed)),), "", "") for fed in ("CR1", "CR2")]
    with patch.object(repeats, "BLOCKS", 1):
        rungs, told = repeated(Machine(inputs=(button,)), asked, lambda prefix: f"{prefix}1")
    assert (rungs, told) == (asked, ())


def _prints(machine: Machine, chart: Chart, arrangement: str) -> Artefact | None:
    """A circuit in which an input has its relay as soon as a single contact is asked of it."""
    with patch.object(repeats, "BLOCKS", 0):
        options = Options(anti_repeat=True, arrangements=(arrangement,))
        made = next(iter(TARGET.emit(machine, chart, options=options)))
    return made if isinstance(made, Artefact) else None


@settings(phases=(Phase.generate,), max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
@given(resting_charts(), st.tuples(*[st.booleans()] * len(MACHINE.inputs)), histories(len(MACHINE.inputs), most=20))
def test_a_chain_with_input_relays_is_the_chart_again(
    chart: Chart, at_first: tuple[bool, ...], history: list[Moment]
) -> None:
    for arrangement in ("step-chain", "one-hot"):
        made = _prints(MACHINE, chart, arrangement)
        if made is not None:
            moments = [(moment.pause_us, moment.inputs) for moment in history]
            printed = TARGET.read(made.text, made.file, MACHINE)
            found = play_both(chart_logic(chart), printed, moments, joint=False, at_first=at_first)
            assert found is None, f"{made.text}\n{found}"


_ALL = [
    ("bung-press", "on-delay"),
    ("bung-press", "off-delay"),
    ("bung-press", "one-shot"),
    ("bung-press", "step-counter"),
    ("clamp-and-drill", "cascade"),
    ("tag-punch", "cascade"),
    ("hide-embossing", "step-chain"),
    ("crate-stamp", "one-hot"),
]


@pytest.mark.parametrize(("stem", "arrangement"), _ALL)
def test_every_arrangement_is_proved_with_a_relay_for_each_input(stem: str, arrangement: str) -> None:
    understood = example(stem)
    assert understood.chart is not None
    made = _prints(understood.machine, understood.chart, arrangement)
    assert made is not None
    circuit = read(Source(made.file, made.text)).tree
    assert any("IR" in device.name.text for device in circuit.devices)
    found = prove(chart_logic(understood.chart), circuit_logic(circuit, understood.machine), understood.machine)
    assert found.standing is Standing.SAME or set(found.needs) <= announced(made.announces), found.headline
