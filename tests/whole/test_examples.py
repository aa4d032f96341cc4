"""Every shipped example builds in every arrangement that fits, is read back, checked, and hides no difference."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from compiler.checking.verdict import Verdict
from compiler.proof.verdict import Standing
from compiler.understand import understand
from grammar.diagnostic import Severity
from grammar.sequence.write import format_text
from grammar.source import Source
from targets.target import CAUTION, Artefact
from tests.whole.programs import EXAMPLES, emitted, example, judged, proved

WORDS = set(CAUTION.split())
# Tried in simulated runs as well, as ``build --quick`` does; of larger ones that takes as long as their proofs.
TRIED = {"bung-press", "clamp-and-drill", "crate-stamp", "hide-embossing", "one-line", "tag-punch", "weir-gate"}


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_artefact_reads_back_and_announces_its_differences(path: Path) -> None:
    """With and without the anti-repeat relay; what comes out alike is looked at once."""
    understood = example(path.stem)
    assert not understood.said(Severity.FAULT)
    printed: dict[str, Artefact] = {}
    for anti_repeat in (False, True):
        made, refused = emitted(path.stem, anti_repeat=anti_repeat)
        assert {a.target for a in made if a.implementation} == {"chart", "relay", "sfc", "structured-text"}
        assert all(refusal.reason for refusal in refused)
        printed |= {a.text: a for a in made if a.implementation}
    for artefact in printed.values():
        if path.stem in TRIED:
            verdict = judged(path.stem, artefact)
            assert isinstance(verdict, Verdict), verdict
            assert verdict.sound, verdict.lines
        shown = proved(path.stem, artefact)
        assert shown.proof is not None
        assert shown.proof.standing is not Standing.NOT_SETTLED
        assert shown.sound(strict=False), shown.proof.headline
        assert all(outside.run is not None for outside in shown.proof.outside)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_step_chain_with_anti_repeat_and_structured_text_differ_in_nothing(path: Path) -> None:
    made, _ = emitted(path.stem, anti_repeat=True)
    for artefact in made:
        if artefact.file.endswith((".st", "step-chain.rungs", ".json")):
            assert artefact.announces == frozenset()


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_whatever_may_be_wired_or_run_carries_the_caution(path: Path) -> None:
    made, _ = emitted(path.stem, anti_repeat=False)
    for artefact in made:
        plain = re.sub("<[^<>]+>", " ", artefact.text) if artefact.file.endswith(".svg") else artefact.text
        words = plain.replace("#", " ").replace("(*", " ").replace("*)", " ").replace('"', " ").split()
        assert set(words) | {w.rstrip(",") for w in words} >= WORDS, artefact.file


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_formatted_example_means_the_same(path: Path) -> None:
    source = Source(path.name, path.read_text(encoding="utf-8"))
    text, _ = format_text(source)
    before, after = understand(source), understand(Source(path.name, text))
    assert after.machine == before.machine
    assert after.chart is not None
    assert before.chart is not None
    bare = [(s.name, s.actions, s.fault) for s in after.chart.steps]
    assert bare == [(s.name, s.actions, s.fault) for s in before.chart.steps]
    assert [t.condition for t in after.chart.transitions] == [t.condition for t in before.chart.transitions]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("anti_repeat", [False, True], ids=["plain", "anti-repeat"])
def test_every_rung_and_every_step_of_a_program_names_its_words(path: Path, anti_repeat: bool) -> None:
    made, _ = emitted(path.stem, anti_repeat=anti_repeat)
    for artefact in (a for a in made if a.target in ("relay", "structured-text") and a.implementation):
        for number, line in enumerate(artefact.text.splitlines(), 1):
            if line.startswith("rung ") or "StepNo := " in line.split("INT")[0]:
                assert artefact.lines.get(number), f"{artefact.file}:{number}: {line}"


def test_each_example_says_what_it_teaches() -> None:
    assert len(EXAMPLES) >= 8
    for path in EXAMPLES:
        assert path.read_text(encoding="utf-8").startswith("# Teaches: ")
