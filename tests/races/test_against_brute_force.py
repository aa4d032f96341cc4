"""The analysis against a plain search of every place that a small random circuit may come to."""

from __future__ import annotations

import networkx as nx  # type: ignore[import-untyped]
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from compiler.circuit import CircuitLogic, circuit_logic
from compiler.logic import Chattering, Reaction
from compiler.races import RaceKind, Races, Stimulus, open_world, races
from compiler.races.clocks import Clocks
from compiler.races.motion import Motion
from compiler.races.orders import explore
from grammar.rungs.tree import (
    TERMINALS,
    Circuit,
    Device,
    Feed,
    Kind,
    Name,
    Preset,
    Rung,
    Terminal,
    TimerFunction,
)
from tests.races.circuits import MACHINE as SMALL
from tests.races.naive import Naive, Place, TooMany
from tests.relay.strategies import MACHINE, circuits, networks


@st.composite
def _relays(draw: st.DrawFn) -> Circuit:
    """Up to four relays and two lamps on three inputs."""
    inputs = [Device(Kind.SENSOR, Name(i.name)) for i in SMALL.inputs[:3]]
    relays = [Device(Kind.RELAY, Name(f"CR{k}")) for k in range(draw(st.integers(1, 4)))]
    loads = [Device(Kind.LAMP, Name(load.name)) for load in SMALL.loads]
    nets = [draw(networks([*inputs, *relays, *relays], leaves=5)) for _ in (*relays, *loads)]
    rungs = [Rung(k, net, (Feed(d.name),)) for k, (net, d) in enumerate(zip(nets, [*relays, *loads], strict=True))]
    return Circuit("", (), (*inputs, *relays, *loads), tuple(rungs))


@st.composite
def _latching(draw: st.DrawFn) -> Circuit:
    """A relay, a latching relay, a counter and perhaps a timer, with contacts of each in each one's rungs."""
    inputs = [Device(Kind.SENSOR, Name(i.name)) for i in SMALL.inputs[:3]]
    count = Preset(str(draw(st.integers(1, 2))))
    coils = [
        Device(Kind.RELAY, Name("CR1")),
        Device(Kind.LATCHING_RELAY, Name("KR1")),
        Device(Kind.COUNTER, Name("CT1"), preset=count),
    ]
    if draw(st.booleans()):
        coils.append(Device(Kind.TIMER, Name("TR1"), draw(st.sampled_from(TimerFunction)), Preset("1", "s")))
    loads = [Device(Kind.LAMP, Name(load.name)) for load in SMALL.loads]
    terminals = {Kind.TIMER: (Terminal.SUPPLY, Terminal.CONTROL)}
    feeds = [Feed(d.name, t) for d in (*coils, *loads) for t in terminals.get(d.kind, TERMINALS[d.kind])]
    nets = [draw(networks([*inputs, *coils], leaves=4)) for _ in feeds]
    rungs = [Rung(k, net, (feed,)) for k, (net, feed) in enumerate(zip(nets, feeds, strict=True))]
    return Circuit("", (), (*inputs, *coils, *loads), tuple(rungs))


def _some_stimuli(data: st.DataObject, logic: CircuitLogic, free: int) -> list[Stimulus]:
    """A few stimuli of an open world, and one of several inputs at a time."""
    stimuli = open_world(logic, limit=300).stimuli
    some = data.draw(st.lists(st.sampled_from(stimuli), min_size=1, max_size=4, unique=True))
    first = data.draw(st.sampled_from(stimuli))
    if first.before is not None:
        inputs = data.draw(st.tuples(*[st.booleans()] * free))
        rest = first.was[free:]
        some.append(Stimulus(first.before, first.was, (*inputs, *rest), first.expired))
    return some


def _lasts(graph: nx.MultiDiGraph) -> bool:
    """Whether there is a loop in which everyone who is asked all along moves."""
    for knot in nx.strongly_connected_components(graph):
        inside = graph.subgraph(knot)
        who = {move for _, _, move in inside.edges(data="who")}
        asked = [{move for _, _, move in graph.out_edges(place, data="who")} for place in knot]
        if who and set.intersection(*asked) <= who:
            return True
    return False


