"""Random programs through every arrangement and the structured text: no difference that was not announced.

Each program is judged as ``build`` judges it, and then again in runs made from another seed, which the report
never saw. A difference there that the artefact did not announce is a fault of Rungwright.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from compiler.chart_logic import chart_logic
from compiler.checking.check import check
from compiler.checking.scenarios import make_scenarios
from compiler.understand import understand
from grammar.sequence.tree import Program
from grammar.sequence.write import write
from grammar.source import Source
from targets.build import emit_all, read_back
from targets.target import Options
from tests.strategies_program import sensible_programs

# A failing program is shown as it was found: making it smaller would take far longer than finding it.
PHASES = [Phase.explicit, Phase.reuse, Phase.generate]
QUIET = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]


def look(program: Program, seed: int, anti_repeat: bool) -> None:
    understood = understand(Source("random", write(program)))
    if understood.chart is None:
        return
    sequence = chart_logic(understood.chart)
    made, _ = emit_all(understood, Options(anti_repeat=anti_repeat))
    runs = make_scenarios(understood.machine, understood.chart, seed=seed)
    for artefact in (a for a in made if a.implementation):
        logic = read_back(artefact, understood.machine)
        verdict = check(sequence, logic, understood.machine, understood.chart, runs, announced=artefact.announces)
        assert verdict.sound, "\n".join((write(program), artefact.name, *verdict.lines))


@given(sensible_programs(), st.integers(2, 1_000_000), st.booleans())
@settings(max_examples=6, derandomize=True, deadline=None, phases=PHASES, suppress_health_check=QUIET)
def test_no_difference_is_hidden(program: Program, seed: int, anti_repeat: bool) -> None:
    look(program, seed, anti_repeat)


@pytest.mark.campaign
@given(sensible_programs(), st.integers(2, 1_000_000), st.booleans())
@settings(max_examples=1500, deadline=None, phases=PHASES, suppress_health_check=QUIET)
def test_no_difference_is_hidden_at_length(program: Program, seed: int, anti_repeat: bool) -> None:
    look(program, seed, anti_repeat)
