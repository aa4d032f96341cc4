"""The circuits of one-hot chains as printed, on a hardware simulator: forks, counters, masters and shared contacts.

The translation is that of ``test_against_verilog``, which shares nothing with the compiler but the tree.
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from compiler.chart import Chart
from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from grammar.rungs import read
from grammar.rungs.tree import Circuit, Device, Kind, Name, Preset
from grammar.source import Source
from targets.relay import TARGET
from targets.target import Artefact, Options
from tests.relay import test_against_verilog as verilog
from tests.relay import wide

_ROUNDS = 160  # a chain that passes through several steps at once takes a few rounds for each
_TICKS_US = (1_000, 3_000, 9_000)
_CASES = 40

_MACHINE = Machine(
    inputs=tuple(Input(name=name, kind=InputKind.PUSHBUTTON) for name in wide.INPUTS),
    loads=tuple(Load(name=name, kind=LoadKind.LAMP) for name in wide.OUTPUTS),
)


def _in_ticks(circuit: Circuit) -> Circuit:
    """Every input declared, and presets in whole milliseconds, of which the hardware simulator makes ticks."""
    timed = [
        replace(d, preset=Preset(str(round(float(d.preset.number) * 1000)), "ms"))
        if d.preset is not None and d.preset.unit == "s"
        else d
        for d in circuit.devices
    ]
    unused = [Device(Kind.PUSHBUTTON, Name(i.name)) for i in _MACHINE.inputs if circuit.device(i.name) is None]
    return replace(circuit, devices=(*unused, *timed))


def _printed() -> list[Circuit]:
    found: list[Circuit] = []

    @settings(
        phases=(Phase.generate,),
        max_examples=_CASES,
        derandomize=True,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(wide.wide_charts())
    def collect(chart: Chart) -> None:
        options = Options(anti_repeat=True, arrangements=("one-hot",))
        for artefact in TARGET.emit(_MACHINE, chart, options=options):
            if isinstance(artefact, Artefact) and artefact.implementation:
                found.append(_in_ticks(read(Source(artefact.file, artefact.text)).tree))

    collect()
    return found


def test_printed_chains_agree_with_a_hardware_simulator(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if shutil.which("iverilog") is None or shutil.which("vvp") is None:
        assert not os.environ.get("CI"), "CI installs iverilog; this check must not be skipped there"
        pytest.skip("NO CROSS-CHECK OF THE PRINTED CHAINS: install the Debian package iverilog to run it")
    monkeypatch.setattr(verilog, "MACHINE", _MACHINE)
    monkeypatch.setattr(verilog, "_ROUNDS", _ROUNDS)
    monkeypatch.setattr(wide, "_TIMES_US", _TICKS_US)
    rng = random.Random("printed chains")
    cases = [(circuit, verilog._history(rng)) for circuit in _printed()]
    assert sum(d.kind is Kind.COUNTER for circuit, _ in cases for d in circuit.devices) >= 5
    source = tmp_path / "chains.v"
    lines = (line for k, case in enumerate(cases) for line in verilog._verilog(k, *case))
    source.write_text("\n".join(lines), encoding="ascii")
    subprocess.run(["iverilog", "-o", tmp_path / "chains", source], check=True, timeout=120)
    run = subprocess.run(["vvp", tmp_path / "chains"], check=True, timeout=120, capture_output=True, text=True)
    theirs: list[list[tuple[str, str]]] = [[] for _ in cases]
    for line in run.stdout.splitlines():
        number, _, stable, bits = line.split()
        theirs[int(number)].append((stable, bits))
    moved = 0
    for (circuit, history), waves in zip(cases, theirs, strict=True):
        told = verilog._ours(circuit, history)
        steady = next((k for k, (stable, _) in enumerate(waves) if stable == "0"), len(waves))
        assert told == [bits for _, bits in waves[:steady]], circuit.title
        moved += sum(one != other for one, other in pairwise(told))
    assert moved > 100, "too little happens for the comparison to mean anything"
