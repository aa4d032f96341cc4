"""Known times of relays rule orders out; held against clocks that tick in whole microseconds."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.circuit import circuit_logic
from compiler.races import RaceKind, RelayTimes, Stimulus, open_world, races
from compiler.races.clocks import Clocks
from compiler.races.motion import Motion
from compiler.races.orders import explore
from grammar.rungs.tree import Circuit, Contact, Device, Feed, Form, Kind, Name, Parallel, Rung
from tests.races.circuits import MACHINE, change, circuit
from tests.races.naive import Naive, Place
from tests.relay.strategies import networks

_USUAL = RelayTimes(pick_up=(5_000, 15_000), drop_out=(3_000, 10_000), middle=2_000)
"""Invented, of the size that data sheets of small relays give (common practice)."""

_ANTI_REPEAT = (
    "relay CR1\nrelay AR1\nrung 1: (START and AR1 and LS1) or CR1, STOP NC, feeds CR1\n"
    "rung 2: CR1, feeds SOL1\nrung 3: CR1 NC, START NC or (AR1 and LS1 and STOP NC), feeds AR1\n"
)


def _pressed(text: str, times: RelayTimes | None) -> list[RaceKind]:
    tree = circuit(text)
    stimulus = change(circuit_logic(tree, MACHINE), "LS1", "LS1 START")
    given = dict.fromkeys(("cr1", "AR1"), times) if times else None
    return [race.kind for race in races(tree, MACHINE, [stimulus], times=given).found]


def test_an_anti_repeat_relay_holds_on_while_the_relay_it_starts_changes_over() -> None:
    """CR1's NC contact drops out AR1, through which CR1 is picking up: a race, unless no relay drops out as quickly
    as CR1's contacts cross over."""
    assert _pressed(_ANTI_REPEAT, None) == [RaceKind.CRITICAL]
    assert _pressed(_ANTI_REPEAT, _USUAL) == []
    assert _pressed(_ANTI_REPEAT, RelayTimes((5_000, 15_000), (2_000, 10_000), 2_000)) == [RaceKind.CRITICAL]
    assert _pressed(_ANTI_REPEAT, RelayTimes((5_000, 15_000), (2_001, 10_000), 2_000)) == []


def test_a_report_says_that_times_were_taken_for_granted() -> None:
    tree = circuit(_ANTI_REPEAT)
    stimulus = change(circuit_logic(tree, MACHINE), "LS1", "LS1 START")
    found = races(tree, MACHINE, [stimulus], times={"CR1": _USUAL, "AR1": _USUAL})
    told = "free of critical races at these times: every order they leave room for in 1 situation was tried"
    assert found.lines == (told,)


def test_an_anti_repeat_relay_with_nothing_to_hold_it_is_a_race_at_any_usual_times() -> None:
    """A contact of rung 3 miswritten, STOP for LS1: the branch that holds AR1 while START is down never conducts, and
    CR1 starts only if it is quicker than AR1 lets go."""
    spoilt = _ANTI_REPEAT.replace("AR1 and LS1 and STOP NC", "AR1 and STOP and STOP NC")
    assert spoilt != _ANTI_REPEAT
    assert _pressed(spoilt, None) == [RaceKind.CRITICAL]
    assert _pressed(spoilt, _USUAL) == [RaceKind.CRITICAL]


def test_a_slow_relay_never_wins() -> None:
    """CR1 needs 10 us at most and CR2 11 at least; with a microsecond more and less either may be first."""
    text = "relay CR1\nrelay CR2\nrung 1: AUTO, CR2 NC, feeds CR1\nrung 2: AUTO, CR1 NC, feeds CR2\n"
    tree = circuit(text)
    stimulus = change(circuit_logic(tree, MACHINE), "", "AUTO")

    def outcomes(quick: int, slow: int) -> set[str]:
        times = {"CR1": RelayTimes((1, quick), (1, 1), 0), "CR2": RelayTimes((slow, 20), (1, 1), 0)}
        found = races(tree, MACHINE, [stimulus], times=times).found
        return {outcome for race in found for outcome in race.outcomes if race.kind is RaceKind.CRITICAL}

    assert outcomes(10, 10) == {"CR1 in, CR2 out", "CR1 out, CR2 in"}
    assert outcomes(10, 11) == {"it never settles", "CR1 in, CR2 out"}


@pytest.mark.parametrize(("alone", "wins"), [(3, "CR2"), (5, "CR3")])
def test_a_clock_runs_on_while_others_move(alone: int, wins: str) -> None:
    """CR1 takes 2 us, and CR3 2 more once CR1 is in; CR2, asked from the start, is before that at 3 us only."""
    text = (
        "relay CR1\nrelay CR2\nrelay CR3\nrung 1: AUTO, feeds CR1\n"
        "rung 2: AUTO, CR3 NC, feeds CR2\nrung 3: CR1, CR2 NC, feeds CR3\n"
    )
    tree = circuit(text)
    logic, motion = circuit_logic(tree, MACHINE), Motion(tree, MACHINE)
    stimulus = change(logic, "", "AUTO")
    times = {f"CR{k}": RelayTimes((each, each), (1, 1), 0) for k, each in enumerate((2, alone, 2), start=1)}
    orders = explore(Clocks(motion, times), motion.start(stimulus), stimulus.inputs, limit=100)
    assert orders is not None
    (end,) = orders.ends
    assert logic.lit(motion.reaction(end[0]).state) == ("CR1", wins)


