"""A broken emitter is caught: each text is spoilt as a faulty emitter would spoil it, and must not pass.

Translation validation (Pnueli, Siegel, Singerman, TACAS 1998) is only worth its name if this holds.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from compiler.checking.reached import unreached
from compiler.checking.verdict import Verdict
from grammar.reading import ReadBack
from tests.whole.programs import artefact, example, judged, proved, runs

# example, file, what the emitter did wrong, pattern, replacement
SPOILT = [
    ("bung-press", "on-delay", "swaps NC and NO on STOP", r"STOP NC", "STOP"),
    ("bung-press", "on-delay", "swaps NO and NC on the end switch", r"LS1, feeds TR1", "LS1 NC, feeds TR1"),
    ("bung-press", "on-delay", "takes the wrong timed contact", r"TR1 NCTO", "TR1 NOTC"),
    ("bung-press", "on-delay", "drops the seal-in", r"\) or CR1\b", ")"),
    ("bung-press", "on-delay", "prints a wrong preset", r"on-delay 4 s", "on-delay 4.001 s"),
    ("bung-press", "off-delay", "loses the switch contact", r"LS1 NC, ", ""),
    ("bung-press", "off-delay", "prints a wrong preset", r"off-delay 4 s", "off-delay 3 s"),
    ("bung-press", "one-shot", "prints a wrong preset", r"one-shot [0-9.]+ s", "one-shot 4 s"),
    ("bung-press", "one-shot", "loses the STOP contact", r"STOP NC, feeds TR1 supply", "feeds TR1 supply"),
    ("hide-embossing", "on-delay", "forgets the cylinder on its way home", r" or \(CR2 and LS2 NC\)", ""),
    ("hide-embossing", "off-delay", "holds on through a fault", r"FR1A NC, FR2A NC, feeds TR1", "feeds TR1"),
    ("clamp-and-drill", "step-chain", "drops a seal-in", r" or CR3\b", ""),
    ("clamp-and-drill", "step-chain", "swaps the solenoids", r"SOL1A", "SWAPPED"),
    ("clamp-and-drill", "step-chain", "feeds the wrong switch", r"CR2A?, LS3\b", "CR2, LS1"),
    ("clamp-and-drill", "structured", "prints a wrong preset", r"T#6s", "T#5s"),
    ("clamp-and-drill", "structured", "prints a wrong step number", r"StepNo := 30;", "StepNo := 40;"),
    ("clamp-and-drill", "structured", "forgets that STOP is wired normally closed", r"NOT STOP", "STOP"),
    ("clamp-and-drill", "structured", "labels a case wrongly", r"(?m)^(\s*)20:", r"\g<1>25:"),
    ("clamp-and-drill", "chart", "loses a switch", r'"LS3"\s*\n\s*\}', '"LS4"\n }'),
    ("veneer-press", "step-chain", "prints a wrong time limit", r"on-delay 12 s", "on-delay 6 s"),
    ("veneer-press", "structured", "prints a wrong sustained time", r"T#0?\.?5?\w*500ms|T#0\.5s", "T#5s"),
    ("clamp-and-drill", "step-chain", "drops the seal-in of a fault", r" or FR1\b", ""),
    ("veneer-press", "step-chain", "drops the STOP contact of a fault", r"or FR1, STOP NC", "or FR1"),
    ("brick-turner", "step-chain", "loses the fault lamp", r"\bFR1[A-Z]? or (?=.*feeds ALARM)", ""),
    ("seed-tray-lifter", "structured", "sees a level where an edge is meant", r"(\w+)\.Q AND", r"TRAY_OFF AND"),
    ("bung-press", "step-chain", "ends the cycle on the wrong switch", r"CR3, LS2", "CR3, LS1"),
    ("clamp-and-drill", "step-chain", "lets a START under STOP count", r"AR1 and STOP NC", "AR1 and LS2 NC"),
    ("clamp-and-drill", "step-chain", "hides a fault by a switch", r"TR1 NOTC and LS3 NC", "TR1 NOTC and LS2 NC"),
    ("seed-tray-lifter", "step-chain", "lets START hide a fault", r"TR2 NOTC and LS2 NC", "TR2 NOTC and START NC"),
    ("seed-tray-lifter", "step-chain", "loses a home condition", r" and RUN\)", ")"),
    ("seed-tray-lifter", "structured", "loses a home condition", r" AND RUN_selected", ""),
    ("clamp-and-drill", "one-hot", "drops a seal-in", r" or CR3\b", ""),
    ("clamp-and-drill", "one-hot", "lets a step stay in", r", CR5A? NC, feeds CR4", ", feeds CR4"),
    ("clamp-and-drill", "one-hot", "forgets to bring the rest in", r"MCR1 NC or \(", "("),
    ("clamp-and-drill", "one-hot", "drops the STOP contact of the master", r"STOP NC, CR1 or", "CR1 or"),
    ("clamp-and-drill", "one-hot", "bridges the master", r"master MCR1:", "master MCR1 or MCR1 NC:"),
    ("clamp-and-drill", "one-hot", "ends a step on the wrong switch", r"CR3A? and LS3\b", "CR3 and LS4"),
    ("clamp-and-drill", "cascade", "drops the seal-in of a group", r" or CR2\b", ""),
    ("clamp-and-drill", "cascade", "ends the cycle on the wrong switch", r"LS2 NC, feeds CR2", "LS4 NC, feeds CR2"),
    ("clamp-and-drill", "step-counter", "never unlatches a step", r"KR3 or (CR1A? NC, feeds KR2)", r"\1"),
    ("clamp-and-drill", "step-counter", "latches on the wrong switch", r"KR1, LS1, feeds", "KR1, LS3, feeds"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("stem", "file", "wrong", "pattern", "instead"), SPOILT, ids=[f"{s}: {f} {w}" for s, f, w, _, _ in SPOILT]
)
def test_a_faulty_emitter_is_caught(stem: str, file: str, wrong: str, pattern: str, instead: str) -> None:
    sound = artefact(stem, {"structured": ".st", "chart": ".json"}.get(file, file))
    verdict = judged(stem, sound)
    assert isinstance(verdict, Verdict)
    assert verdict.sound
    text, count = re.subn(pattern, instead, sound.text)
    assert count, f"the text no longer holds {pattern}"
    if instead == "SWAPPED":
        text = sound.text.replace("SOL1A", "OTHER").replace("SOL1B", "SOL1A").replace("OTHER", "SOL1B")
    spoilt = judged(stem, replace(sound, text=text))
    # Text that cannot be read would be caught by the reader: here the runs must do it.
    assert isinstance(spoilt, Verdict), spoilt
    assert not spoilt.sound, spoilt.lines
    found = proved(stem, replace(sound, text=text))
    assert found.proof is not None
    assert not found.sound(strict=False), found.proof.headline


def test_what_needs_three_coincidences_is_proved_where_runs_miss_it() -> None:
    """STOP, a flood and a jam together: no run that is tried has all three."""
    sound = artefact("weir-gate", "step-chain")
    spoilt = replace(sound, text=sound.text.replace("CR4A, LS1", "CR4A, FLOOD"))
    assert spoilt.text != sound.text
    verdict = judged("weir-gate", spoilt)
    assert isinstance(verdict, Verdict)
    assert verdict.sound
    assert not proved("weir-gate", spoilt).sound(strict=False)
    assert proved("weir-gate", sound).sound(strict=True)


@pytest.mark.parametrize(
    ("file", "pattern", "instead"),
    [
        ("off-delay", r"off-delay 4 s", "on-delay 4 s"),  # its NOTO contact is none of an on-delay timer's
        ("on-delay", r"\) or CR1", " or CR1"),
        ("on-delay", r"feeds SOL1", "feeds SOL2"),
        (".st", r"T#4s", "T#4q"),
    ],
)
def test_text_that_makes_no_circuit_is_refused_by_its_reader(file: str, pattern: str, instead: str) -> None:
    sound = artefact("bung-press", file)
    text, count = re.subn(pattern, instead, sound.text)
    assert count
    assert isinstance(judged("bung-press", replace(sound, text=text)), ReadBack)


def test_every_time_limit_is_tried_and_start_is_tried_while_its_fault_is_shown() -> None:
    """Every switch sticks in some run, so every fault of an example with switches comes up, and START with it."""
    for stem in ("clamp-and-drill", "veneer-press", "brick-turner", "hide-embossing"):
        understood = example(stem)
        assert understood.chart is not None
        assert unreached(understood.machine, understood.chart, runs(stem)) == (), stem
        assert any("START pressed while the fault is shown" in scenario.name for scenario in runs(stem)), stem
