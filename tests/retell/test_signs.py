"""Lamps that follow a relay or a switch and not the steps: the rest is told all the same."""

from __future__ import annotations

import pytest

from compiler.circuit import circuit_logic
from compiler.proof.verdict import Standing
from compiler.retell.retell import retell
from compiler.understand import understand
from grammar.rungs import read
from grammar.source import Source

_MACHINE = """\
pneumatic cylinder A
    stroke 80 mm, extends in 0.6 s to 1 s, retracts in 0.5 s to 0.9 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
pushbutton START
pushbutton STOP, normally closed
lamp BUSY
"""
_DWELL = """\
limit switch LS1
limit switch LS2
pushbutton START
pushbutton STOP
relay CR1
solenoid SOL1
lamp BUSY
timer TR1, on-delay 2 s
rung 1: (START and LS2) or CR1, STOP NC, TR1 NCTO, feeds CR1
rung 2: CR1, LS1, feeds TR1
rung 3: CR1, feeds SOL1
rung 4: {lamp}, feeds BUSY
"""


@pytest.mark.parametrize(
    ("lamp", "told", "left_out"),
    [
        ("CR1", "turn off BUSY and retract A until at-home", False),
        ("CR1 or LS2 NC", "    retract A until at-home", True),  # STOP leaves it on until the rod is home
    ],
)
def test_a_lamp_of_a_dwell_circuit(lamp: str, told: str, left_out: bool) -> None:
    machine = understand(Source("machine", _MACHINE)).machine
    circuit = read(Source("dwell", _DWELL.format(lamp=lamp)))
    logic = circuit_logic(circuit.tree, machine)
    found = retell(logic, machine)
    assert found.proof is not None
    assert found.proof.standing is Standing.SAME, found.proof.headline
    lines = found.text.splitlines()
    assert any(told in line for line in lines), found.text
    assert ("turn on BUSY" in found.text) is not left_out
    assert any("no step tells when BUSY is on; it is left out" in note for note in found.notes) is left_out