@pytest.mark.parametrize("times", [((3, 2), (0, 1), 0), ((0, 1), (-1, 1), 0), ((0, 1), (0, 1), -1)])
def test_times_are_least_and_greatest(times: tuple[tuple[int, int], tuple[int, int], int]) -> None:
    with pytest.raises(ValueError, match="least and greatest"):
        RelayTimes(*times)


# --- against clocks that tick ---------------------------------------------------------------------------------


@st.composite
def _changeovers(draw: st.DrawFn) -> Circuit:
    """Up to three relays, each with both forms of contact in use, on three inputs."""
    inputs = [Device(Kind.SENSOR, Name(i.name)) for i in MACHINE.inputs[:3]]
    relays = [Device(Kind.RELAY, Name(f"CR{k}")) for k in range(draw(st.integers(1, 3)))]
    loads = [Device(Kind.LAMP, Name(load.name)) for load in MACHINE.loads]
    every = Parallel(tuple(Contact(relay.name, form) for relay in relays for form in (Form.NO, Form.NC)))
    nets = [draw(networks([*inputs, *relays, *relays], leaves=5)) for _ in relays]
    fed = [*zip(nets, relays, strict=True), (every, loads[0])]
    rungs = [Rung(k, net, (Feed(device.name),)) for k, (net, device) in enumerate(fed)]
    return Circuit("", (), (*inputs, *relays, *loads), tuple(rungs))


def _some_times() -> st.SearchStrategy[RelayTimes]:
    span = st.tuples(st.integers(0, 3), st.integers(0, 2)).map(lambda pair: (pair[0], sum(pair)))
    return st.builds(RelayTimes, span, span, st.integers(0, 2))


def _ticked(naive: Naive, stimulus: Stimulus, times: dict[str, RelayTimes]) -> set[object]:
    """Where it may end, by letting every clock tick by one or one part move, again and again. With limits that may be
    met exactly whole ticks miss no order (T. Henzinger, Z. Manna, A. Pnueli 1992, from memory)."""
    inputs = {d.name.lower(): on for d, on in zip(naive.machine.inputs, stimulus.inputs, strict=True)}
    first: tuple[Place, frozenset[tuple[str, int]]] = (naive.start(stimulus), frozenset())
    waiting, known, ends = [first], {first}, set[object]()
    while waiting:
        place, clocks = waiting.pop()
        stands = {name: where for name, what, where in place if what == "contacts"}
        moves = dict(naive.onward(place, inputs))
        if not moves:
            ends.add(naive.told(place)[0])
        read = {move: dict(clocks).get(move, 0) for move in moves}
        limits = {move: _limits(times.get(move.split()[0]), str(stands[move.split()[0]])) for move in moves}
        following = [
            (after, frozenset((other, read[other]) for other in dict(naive.onward(after, inputs)) if other in read))
            for move, after in moves.items()
            if read[move] >= limits[move][0]
        ]
        timed = [move for move in moves if move.split()[0] in times]
        if timed and all(read[move] < limits[move][1] for move in timed):
            following.append((place, frozenset((move, read[move] + 1) for move in timed)))
        for node in following:
            if node not in known:
                known.add(node)
                waiting.append(node)
    return ends


def _limits(times: RelayTimes | None, stands: str) -> tuple[int, int]:
    if times is None:
        return 0, 0
    return {"out": times.pick_up, "in": times.drop_out}.get(stands, (0, times.middle))


@given(_changeovers(), st.lists(_some_times(), min_size=3, max_size=3), st.integers(1, 3), st.data())
@settings(max_examples=100, deadline=None)
def test_zones_end_where_ticking_clocks_do(
    tree: Circuit, times: list[RelayTimes], timed: int, data: st.DataObject
) -> None:
    named = {f"cr{k}": each for k, each in enumerate(times[:timed])}
    stimuli = open_world(circuit_logic(tree, MACHINE), limit=200).stimuli
    motion = Motion(tree, MACHINE)
    for stimulus in data.draw(st.lists(st.sampled_from(stimuli), min_size=1, max_size=4, unique=True)):
        orders = explore(Clocks(motion, named), motion.start(stimulus), stimulus.inputs, limit=20_000)
        assert orders is not None
        told = {motion.reaction(state).state for state, _ in orders.ends}
        assert told == _ticked(Naive(tree, MACHINE), stimulus, named)
