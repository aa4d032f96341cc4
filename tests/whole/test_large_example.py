"""The transfer station: eight cylinders and two stations are printed in every form that fits, and proved."""

from __future__ import annotations

import pytest

from compiler.chart_logic import chart_logic
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing
from compiler.understand import Understood, understand
from grammar.source import Source
from targets.build import emit_all, read_back
from targets.target import Artefact, Options
from tests.whole.readme import ROOT

PATH = ROOT / "examples/large/tray-transfer.seq"


@pytest.fixture(scope="module")
def station() -> Understood:
    return understand(Source(PATH.name, PATH.read_text(encoding="utf-8")))


def test_it_has_what_it_is_there_for(station: Understood) -> None:
    chart = station.chart
    assert chart is not None
    assert len(station.machine.actuators) == 8
    assert sum(step.initial for step in chart.steps) == 2
    assert any(len(t.targets) > 1 for t in chart.transitions)
    assert any(t.aborts for t in chart.transitions)
    assert chart.counters


@pytest.mark.parametrize(
    ("target", "name"),
    [
        ("chart", ""),
        ("relay", "one-hot chain"),
        pytest.param("relay", "step chain", marks=pytest.mark.campaign),
        ("sfc", ""),
        ("structured-text", ""),
    ],
)
def test_it_is_the_same_in_every_form(target: str, name: str, station: Understood) -> None:
    assert station.chart is not None
    made, _ = emit_all(station, Options())
    printed: list[Artefact] = [a for a in made if a.target == target and name in a.name and a.implementation]
    assert printed
    for artefact in printed:
        proof = prove(chart_logic(station.chart), read_back(artefact, station.machine), station.machine)
        assert proof.standing is Standing.SAME, proof.headline


def test_a_join_that_does_not_wait_is_called_different(station: Understood) -> None:
    """Spoilt by hand: the join no longer waits for the lift, which is too large a difference to search for."""
    assert station.chart is not None
    made, _ = emit_all(station, Options())
    (artefact,) = (a for a in made if a.file.endswith(".st"))
    spoilt = artefact.text.replace("LOADER_W1_active AND LOADER_W2_active", "LOADER_W1_active", 1)
    assert spoilt != artefact.text
    broken = read_back(Artefact(artefact.target, artefact.name, artefact.file, spoilt), station.machine)
    proof = prove(chart_logic(station.chart), broken, station.machine, most_zones=500)
    assert proof.standing is Standing.DIFFERS, proof.headline
    assert "unless every stroke takes exactly its greatest time" in proof.headline