def _blinking(naive: Naive, graph: nx.MultiDiGraph, stimulus: Stimulus, end: Place) -> set[str]:
    """The loads that may change more often than they must. They show that by being, at some place, what they are
    neither before nor after; or, where they must change, by being as before again, once they were as after."""
    before = naive.before(stimulus)
    shown = {place: naive.outputs(place) for place in graph}
    found = set()
    for k, load in enumerate(naive.machine.loads):
        was, comes = before is not None and naive.outputs(before)[k], shown[end][k]
        if was == comes:
            blinks = any(outputs[k] != was for outputs in shown.values())
        else:
            changed = {place for place, outputs in shown.items() if outputs[k] == comes}
            later = changed.union(*(nx.descendants(graph, place) for place in changed))
            blinks = any(shown[place][k] == was for place in later)
        found |= {load.name} if blinks else set()
    return found


def _together(logic: CircuitLogic, stimulus: Stimulus) -> Reaction | None:
    try:
        if stimulus.before is None:
            return logic.power_up(stimulus.inputs)
        return logic.react(stimulus.before, stimulus.inputs, stimulus.expired)
    except Chattering:
        return None


def _told(found: Races) -> set[tuple[object, ...]]:
    """What two analyses must have in common. Which devices a loop names is left open: one of several is enough."""
    lasting = {(race.kind, race.about, race.outcomes) for race in found.found if race.kind is not RaceKind.ENDLESS}
    return {*lasting, *((race.kind,) for race in found.found)}


def _agree(naive: Naive, logic: CircuitLogic, stimulus: Stimulus) -> None:
    """All that the analysis says of one stimulus, held against the plain search."""
    graph = naive.graph(stimulus)
    ends = [place for place in graph if graph.out_degree(place) == 0]
    lasts = _lasts(graph)
    outcomes = {(*naive.told(end), naive.outputs(end)) for end in ends}

    motion = Motion(naive.circuit, naive.machine)
    orders = explore(Clocks(motion, {}), motion.start(stimulus), stimulus.inputs, limit=100_000)
    assert orders is not None
    reactions = [motion.reaction(state) for state, _ in orders.ends]
    assert {(r.state, r.started, r.outputs) for r in reactions} == outcomes
    assert len(reactions) == len(outcomes)

    found = races(naive.circuit, naive.machine, [stimulus])
    assert found.settled
    with pytest.MonkeyPatch.context() as patch:  # the same, by the way that is taken where orders are many
        patch.setattr("compiler.races.find._FEW", 1)
        apart = races(naive.circuit, naive.machine, [stimulus])
    assert apart.settled
    assert _told(apart) == _told(found)
    for race in apart.found:
        if race.kind is RaceKind.ENDLESS:
            assert any(set(race.about) <= set(whole.about) for whole in found.found if whole.kind is race.kind)

    kinds = {race.kind for race in found.found}
    together = _together(logic, stimulus)
    if together is None:
        critical = len(outcomes) > 1 or (len(outcomes) == 1 and not lasts)
    else:
        critical = bool(outcomes - {(together.state, together.started, together.outputs)})
    assert (RaceKind.CRITICAL in kinds) == critical
    assert (RaceKind.ENDLESS in kinds) == lasts
    assert found.free == (not critical and not lasts)
    if found.free:
        (end,) = {naive.told(e): e for e in ends}.values()
        assert {race.about[0] for race in found.found} == _blinking(naive, graph, stimulus, end)


@given(_relays(), st.data())
@settings(max_examples=70, deadline=None)
def test_relays_end_where_a_plain_search_says(circuit: Circuit, data: st.DataObject) -> None:
    logic = circuit_logic(circuit, SMALL)
    naive = Naive(circuit, SMALL)
    for stimulus in _some_stimuli(data, logic, 3):
        _agree(naive, logic, stimulus)


@given(_latching(), st.data())
@settings(max_examples=70, deadline=None)
def test_latching_relays_and_counters_end_where_a_plain_search_says(circuit: Circuit, data: st.DataObject) -> None:
    logic = circuit_logic(circuit, SMALL)
    naive = Naive(circuit, SMALL)
    for stimulus in _some_stimuli(data, logic, 3):
        _agree(naive, logic, stimulus)


@given(circuits(comments=False, leaves=4), st.data())
@settings(max_examples=25, deadline=None)
def test_timers_end_where_a_plain_search_says(circuit: Circuit, data: st.DataObject) -> None:
    logic = circuit_logic(circuit, MACHINE)
    naive = Naive(circuit, MACHINE)
    for stimulus in _some_stimuli(data, logic, len(MACHINE.inputs))[-2:]:
        try:
            _agree(naive, logic, stimulus)
        except TooMany:
            assume(False)
