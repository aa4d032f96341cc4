"""Circuits that somebody left behind, told in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from compiler.retell.retell import retell
from targets import relay
from tests.retell.inherited import INHERITED, Inherited, inherited

_HEADS = ("home ", "cycle\n", "when ")


def told(text: str) -> str:
    """The blocks of a program that are not devices."""
    return "\n\n".join(block.strip() for block in text.split("\n\n") if block.startswith(_HEADS))


@pytest.mark.parametrize("path", INHERITED, ids=lambda path: path.stem)
def test_is_told_as_somebody_would_who_reads_the_rungs(path: Path) -> None:
    case = inherited(path)
    retold = retell(case.logic, case.machine)
    assert told(retold.text) == case.told
    assert (str(retold.proof.standing) if retold.proof is not None else "") == case.verdict
    assert retold.notes == case.notes


def dwell(rungs: str) -> Inherited:
    seal_in = next(path for path in INHERITED if path.stem == "seal-in")
    case = inherited(seal_in)
    logic = relay.TARGET.read(rungs, "rungs", case.machine)
    return Inherited(logic, case.machine, "", "", ())


ONE_TIME = """circuit "One time"
relay CR1
timer TR1, on-delay 9 s
rung 1: START or CR1, STOP NC, TR1 NCTO, feeds CR1
rung 2: CR1, feeds TR1 and SOL1
"""


def test_a_time_from_the_start_is_not_taken_for_a_stroke_and_a_hold() -> None:
    """Both circuits keep SOL1 on for about as long when the stroke is usual. Only one of them waits for LS1."""
    waits = ONE_TIME.replace(
        "rung 2: CR1, feeds TR1 and SOL1", "rung 2: CR1, feeds SOL1\nrung 3: CR1, LS1, feeds TR1"
    )
    timed, waited = (retell(case.logic, case.machine) for case in (dwell(ONE_TIME), dwell(waits)))
    assert "extend RAM for 9 s" in timed.text
    assert "extend RAM until at-end\n    hold 9 s" in waited.text


def test_a_difference_is_told_in_words() -> None:
    case = inherited(next(path for path in INHERITED if path.stem == "two-cycles"))
    (difference,) = retell(case.logic, case.machine).differences
    assert difference.startswith("GO is pressed")
    assert "SOL2 comes on" in difference


def test_what_never_settles_is_refused() -> None:
    case = dwell('circuit "Buzzer"\nrelay CR1\nrung 1: START, CR1 NC, feeds CR1\nrung 2: CR1, feeds SOL1\n')
    retold = retell(case.logic, case.machine)
    assert retold.text == ""
    assert retold.notes[0].startswith("words do not suffice: ")


def test_what_nothing_starts_is_refused() -> None:
    case = dwell('circuit "Dead"\nrung 1: LS1, LS2, feeds SOL1\n')
    assert retell(case.logic, case.machine).notes == (
        "words do not suffice: nothing that can be pressed or switched starts it",
    )


def test_the_devices_come_back_as_they_were_declared() -> None:
    case = inherited(next(path for path in INHERITED if path.stem == "guard-and-watch"))
    retold = retell(case.logic, case.machine)
    assert retold.understood is not None
    assert retold.understood.machine.actuators == case.machine.actuators
    assert set(retold.understood.machine.inputs) == set(case.machine.inputs)
    assert set(retold.understood.machine.loads) == set(case.machine.loads)
