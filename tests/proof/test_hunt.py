"""Runs at random where all are too many: what is found is a difference, of that run and in the search; what is the
same is not called different."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.logic import Logic
from compiler.proof.hunt.apart import Apart
from compiler.proof.hunt.hunt import hunt
from compiler.proof.hunt.shorten import Shortened
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing
from compiler.proof.world import Assumed
from compiler.simulation.bench import wire
from compiler.simulation.simulate import follow, replay
from compiler.understand import Understood, understand
from grammar.source import Source
from targets.build import emit_all, read_back
from targets.target import Artefact, Options
from tests.proof.cases import arranged
from tests.proof.sequences import SEQUENCES
from tests.proof.spoiling import spoilt
from tests.whole.readme import ROOT

PATH = ROOT / "examples/large/tray-transfer.seq"


@pytest.fixture(scope="module")
def station() -> Understood:
    return understand(Source(PATH.name, PATH.read_text(encoding="utf-8")))


@pytest.fixture(scope="module")
def printed(station: Understood) -> dict[str, Artefact]:
    made, _ = emit_all(station, Options())
    return {a.target if a.target != "relay" else a.name: a for a in made if a.implementation}


def sequence(station: Understood) -> Logic:
    assert station.chart is not None
    return chart_logic(station.chart)


def _is_shown(found: Shortened, driver: Logic, shadow: Logic, station: Understood) -> None:
    """The run, run again, shows the same difference, one thing after another."""
    machine, run = station.machine, found.run
    assert replay(run, machine, driver, shadow=shadow, after_us=run.ended_us) == run
    apart = Apart(machine)
    ending = follow(machine, [wire(machine, driver), wire(machine, shadow)], run.scenario, watch=apart.look)
    assert ending.difference == run.difference
    assert apart.kept


@pytest.mark.parametrize(
    ("old", "new", "beyond", "events"),
    [
        # The lift takes 1.2 s, the other branch 1.3 s: only quicker strokes show that the join waits for one alone.
        ("LOADER_W1_active AND LOADER_W2_active", "LOADER_W1_active", (Assumed.EXACT,), 2),
        ("LOADER_W1_active AND LOADER_W2_active", "LOADER_W2_active", (), 2),
        # With strokes that are all exact the lift comes home just as the press is down, and nothing is told of that.
        ("LS12_made AND NOT LID_made", "LS12_made", (Assumed.EXACT,), 3),
        ("(IN := PRESSER_S3_active, PT := T#1s)", "(IN := PRESSER_S3_active, PT := T#2s)", (Assumed.EXACT,), 2),
    ],
)
def test_a_slip_in_a_large_program_is_found(
    old: str,
    new: str,
    beyond: tuple[Assumed, ...],
    events: int,
    station: Understood,
    printed: dict[str, Artefact],
) -> None:
    """``events``: START pressed and let go; and LID where that matters."""
    artefact = printed["structured-text"]
    assert old in artefact.text
    text = artefact.text.replace(old, new, 1)
    broken = read_back(Artefact(artefact.target, artefact.name, artefact.file, text), station.machine)
    driver = sequence(station)
    found = hunt(driver, broken, station.machine, runs=2).found
    assert found is not None
    _is_shown(found, driver, broken, station)
    assert found.beyond == beyond
    assert len(found.run.scenario.events) <= events


@pytest.mark.campaign
def test_what_is_announced_does_not_count(station: Understood, printed: dict[str, Artefact]) -> None:
    artefact = printed["structured-text"]
    text = artefact.text.replace("LOADER_W1_active AND LOADER_W2_active", "LOADER_W1_active", 1)
    broken = read_back(Artefact(artefact.target, artefact.name, artefact.file, text), station.machine)
    driver, exact = sequence(station), (Assumed.EXACT,)
    for hunted in (
        hunt(driver, broken, station.machine, base=exact),
        hunt(driver, broken, station.machine, announced=exact),
    ):
        assert hunted.found is None or hunted.found.beyond != exact


def test_a_count_that_is_off_by_one_is_found(station: Understood, printed: dict[str, Artefact]) -> None:
    artefact = printed["structured-text"]
    text = artefact.text.replace("TRAYS_count >= 12", "TRAYS_count >= 11", 1)
    assert text != artefact.text
    broken = read_back(Artefact(artefact.target, artefact.name, artefact.file, text), station.machine)
    found = hunt(sequence(station), broken, station.machine, runs=1, instants=2_000).found
    assert found is not None
    assert found.run.difference is not None
    assert found.run.difference.output == "BOX_FULL"
    until = [c for c in found.run.changes if c.at_us <= found.run.difference.at_us and c.side == "driver"]
    assert sum(c.signal == "PRESSER_S10" and c.on for c in until) == 11  # trays counted


@pytest.mark.parametrize("seed", [0, 1, 3, 5, 6])  # 2 turns LS8 in the memory of START, and no run shows that
def test_a_contact_turned_in_a_large_circuit_is_found(
    seed: int, station: Understood, printed: dict[str, Artefact]
) -> None:
    """NO for NC, of one limit switch."""
    artefact = next(a for name, a in printed.items() if "one-hot" in name)
    logic = read_back(artefact, station.machine)
    circuit = logic.circuit  # type: ignore[attr-defined]
    turned = [each for each in spoilt(circuit, preset_by_us=1_000) if each[0] == "NO for NC" and "LS" in each[1]]
    _, _, broken = random.Random(seed).choice(turned)
    shadow, driver = circuit_logic(broken, station.machine), sequence(station)
    found = hunt(driver, shadow, station.machine, runs=2).found
    assert found is not None
    _is_shown(found, driver, shadow, station)


def test_what_is_the_same_is_not_called_different(station: Understood, printed: dict[str, Artefact]) -> None:
    shadow = read_back(printed["structured-text"], station.machine)
    hunted = hunt(sequence(station), shadow, station.machine, runs=1)
    assert hunted.found is None
    assert hunted.tried


def _agrees(number: int, seed: int) -> None:
    """What is found in a small circuit with one element changed, the search of all runs finds as well."""
    of = SEQUENCES[number % len(SEQUENCES)]
    rng = random.Random(seed)
    circuit = arranged(rng.choice(of.arrangements), of.chart, of.machine)
    kind, what, broken = rng.choice(list(spoilt(circuit, preset_by_us=10_000)))
    driver, shadow = chart_logic(of.chart), circuit_logic(broken, of.machine)
    found = hunt(driver, shadow, of.machine, runs=2).found
    if found is None:
        return
    proof = prove(driver, shadow, of.machine)
    told = f"{of.name}: {kind}, {what}; {proof.headline}; {found.beyond}"
    assert proof.standing in (Standing.DIFFERS, Standing.SAME_ONLY_IF), told
    if proof.standing is Standing.SAME_ONLY_IF:
        careful = {Assumed.APART: {Assumed.APART, Assumed.CAREFUL}}
        beyond = set().union(*(careful.get(a, {a}) for a in found.beyond))
        assert beyond & set(proof.needs), told


@settings(max_examples=5, deadline=None)
@given(st.integers(0, 5), st.integers(0, 10_000))
def test_what_is_found_the_search_finds_too(number: int, seed: int) -> None:
    _agrees(number, seed)


@pytest.mark.campaign
@settings(max_examples=400, deadline=None)
@given(st.integers(0, 5), st.integers(0, 10_000))
def test_whatever_is_found_the_search_finds_too(number: int, seed: int) -> None:
    _agrees(number, seed)
