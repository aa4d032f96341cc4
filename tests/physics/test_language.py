"""What may be said wrong of ratings and of the pump: one message each, at the words at fault."""

from __future__ import annotations

import pytest

from compiler.understand import Understood, understand
from grammar.diagnostic import Severity
from grammar.source import Source

CYLINDER = "hydraulic cylinder P\n    bore 80 mm, rod 45 mm, stroke 400 mm\n    {}\n"
PUMP = "hydraulic pump\n    {}\nhydraulic cylinder P\n"
CYCLE = "cycle\n    extend P for 4 s\n    retract P for 4 s\npushbutton START\n"


def read(text: str) -> Understood:
    return understand(Source("test", text))


@pytest.mark.parametrize(
    ("where", "line", "code", "words", "told"),
    [
        (CYLINDER, "pressure 160", "RW101", "160", "a pressure, such as 160 bar"),
        (CYLINDER, "pressure 160 mm", "RW206", "160 mm", "a pressure (bar, psi, MPa)"),
        (CYLINDER, "load 40", "RW101", "40", "a force such as 40 kN, or a mass such as 200 kg"),
        (CYLINDER, "load 40 bar", "RW206", "40 bar", "a force (N, kN, lbf) or a mass (kg, lb)"),
        (CYLINDER, "load 0 kN", "RW206", "0 kN", "a force (N, kN, lbf) greater than zero"),
        (CYLINDER, "load 3 kN lifted", "RW215", "load 3 kN lifted", "load 200 kg, lifted"),
        (CYLINDER, "load 3 kg retracting", "RW215", "load 3 kg retracting", "lifted"),
        (CYLINDER, "load 3 kg, load 4 lb", "RW211", "load 4 lb", "P already has this"),
        (CYLINDER, "friction 5 mm", "RW206", "5 mm", "a force (N, kN, lbf) or a percentage (%)"),
        (CYLINDER, "friction", "RW103", "friction", "a percentage such as 5 %"),
        (CYLINDER, "efficiency 120 %", "RW206", "120 %", "a percentage of 100 % or less"),
        (CYLINDER, "flow 20 L/min, give or take 10", "RW101", "10", "a percentage, such as 10 %"),
        (CYLINDER, "flow 20 L/min, give or take 100 %", "RW206", "100 %", "less than 100 %"),
        (CYLINDER, "flow 20 L/min, give or take 5 %, give or take 5 %", "RW123", "give or take 5 %", "delete"),
        (CYLINDER, "single-acting, give or take 5 %", "RW121", "give or take 5 %", "a bore, a flow, a pressure"),
        (CYLINDER, "pressure 6 bar, lifted", "RW121", "lifted", "a load before it"),
        (CYLINDER, "valve shift time 40 mm", "RW206", "40 mm", "a time"),
        (CYLINDER, "tube 6 mm", "RW206", "6 mm", "6 mm by 2 m"),
        (CYLINDER, "tube 6 mm by 3 bar", "RW206", "3 bar", "a length"),
        (CYLINDER, "presure 100 bar", "RW102", "presure", "did you mean 'pressure'?"),
        (CYLINDER, "displacement 16 cm3/rev", "RW120", "displacement 16 cm3/rev", "hydraulic pump"),
        (CYLINDER, "overall efficiency 90 %", "RW120", "overall efficiency 90 %", "hydraulic pump"),
        (PUMP, "efficiency 80 %", "RW120", "efficiency 80 %", "volumetric efficiency or overall efficiency"),
        (PUMP, "bore 80 mm", "RW120", "bore 80 mm", "hydraulic cylinder NAME"),
        (PUMP, "limit switch LS at end", "RW120", "limit switch LS at end", "hydraulic cylinder NAME"),
        (PUMP, "pressure 100 bar, pressure 110 bar", "RW211", "pressure 110 bar", "the pump already has this"),
        (PUMP, "speed 1450", "RW101", "1450", "a speed of turning, such as 1450 rpm"),
        (PUMP, "displacement 16 cc", "RW206", "16 cc", "a displacement (cm3/rev, in3/rev)"),
        (PUMP, "case drain 1.2 L", "RW206", "1.2 L", "a flow (L/min, gpm)"),
        (CYLINDER, f"load {'9' * 400} kN", "RW206", f"{'9' * 400} kN", "of a size that machines have"),
        (CYLINDER, f"flow 0.{'0' * 400}1 L/min", "RW206", f"0.{'0' * 400}1 L/min", "of a size that machines have"),
        (PUMP, "flow 20 L/min\nhydraulic pump", "RW211", "hydraulic pump", "the machine already has a pump"),
    ],
)  # fmt: skip
def test_what_is_at_fault_is_told_once_at_its_place(where: str, line: str, code: str, words: str, told: str) -> None:
    program = read(where.format(line) + CYCLE)
    faults = program.said(Severity.FAULT)
    assert [fault.code for fault in faults] == [code]
    (fault,) = faults
    assert fault.span is not None
    assert program.source.words(fault.span) == words
    assert told in f"{fault.message} {fault.expected} {fault.cure}"


def test_a_pump_feeds_the_cylinders_that_state_no_flow_or_pressure() -> None:
    """16 cm3 at 1450 turns a minute and 95 % are 22.04 L/min; air is not fed, and what is stated stands."""
    text = """hydraulic pump
    displacement 16 cm3/rev, speed 1450 rpm, volumetric efficiency 95 %
    pressure 160 bar, give or take 5 %
hydraulic cylinder A
    bore 50 mm, stroke 100 mm
hydraulic cylinder B
    bore 50 mm, stroke 100 mm, flow 10 L/min
pneumatic cylinder C
    bore 50 mm, stroke 100 mm
cycle
    extend A for 9 s
pushbutton START
"""
    a, b, c = (actuator.ratings for actuator in read(text).machine.actuators)
    assert a is not None
    assert a.flow_lpm == pytest.approx(22.04)
    assert (a.from_pump, a.pressure_bar, a.pressure_spread) == (True, 160.0, 0.05)
    assert b is not None
    assert (b.flow_lpm, b.from_pump, b.pressure_bar) == (10.0, False, 160.0)
    assert c is None


@pytest.mark.parametrize("line", [f"stroke {'9' * 400} m", "bore 50 mm, give or take 20 %, rod 45 mm"])
def test_sizes_that_no_formula_stands_are_refused(line: str) -> None:
    """A stroke beyond all numbers, and a bore that may be as thin as the rod."""
    assert read(f"hydraulic cylinder P\n    {line}, flow 20 L/min\n{CYCLE}").said(Severity.FAULT)


def test_a_stated_time_goes_before_the_reckoned_one() -> None:
    text = CYLINDER.format("flow 40 L/min, extends in 9 s") + CYCLE
    actuator = read(text).machine.actuator("P")
    assert actuator.extend_time.usual_us == 9_000_000
    assert actuator.retract_time.usual_us == pytest.approx(3_015_929 * (1 - (45 / 80) ** 2), abs=2)
