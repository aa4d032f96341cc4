"""Any program that a machine can run has a walk-through, of its sequence and of every circuit printed of it."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings

from compiler.logic import Logic
from compiler.understand import understand
from grammar.sequence import tree
from grammar.sequence.write import write
from grammar.source import Source
from targets.build import emit_all, read_back
from targets.target import Options
from targets.walkthrough import as_text, walk_through
from tests.strategies_program import working_programs


@settings(max_examples=4, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(working_programs(depth=1))
def test_any_program_is_told(program: tree.Program) -> None:
    understood = understand(Source("a program", write(program)))
    if understood.chart is None:
        return
    made, _ = emit_all(understood, Options())
    logics: list[Logic | None] = [None]
    logics += [read_back(a, understood.machine) for a in made if a.implementation and a.file.endswith(".rungs")]
    for logic in logics:
        told = walk_through(understood.machine, understood.chart, logic)
        assert max(map(len, as_text(told).splitlines())) <= 80
        assert told.sections[0].title == "The cycle"
        assert told.sections[0].passages
