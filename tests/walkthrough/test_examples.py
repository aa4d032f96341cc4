"""Every example, driven by everything that is printed of it: told truly, once, and in lines that read well."""

from __future__ import annotations

import re

import pytest

from compiler.chart_logic import chart_logic
from compiler.checking.scenarios import usual_cycle
from compiler.simulation.simulate import simulate
from compiler.walk.record import circuit_of
from targets.anchors import moment_anchor
from targets.build import emit_all, read_back
from targets.motion import timing_chart
from targets.target import CAUTION, Options
from targets.walkthrough import Level, as_html, as_markdown, as_page, as_text, walk_through
from targets.walkthrough.moments import Teller
from targets.walkthrough.scenes import Scenes
from tests.walkthrough.replay import Replay, all_told, told_once
from tests.whole.programs import EXAMPLES, example

_STUTTER = re.compile(r"\b([a-z]+) \1\b|  | [,.:;]|\.\.|,,|\( |undefined|None", re.IGNORECASE)
_RUNGS = re.compile(r"\b[Rr]ungs? \d+(?:(?:, | and )\d+)*")


@pytest.mark.parametrize("stem", [path.stem for path in EXAMPLES])
def test_an_example_is_told_truly_and_once(stem: str) -> None:
    understood = example(stem)
    assert understood.chart is not None
    made, _ = emit_all(understood, Options())
    logics = [read_back(a, understood.machine) for a in made if a.implementation]
    assert logics
    for logic in logics:
        scenes = Scenes.of(understood.machine, understood.chart, logic)
        circuit = circuit_of(logic)
        middle = scenes.phases()[-1].middle_us
        runs = [scenes.normal, scenes.supply_lost(middle, causes=True)]
        runs += [scenes.stopped(understood.machine.stop, middle)] if understood.machine.stop else []
        for run in runs:
            assert run.instants[-1].at_us > 0
            assert not run.loop
            sentences = all_told(Teller(understood.machine, understood.chart, by_rungs=run.circuit), run.instants)
            if circuit is not None:
                told_once(sentences, run.instants)
                replay = Replay(circuit.circuit)
                for instant in run.instants:
                    replay.follow(instant)
            for sentence in sentences:
                assert not _STUTTER.search(sentence.text), sentence.text
                said = {int(n) for words in _RUNGS.findall(sentence.text) for n in re.findall(r"\d+", words)}
                assert said == set(sentence.rungs) or not said, sentence


@pytest.mark.parametrize("stem", ["bung-press", "one-line", "clamp-and-drill"])
@pytest.mark.parametrize("level", list(Level))
def test_the_whole_walk_through_reads_well(stem: str, level: Level) -> None:
    understood = example(stem)
    assert understood.chart is not None
    made, _ = emit_all(understood, Options())
    logics = [None, *(read_back(a, understood.machine) for a in made if a.implementation)]
    for logic in logics:
        told = walk_through(understood.machine, understood.chart, logic, level=level)
        text = as_text(told)
        assert max(map(len, text.splitlines())) <= 80
        assert text == "\n".join(line.rstrip() for line in text.splitlines()) + "\n"
        flat = " ".join(text.split())
        assert flat.endswith(CAUTION)
        for section in told.sections:
            for sentence in (s for p in section.passages for s in p.sentences):
                assert not _STUTTER.search(sentence.text), sentence.text
                assert sentence.text.endswith(".")
        assert CAUTION in as_markdown(told)
        _links_lead_somewhere(as_page(told))
        _links_lead_somewhere(as_html(told, prefix="one-"))


def _links_lead_somewhere(html: str) -> None:
    ids = re.findall(r'id="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r'href="#([^"]+)"', html)) <= set(ids)


@pytest.mark.parametrize("stem", [path.stem for path in EXAMPLES])
def test_every_moment_told_is_a_moment_of_the_chart(stem: str) -> None:
    """The walk-through and the timing chart are made of one run, so each link to a moment leads somewhere."""
    understood = example(stem)
    assert understood.chart is not None
    machine, chart = understood.machine, understood.chart
    run = simulate(machine, chart_logic(chart), usual_cycle(machine, chart), after_us=2_000_000)
    svg = timing_chart(run, machine, chart=chart, prefix="one-")
    ids = re.findall(r' id="([^"]+)"', svg)
    assert len(ids) == len(set(ids))
    told = walk_through(machine, chart)
    linked = {moment_anchor(p.at_us, "one-") for p in told.sections[0].passages if p.at_us is not None}
    assert linked <= set(ids)
    assert {f"#{name}" for name in linked} <= set(re.findall(r'href="([^"]+)"', as_html(told, prefix="one-")))
    assert not [name for name in linked if f'id="{name}"' in as_html(told, prefix="one-", moments=False)]
