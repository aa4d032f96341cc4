"""A small seal-in circuit that several tests wire, and rung lists as circuits."""

from __future__ import annotations

from grammar.rungs import read
from grammar.rungs.tree import Circuit
from grammar.source import Source

__all__ = ["SEAL_IN", "circuit_of"]

SEAL_IN = """\
pushbutton START
pushbutton STOP
limit switch LS1
relay CR1
timer TR1, on-delay 4 s
solenoid SOL1
lamp BUSY

rung 1: START or CR1, STOP NC, TR1 NCTO, feeds CR1
rung 2: CR1, LS1, feeds TR1
rung 3: CR1, feeds SOL1 and BUSY
"""


def circuit_of(text: str) -> Circuit:
    reading = read(Source("x.rungs", text))
    assert reading.sound, reading.diagnostics
    return reading.tree
