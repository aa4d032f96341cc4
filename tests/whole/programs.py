"""Programs understood and built whole, for tests that go from words to verdicts."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from compiler.chart_logic import chart_logic
from compiler.checking.check import check
from compiler.checking.scenarios import make_scenarios
from compiler.checking.verdict import Verdict
from compiler.proof.prove import prove
from compiler.simulation.run import Scenario
from compiler.understand import Understood, understand
from grammar.reading import ReadBack
from grammar.source import Source
from targets.build import Printed, emit_all, read_back
from targets.target import Artefact, Options, Refusal

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.seq"))
DWELL = "home when RAM is at-home\n"


WITHOUT_WAY_HOME = " without its way home"


@cache
def example(stem: str) -> Understood:
    """An example by its stem; with WITHOUT_WAY_HOME after it, the same whose STOP only drops out everything."""
    path = next(path for path in EXAMPLES if path.stem == stem.removesuffix(WITHOUT_WAY_HOME))
    words = path.read_text(encoding="utf-8")
    if stem.endswith(WITHOUT_WAY_HOME):
        words = words[: words.index("when STOP is pressed, return home")]
    return understand(Source(path.name, words))


@cache
def emitted(stem: str, *, anti_repeat: bool) -> tuple[tuple[Artefact, ...], tuple[Refusal, ...]]:
    """What is printed of an example and what is refused; not for tests that change an emitter."""
    made, refused = emit_all(example(stem), Options(anti_repeat=anti_repeat))
    return tuple(made), tuple(refused)


@cache
def runs(understood_stem: str) -> tuple[Scenario, ...]:
    understood = example(understood_stem)
    assert understood.chart is not None
    return make_scenarios(understood.machine, understood.chart)


def artefact(stem: str, file_part: str, *, anti_repeat: bool = True) -> Artefact:
    made, _ = emit_all(example(stem), Options(anti_repeat=anti_repeat))
    return next(a for a in made if a.implementation and file_part in a.file)


def proved(stem: str, made: Artefact) -> Printed:
    """The proof of an artefact as its text now stands, which must be readable."""
    understood = example(stem)
    assert understood.chart is not None
    logic = read_back(made, understood.machine)
    return Printed(made, proof=prove(chart_logic(understood.chart), logic, understood.machine))


def judged(stem: str, made: Artefact) -> Verdict | ReadBack:
    """The verdict on an artefact as its text now stands, or the reason it can't be read."""
    understood = example(stem)
    assert understood.chart is not None
    try:
        logic = read_back(made, understood.machine)
    except ReadBack as unreadable:
        return unreadable
    sequence = chart_logic(understood.chart)
    return check(sequence, logic, understood.machine, understood.chart, runs(stem), announced=made.announces)
