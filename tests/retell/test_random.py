"""Random programs, through relays and structured text, told in words again: the same, or an honest reason why not."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import HealthCheck, Phase, assume, given, note, seed, settings

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.checking.check import check
from compiler.checking.operating import operate
from compiler.checking.scenarios import make_scenarios
from compiler.circuit import circuit_logic
from compiler.logic import Logic
from compiler.machine import Actuator, End, LimitSwitch, Machine, Medium, Travel, TravelBasis, Valve, ValveKind
from compiler.proof.verdict import Standing
from compiler.retell.retell import retell
from compiler.shape import shape_of
from compiler.simulation.bench import wire
from compiler.simulation.run import Swiftness, stroke_times
from compiler.understand import Understood, understand
from grammar.diagnostic import Severity
from grammar.rungs.tree import Circuit
from grammar.sequence import tree
from grammar.sequence.write import write
from grammar.source import Source
from targets import relay, structured_text
from targets.target import Artefact, Options
from tests.relay.strategies import MACHINE, circuits
from tests.strategies_program import sensible_programs

SUPPRESSED = [HealthCheck.filter_too_much, HealthCheck.too_slow]
KINDS = ("step chain", "structured text")


def implemented(understood: Understood, kind: str) -> Logic | None:
    """What an implementation of the program makes of it once printed; None where it does not fit."""
    assert understood.chart is not None
    machine, chart = understood.machine, understood.chart
    if kind == "step chain":
        options, target = Options(anti_repeat=True, arrangements=("step-chain",)), relay.TARGET
        made = next(iter(relay.TARGET.emit(machine, chart, options=options)))
        return target.read(made.text, made.file, machine) if isinstance(made, Artefact) else None
    made = next(iter(structured_text.TARGET.emit(machine, chart, options=Options())))
    return structured_text.TARGET.read(made.text, made.file, machine) if isinstance(made, Artefact) else None


def can_be_run(machine: Machine, chart: Chart) -> bool:
    """Whether a careful operator brings a machine with usual strokes through a cycle without a fault."""
    usual = stroke_times(machine, Swiftness.USUAL, Swiftness.USUAL)
    operated = operate(machine, chart, wire(machine, chart_logic(chart)), strokes=usual)
    shape, steps = shape_of(chart), [entry.step for entry in operated.entries]
    return operated.cycles >= 1 and bool(steps) and steps[-1] in shape.rest and not set(steps) & shape.fault


@settings(max_examples=12, deadline=None, suppress_health_check=SUPPRESSED, phases=(Phase.generate,))
@given(sensible_programs())
def test_what_is_claimed_is_true(program: tree.Program) -> None:
    """Where the proof says same, no run of the check by simulation shows a difference."""
    original = understand(Source("original", write(program)))
    assume(original.chart is not None)
    logic = implemented(original, "structured text")
    assert logic is not None
    retold = retell(logic, original.machine)
    if retold.proof is None:
        assert retold.notes[0].startswith("words do not suffice: ")
        return
    understood = retold.understood
    assert understood is not None
    assert not understood.said(Severity.FAULT)
    chart = understood.chart
    assert chart is not None
    note(retold.text)
    if retold.proof.standing is Standing.SAME:
        scenarios = make_scenarios(understood.machine, chart)[:60]
        verdict = check(chart_logic(chart), logic, understood.machine, chart, scenarios)
        switches = [found for found in verdict.found if "switch" not in found.line]  # the proof takes them to work
        assert not switches, verdict.lines


@pytest.mark.parametrize("kind", KINDS)
def test_most_programs_that_can_be_run_come_back_the_same(kind: str) -> None:
    """Four in five; the others wait for what holds already, so that one trial run does not show it."""
    standings: Counter[str] = Counter()

    @seed(4)
    @settings(
        max_examples=12, deadline=None, suppress_health_check=SUPPRESSED, phases=(Phase.generate,), database=None
    )
    @given(sensible_programs())
    def tell(program: tree.Program) -> None:
        original = understand(Source("original", write(program)))
        assume(original.chart is not None)
        assert original.chart is not None
        assume(can_be_run(original.machine, original.chart))
        logic = implemented(original, kind)
        if logic is not None:
            proof = retell(logic, original.machine).proof
            standings["" if proof is None else str(proof.standing)] += 1

    tell()
    assert standings["same"] >= 0.8 * standings.total() > 0, standings


RAM = Actuator(
    name="RAM",
    medium=Medium.HYDRAULIC,
    stroke_um=100_000,
    valve=Valve(kind=ValveKind.SPRING_RETURN, extend="SOL1"),
    extend_time=Travel(least_us=1_000_000, usual_us=1_500_000, greatest_us=2_000_000, basis=TravelBasis.STATED),
    retract_time=Travel(least_us=1_000_000, usual_us=1_000_000, greatest_us=1_000_000, basis=TravelBasis.STATED),
    limit_switches=(LimitSwitch(name="LS1", at_um=100_000, reset_um=1_000, toward=End.END),),
)
ANY_MACHINE = MACHINE.model_copy(update={"actuators": (RAM,)})


@settings(max_examples=40, deadline=None, suppress_health_check=SUPPRESSED)
@given(circuits())
def test_any_circuit_is_told_or_refused(circuit: Circuit) -> None:
    """Whatever the relays do, chatter and all; and names that are words of the sequence language are no reason to
    raise either."""
    retold = retell(circuit_logic(circuit, ANY_MACHINE), ANY_MACHINE)
    if retold.proof is None:
        assert retold.notes[0].startswith("words do not suffice: ")
    else:
        assert retold.understood is not None
        assert not retold.understood.said(Severity.FAULT)
