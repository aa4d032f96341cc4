"""Valves and motors from their words to the machine, and what is told of them."""

from __future__ import annotations

import pytest

from compiler.condition import Not, Signal
from compiler.document import Document, NotADocument, read_document
from compiler.machine import Centre, LoadKind, Machine, Motor, MotorKind, RapidKind, TravelBasis, Valve, ValveKind
from compiler.tell import tell
from compiler.understand import understand
from compiler.valve_words import valve_words
from grammar.source import Source

HEAD = "hydraulic cylinder PRESS\n    bore 80 mm, rod 56 mm, stroke 250 mm, flow 12 L/min\n    "
SWITCHES = "\n    limit switch LS1 at end, LS2 at home\n"
TAIL = SWITCHES + "cycle\n    extend PRESS until at-end\n    retract PRESS until at-home\n"
OFF = "With SOL1 and SOL2 off, or the supply lost,"


def machine(lines: str) -> Machine:
    understood = understand(Source("test", HEAD + lines + TAIL))
    assert understood.machine is not None, understood.diagnostics
    return understood.machine


@pytest.mark.parametrize("centre", list(Centre))
def test_a_three_position_valve_has_its_solenoids_and_its_centre(centre: Centre) -> None:
    read = machine(f"three-position valve SOL1 extends, SOL2 retracts, {centre}")
    kind = ValveKind.THREE_POSITION
    assert read.actuators[0].valve == Valve(kind=kind, extend="SOL1", retract="SOL2", centre=centre)
    assert [(load.name, load.kind) for load in read.loads] == [
        ("SOL1", LoadKind.SOLENOID),
        ("SOL2", LoadKind.SOLENOID),
    ]


def test_a_quick_stroke_takes_the_stated_time() -> None:
    read = machine("single solenoid valve SOL1, rapid solenoid SOL3, extends rapidly in 0.8 s to 1 s")
    rapid = read.actuators[0].valve.rapid
    assert rapid is not None
    assert (rapid.kind, rapid.solenoid) == (RapidKind.RAPID, "SOL3")
    assert (rapid.time.least_us, rapid.time.greatest_us) == (800_000, 1_000_000)
    assert [load.name for load in read.loads] == ["SOL1", "SOL3"]


def test_a_regenerative_stroke_takes_the_time_that_fills_the_rod() -> None:
    """The flow fills bore less ring, the rod's own area: v = Q / (pi d^2 / 4) (textbook). 12 L/min is 200 cm3/s; a
    rod of 56 mm has 24.63 cm2, so 250 mm take 3.079 s."""
    read = machine("double solenoid valve SOL1 extends, SOL2 retracts, regenerative solenoid SOL3")
    rapid = read.actuators[0].valve.rapid
    assert rapid is not None
    assert rapid.time.basis is TravelBasis.DERIVED
    assert rapid.time.usual_us == pytest.approx(3_079_000, abs=1_000)


def test_motors_are_driven_by_solenoids_or_contactors() -> None:
    both = "hydraulic motor WINCH, SOL5 forward, SOL6 reverse\nelectric motor FEED, M1 forward, M2 reverse\n"
    read = understand(Source("test", both + HEAD + "single solenoid valve SOL1" + TAIL)).machine
    assert read is not None
    assert read.motors == (
        Motor(name="WINCH", kind=MotorKind.HYDRAULIC, forward="SOL5", reverse="SOL6"),
        Motor(name="FEED", kind=MotorKind.ELECTRIC, forward="M1", reverse="M2"),
    )
    kinds = {load.name: load.kind for load in read.loads}
    assert [kinds[name] for name in ("SOL5", "SOL6", "M1", "M2")] == [LoadKind.SOLENOID] * 2 + [
        LoadKind.CONTACTOR
    ] * 2


