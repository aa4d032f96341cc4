"""Every shipped example, through every arrangement and program, read back and told in words again."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.checking.check import check
from compiler.checking.scenarios import make_scenarios
from compiler.condition import And, Condition, Not, Or, Sustained
from compiler.machine import Actuator, Travel, TravelBasis
from compiler.proof.verdict import Standing
from compiler.retell.retell import Retold, retell
from grammar.diagnostic import Severity
from grammar.sequence.write import format_text
from targets.build import emit_all, read_back
from targets.target import Artefact, Options
from tests.whole.programs import EXAMPLES, example


def is_one_row(chart: Chart) -> bool:
    """Whether a sequence is one row of steps: what goes on side by side, is chosen or repeats is not told again."""
    rows = all(len(t.sources) == len(t.targets) == 1 for t in chart.transitions)
    alone = sum(step.initial for step in chart.steps) == 1
    return rows and alone and not (chart.counters or chart.interlocks or (chart.forcing and chart.forcing.steps))


SMALL = tuple(
    path.stem
    for path in EXAMPLES
    if path.stem != "brick-turner" and (chart := example(path.stem).chart) is not None and is_one_row(chart)
)
ALL = (*SMALL, "brick-turner")


def printed(stem: str, *, anti_repeat: bool) -> Iterator[Artefact]:
    made, _ = emit_all(example(stem), Options(anti_repeat=anti_repeat))
    # Cascade groups read switches again where a sequence remembers: no sequence is the same as they are.
    told = (a for a in made if a.implementation and a.target != "chart")
    return (artefact for artefact in told if "cascade" not in artefact.name)


CASES = [
    pytest.param(stem, artefact, anti_repeat, id=f"{stem} {artefact.name}{' anti-repeat' * anti_repeat}")
    for stem in SMALL
    for anti_repeat in (False, True)
    for artefact in printed(stem, anti_repeat=anti_repeat)
]


@pytest.mark.parametrize(("stem", "artefact", "anti_repeat"), CASES)
def test_is_told_as_something_that_is_the_same(stem: str, artefact: Artefact, anti_repeat: bool) -> None:
    """Without the anti-repeat, a one-shot that STOP resets starts anew while START is held, and there is no word for
    that: the only arrangement that may need a careful operator. Nor is there one for a time limit, which needs a
    switch, on a stroke that the pulse ends."""
    machine = example(stem).machine
    retold = retell(read_back(artefact, machine), machine)
    assert retold.proof is not None
    if "one-shot" in artefact.name and (not anti_repeat or stem == "hide-embossing"):
        assert retold.proof.standing is Standing.SAME_ONLY_IF
    else:
        assert retold.proof.standing is Standing.SAME, retold.text
    # TR := CR, LS1: the timer of an on-delay dwell is reset when its switch lets go.
    assert len(retold.notes) == ("on-delay" in artefact.name)
    assert all("begins anew if LS1 lets go" in told for told in retold.notes)
    assert_canonical(retold)


def assert_canonical(retold: Retold) -> None:
    assert retold.understood is not None
    assert not retold.understood.said(Severity.FAULT)
    assert format_text(retold.understood.source) == (retold.text, ())


@pytest.mark.parametrize("stem", SMALL)
def test_the_runs_agree_with_the_proof(stem: str) -> None:
    """The check by runs shares nothing with the search over all timings but the simulator's reactions."""
    machine = example(stem).machine
    artefact = next(a for a in printed(stem, anti_repeat=True) if "structured" in a.target)
    original = read_back(artefact, machine)
    understood = retell(original, machine).understood
    assert understood is not None
    chart = understood.chart
    assert chart is not None
    scenarios = make_scenarios(understood.machine, chart)
    verdict = check(chart_logic(chart), original, understood.machine, chart, scenarios)
    assert verdict.sound, verdict.lines


@pytest.mark.parametrize("stem", ALL)
def test_the_sequence_itself_comes_back(stem: str) -> None:
    """Told from its own chart, a sequence has the steps, the times, the limits and the rules it was written with."""
    original = example(stem)
    assert original.chart is not None
    retold = retell(chart_logic(original.chart), original.machine).understood
    assert retold is not None
    assert retold.chart is not None
    assert bare(retold.chart) == bare(original.chart)
    assert {bare_actuator(a) for a in retold.machine.actuators} == {
        bare_actuator(a) for a in original.machine.actuators
    }


def bare_actuator(actuator: Actuator) -> str:
    """An actuator but for where its times come from: those that were derived are stated afterwards, and the ratings
    they were derived from are gone."""
    times = {"extend_time": span(actuator.extend_time), "retract_time": span(actuator.retract_time)}
    return actuator.model_copy(update=times).model_dump_json(exclude={"ratings"})


def span(travel: Travel) -> Travel:
    return travel.model_copy(update={"usual_us": travel.least_us, "basis": TravelBasis.STATED})


def bare(chart: Chart) -> tuple[object, ...]:
    """A chart without words, names of faults and order: what it does."""
    steps = {(s.name, s.initial, frozenset(a.output for a in s.actions), bool(s.fault)) for s in chart.steps}
    moves = {(t.sources, t.targets, ordered(t.condition)) for t in chart.transitions}
    return steps, moves, None if chart.forcing is None else ordered(chart.forcing.condition)


def ordered(condition: Condition) -> str:
    """A condition as text, the parts of every "and" and "or" in order."""
    match condition:
        case And(of=parts):
            return f"({' and '.join(sorted(map(ordered, parts)))})"
        case Or(of=parts):
            return f"({' or '.join(sorted(map(ordered, parts)))})"
        case Not(of=of):
            return f"not {ordered(of)}"
        case Sustained(of=of, time_us=time_us):
            return f"{ordered(of)} for {time_us}"
        case _:
            return condition.model_dump_json()
