"""Whole programs: any of them can be sized, units change nothing, and what is reckoned reaches what is built."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from compiler.document import Document, read_document
from compiler.physics.figure import System
from compiler.physics.sheet import sheet
from compiler.understand import understand
from grammar.sequence import tree
from grammar.sequence.write import write
from grammar.source import Source
from targets.relay import TARGET as RELAY
from targets.size_report import sizes_json, sizes_text
from targets.target import Artefact, Options
from tests.strategies_program import programs, sensible_programs

SIZED = (Path(__file__).parents[2] / "examples/bale-compactor.seq").read_text(encoding="utf-8")
SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]


@settings(max_examples=20, deadline=None, suppress_health_check=SLOW)
@given(programs() | sensible_programs())
def test_any_program_that_is_understood_can_be_sized(program: tree.Program) -> None:
    understood = understand(Source("test", write(program)))
    if understood.chart is None:
        return
    parts = sheet(understood.machine, understood.chart)
    for system in System:
        assert max(map(len, sizes_text(understood, parts, system).split("\n")[2:])) <= 80
        assert sizes_json(understood, parts, system)
    for part in parts:
        for figure in part.figures:
            value, low, high = figure.number(System.SI)
            assert low is None or low <= value * (1 + 1e-9) + 1e-9
            assert high is None or high >= value * (1 - 1e-9) - 1e-9


@settings(max_examples=30, deadline=None)
@given(st.integers(2, 20), st.integers(1, 9), st.integers(1, 40), st.integers(1, 30), st.integers(100, 3000))
def test_a_cylinder_in_us_units_takes_the_same_time_in_si_units(
    bore: int, rod_eighths: int, stroke: int, flow: int, psi: int
) -> None:
    """1 in is 25.4 mm, 1 US gallon 3.785411784 L, 1 psi 0.0689475729 bar, 1 lb 0.45359237 kg."""
    form = (
        "hydraulic cylinder P\n    bore {}, rod {}, stroke {}, flow {}, give or take 10 %, pressure {}, load {}\n"
        "    single solenoid valve Y, spring return\n    limit switch a at end, b at home\n"
        "pushbutton START\ncycle\n    extend P\n    retract P\n"
    )
    rod = rod_eighths / 8
    us = form.format(f"{bore} in", f"{rod} in", f"{stroke} in", f"{flow} gpm", f"{psi} psi", "500 lb")
    si = form.format(f"{bore * 25.4:.6f} mm", f"{rod * 25.4:.6f} mm", f"{stroke * 25.4:.6f} mm",
                     f"{flow * 3.785411784:.9f} L/min", f"{psi * 0.0689475729:.9f} bar", "226.796185 kg")  # fmt: skip
    one, other = (understand(Source("test", text)).machine.actuator("P") for text in (us, si))
    for a, b in ((one.extend_time, other.extend_time), (one.retract_time, other.retract_time)):
        assert a.basis == b.basis
        for x, y in ((a.least_us, b.least_us), (a.usual_us, b.usual_us), (a.greatest_us, b.greatest_us)):
            assert x == pytest.approx(y, rel=1e-5, abs=3)  # lengths are whole micrometres


def test_ratings_and_pump_come_back_from_a_document() -> None:
    understood = understand(Source("test", SIZED))
    assert understood.chart is not None
    document = Document(machine=understood.machine, chart=understood.chart)
    assert document.machine.pump is not None
    assert document.machine.actuator("RAM").ratings is not None
    assert read_document(document.to_json()) == document


def test_a_reckoned_stroke_sets_the_preset_of_the_one_shot() -> None:
    """63 mm, 300 mm, 20 L/min take 2.8055 s; 10 % less flow 3.1172 s; with valve and hold 8.158 s."""
    text = """hydraulic cylinder P
    bore 63 mm, rod 36 mm, stroke 300 mm, flow 20 L/min, give or take 10 %
    valve shift time 40 ms
    single solenoid valve Y, spring return
    limit switch LS1 at end, LS2 at home
pushbutton START
pushbutton STOP, normally closed
home when P is at-home
cycle
    when START is pressed
    extend P until at-end
    hold 5 s
    retract P until at-home
"""
    understood = understand(Source("test", text))
    assert understood.chart is not None
    greatest = understood.machine.actuator("P").extend_time.greatest_us
    assert greatest == pytest.approx(2_805_500 / 0.9 + 40_000, abs=100)
    made = RELAY.emit(understood.machine, understood.chart, options=Options(arrangements=("one-shot",)))
    rungs = next(each for each in made if isinstance(each, Artefact) and each.file.endswith(".rungs"))
    assert "one-shot" in rungs.name
    assert f"{(greatest + 5_000_000) / 1e6:.6f}".rstrip("0") in rungs.text