@pytest.mark.parametrize(
    ("lines", "codes"),
    [
        ("three-position valve SOL1 extends, SOL2 retracts, closed centre, single solenoid valve SOL3", {"RW215"}),
        ("three-position valve SOL1 extends, SOL2 retracts, closed centre, single-acting", {"RW215"}),
        ("three-position valve SOL1 extends, SOL1 retracts, closed centre", {"RW201"}),
        ("single solenoid valve SOL1, rapid solenoid SOL1, extends rapidly in 1 s", {"RW201"}),
        ("single solenoid valve SOL1, rapid solenoid SOL3", {"RW250"}),
        ("single solenoid valve SOL1, extends rapidly in 1 s", {"RW250"}),
    ],
)
def test_what_does_not_go_together_is_told(lines: str, codes: set[str]) -> None:
    found = understand(Source("test", HEAD + lines + TAIL)).diagnostics
    assert {d.code for d in found if d.code.startswith("RW2")} == codes


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("single solenoid valve SOL1", ["With SOL1 off, or the supply lost, PRESS retracts."]),
        ("normally extended, single solenoid valve SOL1", ["With SOL1 off, or the supply lost, PRESS extends."]),
        (
            "double solenoid valve SOL1 extends, SOL2 retracts",
            [f"{OFF} PRESS completes the stroke it has begun and stays there (memory valve)."],
        ),
        (
            "three-position valve SOL1 extends, SOL2 retracts, closed centre, rapid solenoid SOL3, "
            "extends in 2 s to 3 s, extends rapidly in 0.8 s",
            [
                f"{OFF} PRESS stops where it is and is held there (closed centre).",
                "With SOL3 on, PRESS extends in 0.8 s instead of 2 s to 3 s.",
            ],
        ),
        (
            "three-position valve SOL1 extends, SOL2 retracts, tandem centre",
            [f"{OFF} PRESS stops where it is and is held there, and the pump runs unloaded (tandem centre)."],
        ),
        (
            "three-position valve SOL1 extends, SOL2 retracts, float centre",
            [f"{OFF} PRESS is driven no further and not held: a load may move it (float centre)."],
        ),
    ],
)
def test_what_a_valve_does_left_alone_is_told_in_plain_words(lines: str, told: list[str]) -> None:
    assert list(valve_words(machine(lines))) == told


def test_a_three_position_valve_without_its_centre_is_no_valve() -> None:
    with pytest.raises(ValueError, match="has a centre"):
        Valve(kind=ValveKind.THREE_POSITION, extend="SOL1", retract="SOL2")
    with pytest.raises(ValueError, match="has a centre"):
        Valve(kind=ValveKind.MEMORY, extend="SOL1", retract="SOL2", centre=Centre.CLOSED)


INCHED = """
hydraulic cylinder PRESS
    stroke 250 mm, extends in 4 s, retracts in 2 s
    three-position valve SOL1 extends, SOL2 retracts, closed centre, rapid solenoid SOL3, extends rapidly in 1 s
    limit switch LS1 at end, LS2 at home, LS3 at 200 mm
hydraulic motor FEED, SOL5 forward, SOL6 reverse
pushbutton START, normally open
sensor PART

cycle
    run FEED forward until PART is made
    extend PRESS rapidly until LS3 is made
    extend PRESS until at-end
    stop PRESS
    hold 2 s
    retract PRESS until at-home
    stop PRESS
    run FEED in reverse for 1 s
"""


def test_strokes_and_motors_are_told_as_they_begin_and_stop() -> None:
    understood = understand(Source("test", INCHED))
    assert understood.machine is not None
    assert understood.chart is not None, understood.diagnostics
    assert tell(understood.machine, understood.chart)[1:8] == [
        "  1. run FEED forward until PART is made",
        "  2. stop FEED and extend PRESS rapidly until LS3 is made",
        "  3. extend PRESS slowly until LS1 is made",
        "  4. stop PRESS and wait for 2 s",
        "  5. retract PRESS until LS2 is made",
        "  6. stop PRESS and run FEED in reverse for 1 s",
        "     Then stop FEED, and rest.",
    ]


def test_valves_and_motors_come_back_from_json() -> None:
    understood = understand(Source("test", INCHED))
    assert understood.machine is not None
    assert understood.chart is not None
    document = Document(machine=understood.machine, chart=understood.chart)
    assert read_document(document.to_json()) == document
    spoilt = document.to_json().replace('"centre": "closed centre"', '"centre": null')
    assert spoilt != document.to_json()
    with pytest.raises(NotADocument, match=r"machine\.actuators\.0\.valve"):
        read_document(spoilt)


def test_a_motor_is_never_let_run_both_ways() -> None:
    """Each direction is kept off while the other is commanded, and a step that commands both is refused."""
    understood = understand(Source("test", INCHED))
    assert understood.chart is not None
    kept = {(lock.output, lock.only_while) for lock in understood.chart.interlocks}
    assert kept == {("SOL5", Not(of=Signal(device="SOL6"))), ("SOL6", Not(of=Signal(device="SOL5")))}
    both = INCHED.replace("    run FEED forward until", "    turn on SOL5 and SOL6, wait until")
    refused = understand(Source("test", both))
    assert refused.chart is None
    assert "RW305" in {d.code for d in refused.diagnostics}
