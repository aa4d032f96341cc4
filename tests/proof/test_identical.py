"""What is the same word for word is told to be the same, under any name, and nothing else is told so."""

from __future__ import annotations

import pytest

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.logic import Logic, Renamed
from compiler.machine import Machine
from compiler.proof.identical import identical
from compiler.proof.induction.induct import always_same
from compiler.proof.prove import prove
from compiler.proof.verdict import Standing
from compiler.understand import understand
from grammar.source import Source
from targets.build import emit_all, read_back
from targets.target import Options
from tests.proof.cases import UNIT, arranged
from tests.proof.sequences import SEQUENCES
from tests.proof.spoiling import spoilt
from tests.whole.readme import ROOT

LINE = ROOT / "tests/structured_text/sequences/tray-line.seq"


def line() -> tuple[Machine, Chart]:
    """A line that is too large to be searched, and whose steps go round for ever with all its switches made."""
    understood = understand(Source(LINE.name, LINE.read_text(encoding="utf-8")))
    assert understood.chart is not None
    return understood.machine, understood.chart


def test_a_large_sequence_is_the_same_as_itself() -> None:
    (machine, one), (_, other) = line(), line()
    proof = prove(chart_logic(one), Renamed(chart_logic(other), "mine"), machine, most_zones=500)
    assert proof.standing is Standing.SAME
    assert proof.headline == "same, word for word, once both are read"


@pytest.mark.parametrize("target", ["structured-text", "sfc"])
def test_a_text_is_the_same_as_itself_read_again(target: str) -> None:
    understood = understand(Source(LINE.name, LINE.read_text(encoding="utf-8")))
    artefacts, _ = emit_all(understood, Options())
    (artefact,) = (a for a in artefacts if a.target == target and a.implementation)
    again: tuple[Logic, Logic] = (read_back(artefact, understood.machine), read_back(artefact, understood.machine))
    assert identical(*again)
    assert understood.chart is not None
    assert not identical(again[0], chart_logic(understood.chart))


def test_no_circuit_with_one_element_changed_is_the_same() -> None:
    of = SEQUENCES[0]
    sound = arranged("step-chain", of.chart, of.machine)
    logic = circuit_logic(sound, of.machine)
    assert identical(logic, circuit_logic(sound, of.machine))
    for kind, what, broken in spoilt(sound, preset_by_us=UNIT):
        assert not identical(logic, circuit_logic(broken, of.machine)), f"{kind}: {what}"


def test_what_has_another_name_is_shown_by_induction_as_well() -> None:
    of = SEQUENCES[0]
    assert always_same(Renamed(chart_logic(of.chart), "mine"), chart_logic(of.chart), of.machine) is not None
