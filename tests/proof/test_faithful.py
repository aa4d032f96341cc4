"""What the induction reads is what runs: text and logic agree in every reaction, and a wrong text is seen."""

from __future__ import annotations

import ast
from dataclasses import replace

import pytest
from hypothesis import given, settings

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.logic import Logic
from compiler.proof.induction.faithful import faithful
from compiler.proof.induction.reading import NotUnderstood, text_of
from compiler.proof.induction.written import Written, written
from compiler.proof.table import Nothing
from targets.structured_text import TARGET as STRUCTURED_TEXT
from targets.target import Artefact, Options
from tests.proof.cases import press, random_chart, random_circuit
from tests.proof.sequences import SEQUENCES, Sequence
from tests.strategies_chart import charts
from tests.structured_text.nets import nets

PRESS = press()


@given(chart=charts())
@settings(max_examples=60, deadline=None)
def test_a_chart_is_what_its_text_says(chart: Chart) -> None:
    assert faithful(written(chart_logic(chart)))


@given(chart=nets())
@settings(max_examples=60, deadline=None)
def test_a_chart_of_parallel_work_is_what_its_text_says(chart: Chart) -> None:
    assert faithful(written(chart_logic(chart)))


@pytest.mark.parametrize("seed", range(40))
def test_a_circuit_is_what_its_text_says(seed: int) -> None:
    assert faithful(written(circuit_logic(random_circuit(seed, PRESS), PRESS)))


def _printed(sequence: Sequence) -> Logic:
    artefact = next(iter(STRUCTURED_TEXT.emit(sequence.machine, sequence.chart, options=Options())))
    assert isinstance(artefact, Artefact)
    return STRUCTURED_TEXT.read(artefact.text, artefact.file, sequence.machine)


@pytest.mark.parametrize("sequence", SEQUENCES, ids=lambda sequence: sequence.name)
def test_a_program_is_what_its_text_says(sequence: Sequence) -> None:
    assert faithful(written(_printed(sequence)), reactions=200)


def test_another_logic_is_not_understood() -> None:
    with pytest.raises(NotUnderstood):
        written(Nothing())


def _altered(side: Written, old: str, new: str) -> Written:
    text = ast.unparse(side.look.function)
    assert old in text
    return replace(side, look=text_of(text.replace(old, new)))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("r0 = first and a0 and (not d0)", "r0 = first and a0"),
        ("d0 = a0", "d0 = d0"),
        ("x1 and", "x1 or"),
        ("started.add(0)", "pass"),
        ("t0 = 3", "t0 = 1"),
        ("if not f:", "if True:"),
    ],
)
def test_a_wrong_text_of_a_chart_is_seen(old: str, new: str) -> None:
    sound = written(chart_logic(SEQUENCES[0].chart))
    assert faithful(sound, reactions=200)
    assert not faithful(_altered(sound, old, new), reactions=200)


def test_random_charts_of_the_press_are_what_their_texts_say() -> None:
    assert all(faithful(written(chart_logic(random_chart(seed, PRESS)))) for seed in range(60))
