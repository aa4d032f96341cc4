"""What is shown by induction is the same: no search finds a difference, and parallel work of any width is shown."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from functools import cache
from itertools import islice
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.chart import Chart, Transition
from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.condition import Not
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.explore import Ending, explore
from compiler.proof.induction import induct, trying
from compiler.proof.induction.induct import always_same
from compiler.proof.induction.passing import Pass
from compiler.proof.induction.patterns import Patterns
from compiler.proof.induction.written import Written
from compiler.proof.product import Product
from compiler.proof.prove import prove
from compiler.proof.unbound import TooMany, Unbound
from compiler.proof.verdict import Standing
from compiler.proof.world import World
from compiler.understand import understand
from grammar.rungs import read
from grammar.source import Source
from targets.relay import TARGET as RELAY
from targets.structured_text import TARGET as STRUCTURED_TEXT
from targets.target import Artefact, Options, Target
from tests.benchmarks.scale import branches, circuit
from tests.proof.cases import UNIT, arranged, press, random_circuit
from tests.proof.sequences import SEQUENCES
from tests.proof.spoiling import spoilt
from tests.strategies_chart import charts, machines, wide_charts

PRESS = press()
Pair = tuple[Logic, Logic, Machine]


def _unbound(driver: Logic, shadow: Logic, machine: Machine) -> Ending:
    """What the search without a machine says; a driver that never settles counts as a difference."""
    try:
        explored = explore(Unbound(driver, shadow, machine), World(), most=3_000)
    except TooMany:
        return Ending.NOT_SETTLED
    return Ending.DIFFERS if explored.chattering is not None else explored.ending


def _never_wrong(driver: Logic, shadow: Logic, machine: Machine) -> bool:
    """Whether the two are shown to be the same, which no search must contradict."""
    same = always_same(driver, shadow, machine) is not None
    if same:
        assert _unbound(driver, shadow, machine) is not Ending.DIFFERS
    if same or always_same(driver, shadow, machine, one_by_one=True) is not None:
        explored = explore(Product(driver, shadow, machine), World(failing=True), most=3_000)
        assert explored.ending is not Ending.DIFFERS
        assert explored.chattering is None
    return same


def _read(target: Target, machine: Machine, chart: Chart, name: str = "") -> Logic:
    options = Options(anti_repeat=True)
    artefacts = (a for a in target.emit(machine, chart, options=options) if isinstance(a, Artefact))
    artefact = next(a for a in artefacts if a.implementation and name in a.name)
    return target.read(artefact.text, artefact.file, machine)


@cache
def _spoilt() -> list[Pair]:
    """Step chains, and every change of them by one element."""
    found: list[Pair] = []
    for sequence in SEQUENCES:
        driver, machine = chart_logic(sequence.chart), sequence.machine
        sound = arranged("step-chain", sequence.chart, machine, anti_repeat=True)
        changed = [other for _, _, other in spoilt(sound, preset_by_us=UNIT)]
        found += [(driver, circuit_logic(circuit, machine), machine) for circuit in (sound, *changed)]
    return found


def test_what_is_the_same_whatever_its_inputs_do_is_shown() -> None:
    """Of the pairs that the search finds alike nearly all; of those that it finds to differ none."""
    shown = [(_never_wrong(*pair), _unbound(*pair)) for pair in _spoilt()[::7]]
    alike = [same for same, ending in shown if ending is Ending.ALIKE]
    assert len(alike) >= 3
    assert sum(alike) >= len(alike) - 1
    assert sum(ending is Ending.DIFFERS for _, ending in shown) >= 15


@pytest.mark.parametrize("seed", range(20))
def test_random_circuits_and_one_change_of_each(seed: int) -> None:
    drawn = random_circuit(seed, PRESS)
    _, _, other = random.Random(seed).choice(list(spoilt(drawn, preset_by_us=UNIT)))
    _never_wrong(circuit_logic(drawn, PRESS), circuit_logic(other, PRESS), PRESS)


@given(machine=machines(), chart=charts() | wide_charts(depth=1), data=st.data())
@settings(max_examples=10, deadline=None)
def test_random_charts_and_one_change_of_each(machine: Machine, chart: Chart, data: st.DataObject) -> None:
    t = data.draw(st.sampled_from(chart.transitions))
    turned = t.model_copy(update={"condition": Not(of=t.condition)})
    elsewhere = t.model_copy(update={"targets": (data.draw(st.sampled_from(chart.steps)).name,)})
    other: Transition = data.draw(st.sampled_from([t, turned, elsewhere]))
    transitions = tuple(other if one is t else one for one in chart.transitions)
    changed = chart.model_copy(update={"transitions": transitions})
    _never_wrong(chart_logic(chart), chart_logic(changed), machine)


@pytest.mark.parametrize("count", [3, 6])
def test_parallel_work_is_shown_to_be_itself(count: int) -> None:
    machine, chart = branches(count, 4)
    assert always_same(chart_logic(chart), chart_logic(chart), machine) is not None


@pytest.mark.parametrize("count", [2, 5])
def test_structured_text_of_parallel_work_is_shown(count: int) -> None:
    machine, chart = branches(count, 4)
    program = _read(STRUCTURED_TEXT, machine, chart)
    assert always_same(chart_logic(chart), program, machine) is not None


@pytest.mark.parametrize("count", [1, 2, 3])
def test_a_one_hot_chain_of_parallel_work_is_shown(count: int) -> None:
    machine, chart = branches(count, 4)
    assert always_same(chart_logic(chart), _read(RELAY, machine, chart, "one-hot"), machine) is not None


# CR2 comes on for good if START and E0 are actuated at one moment: CR1 has not dropped out by then.
_AT_ONE_MOMENT = """\
rung 1: START NC, E0 NC, feeds CR1
rung 2: CR1 or CR2, START or CR2, E0 or CR2, feeds CR2
rung 3: CR2, feeds SOL0
"""
_NEVER = "rung 1: CR1, feeds CR1\nrung 2: CR1, feeds SOL0\n"


def test_what_is_the_same_only_input_by_input() -> None:
    machine = branches(1, 2)[0]
    driver, shadow = circuit(_AT_ONE_MOMENT, machine), circuit(_NEVER, machine)
    assert _unbound(driver, shadow, machine) is Ending.DIFFERS
    assert always_same(driver, shadow, machine) is None
    assert always_same(driver, shadow, machine, one_by_one=True) is not None
    proof = prove(driver, shadow, machine, most_zones=0)
    assert proof.standing is Standing.SAME
    assert not proof.anywhere
    assert proof.headline.startswith("same: no run differs (by induction over ")


_EITHER = """\
limit switch LS1
limit switch LS3
relay CR1
relay CR2
lamp BUSY
rung 1: (LS1 NC and LS3 NC) or CR2, feeds CR2
rung 2: CR2, {}, feeds CR1
rung 3: CR1, feeds BUSY
"""


@pytest.mark.parametrize(("at", "same"), [("at end", False), ("at 50 mm", True)])
def test_switches_that_a_rod_reaches_at_one_place_make_together(at: str, same: bool) -> None:
    """One keeps in mind that either switch was made alone, the other that any was: that is the same but where both
    make at once, once they have been open."""
    bench = (
        "pneumatic cylinder RAM\n    stroke 100 mm, extends in 1 s, retracts in 1 s\n"
        "    single solenoid valve SOL1, spring return\n"
        f"    limit switch LS1 at end, LS2 at home, LS3 {at}\nlamp BUSY\n"
    )
    machine = understand(Source("bench", bench)).machine
    alone, anyhow = (
        circuit_logic(read(Source("rungs", _EITHER.format(way))).tree, machine)
        for way in ("(LS1 and LS3 NC) or (LS1 NC and LS3) or CR1", "LS1 or LS3 or CR1")
    )
    assert always_same(alone, anyhow, machine) is None
    assert (always_same(alone, anyhow, machine, one_by_one=True) is not None) is same


def test_the_proof_turns_to_induction_where_the_search_is_long() -> None:
    machine, chart = branches(3, 4)
    for shadow in (_read(STRUCTURED_TEXT, machine, chart), _read(RELAY, machine, chart, "one-hot")):
        proof = prove(chart_logic(chart), shadow, machine)
        assert proof.standing is Standing.SAME
        assert proof.anywhere
        assert proof.headline.startswith("same, whatever its inputs do (by induction over ")


def test_one_wrong_branch_among_many_is_not_the_same() -> None:
    machine, chart = branches(4, 4)
    t = next(t for t in chart.transitions if t.name == "T2_3")
    early = t.model_copy(update={"sources": ("B2_2",)})
    other = chart.model_copy(update={"transitions": tuple(early if one is t else one for one in chart.transitions)})
    assert always_same(chart_logic(chart), chart_logic(other), machine) is None


# --- the induction broken on purpose ------------------------------------------------------------------------------


def _blind(monkeypatch: pytest.MonkeyPatch) -> None:
    """Next to nothing is tried before, so that every difference is left to the induction to see."""
    monkeypatch.setattr(induct, "_EFFORTS", ((0, 200_000, False), (2, 600_000, True)))
    monkeypatch.setattr(trying, "_LANES", 8)


@cache
def _differ(number: int, one_by_one: bool) -> bool:
    """Whether a pair of those that are spoilt is found to differ by a search."""
    pair = _spoilt()[number]
    found = explore(Product(*pair), World(failing=True), most=3_000).ending if one_by_one else _unbound(*pair)
    return found is Ending.DIFFERS


def _wrongly_same(*, one_by_one: bool = False) -> Iterator[Pair]:
    """Pairs that are called the same and differ."""
    for number in range(0, len(_spoilt()), 6):
        pair = _spoilt()[number]
        if always_same(*pair, one_by_one=one_by_one) and _differ(number, one_by_one):
            yield pair


_RUNNING, _REACTIONS = Pass._running, Pass.reactions


def _never_expires(self: Any, timer: int, parts: Any) -> int:
    return 1 if parts is self.parts else _RUNNING(self, timer, parts)


FAULTS: list[tuple[str, Any, str, Callable[..., Any]]] = [
    ("never learns", Pass, "_learn", lambda self, care, after: False),
    ("takes all for alike", Pass, "_agree", lambda self, care, f, g: True),
    ("never lets a timer expire", Pass, "_running", _never_expires),
    ("looks nowhere", Pass, "_make_parts", lambda self, parts, known: setattr(self, "care", 1)),
]  # fmt: skip
FAULTS_ONE_BY_ONE: list[tuple[str, Any, str, Callable[..., Any]]] = [
    ("takes nothing to be ever at rest", Pass, "_at_rest", lambda self, k, parts, *rest: int(parts is self.parts)),
    ("lets no input change", Pass, "reactions", lambda self: islice(_REACTIONS(self), 1)),
]  # fmt: skip


@pytest.mark.parametrize(
    ("wrong", "where", "name", "instead"), FAULTS_ONE_BY_ONE, ids=[fault[0] for fault in FAULTS_ONE_BY_ONE]
)
def test_a_broken_induction_input_by_input_is_caught(
    wrong: str, where: Any, name: str, instead: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    _blind(monkeypatch)
    assert not list(_wrongly_same(one_by_one=True))
    monkeypatch.setattr(where, name, instead)
    try:
        caught = next(_wrongly_same(one_by_one=True), None) is not None
    except (AssertionError, KeyError, IndexError, ValueError):
        caught = True
    assert caught, wrong


@pytest.mark.parametrize(("wrong", "where", "name", "instead"), FAULTS, ids=[fault[0] for fault in FAULTS])
def test_a_broken_induction_is_caught(
    wrong: str, where: Any, name: str, instead: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    _blind(monkeypatch)
    assert not list(_wrongly_same())
    monkeypatch.setattr(where, name, instead)
    try:
        caught = next(_wrongly_same(), None) is not None
    except (AssertionError, KeyError, IndexError, ValueError):
        caught = True  # it falls over: nobody would take that for a verdict
    assert caught, wrong


# The second lets go when STOP is pressed and neither START nor E0 is there. That shows only when E0 comes.
_SEALED = "rung 1: START or CR1, feeds CR1\nrung 2: CR1, E0, feeds SOL0\n"
_LETS_GO = "rung 1: START or CR1, START or STOP NC or E0, feeds CR1\nrung 2: CR1, E0, feeds SOL0\n"


def _all_unmoved(self: Any, reader: Any, before: Any, after: Any) -> Any:
    return after if isinstance(reader.algebra, Patterns) else before


FORGETFUL: list[tuple[str, Any, str, Callable[..., Any], bool]] = [
    ("never parts what seemed alike", Pass, "_parted", lambda self, classes, same, told: False, False),
    ("takes for unmoved what moved", Written, "_unmoved", _all_unmoved, True),
]  # fmt: skip


@pytest.mark.parametrize(
    ("wrong", "where", "name", "instead", "one_by_one"), FORGETFUL, ids=[fault[0] for fault in FORGETFUL]
)
def test_what_parts_only_later_is_not_forgotten(
    wrong: str, where: Any, name: str, instead: Callable[..., Any], one_by_one: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(induct, "_EFFORTS", ((0, 600_000, False),))
    machine = branches(1, 2)[0]
    driver, shadow = circuit(_SEALED, machine), circuit(_LETS_GO, machine)
    assert _unbound(driver, shadow, machine) is Ending.DIFFERS
    assert always_same(driver, shadow, machine, one_by_one=one_by_one) is None
    monkeypatch.setattr(where, name, instead)
    assert always_same(driver, shadow, machine, one_by_one=one_by_one) is not None, f"{wrong} makes no difference"
