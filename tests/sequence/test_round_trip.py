"""What is written reads back to the same tree, and writing again changes nothing (the project's own promise)."""

from __future__ import annotations

import re

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from grammar.sequence import tree
from grammar.sequence.judge import every
from grammar.sequence.read import read
from grammar.sequence.write import format_text, write
from grammar.source import Source
from tests.strategies_program import programs, quantities, sensible_programs, with_comments, working_programs

_SLOW = settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def _read(text: str) -> tree.Program:
    reading = read(Source("<test>", text))
    assert reading.sound, (text, reading.diagnostics)
    assert not reading.diagnostics, (text, reading.diagnostics)
    return reading.tree


@_SLOW
@given(programs())
def test_what_is_written_reads_back(program: tree.Program) -> None:
    text = write(program)
    again = _read(text)
    assert again == program
    assert write(again) == text


@_SLOW
@given(working_programs())
def test_working_programs_are_programs(program: tree.Program) -> None:
    assert _read(write(program)) == program


@_SLOW
@given(sensible_programs())
def test_sensible_programs_are_programs(program: tree.Program) -> None:
    assert _read(write(program)) == program


def _comments(program: tree.Program) -> list[tree.Comments]:
    return [n.comments for n in every(program) if isinstance(n, tree.Line)]


@_SLOW
@given(programs().flatmap(with_comments))
def test_comments_survive_where_they_stand(program: tree.Program) -> None:
    again = _read(write(program))
    assert again == program
    assert _comments(again) == _comments(program)
    assert again.comments_below == program.comments_below


@_SLOW
@given(quantities())
def test_every_quantity_comes_back_as_written(quantity: tree.Quantity) -> None:
    program = tree.Program((tree.Cycle(None, (tree.CycleStep((tree.Wait("hold"),), None, quantity),)),))
    assert _read(write(program)) == program


@_SLOW
@given(programs(), st.data())
def test_letter_case_blanks_and_joined_clauses_change_nothing(program: tree.Program, data: st.DataObject) -> None:
    """Tidy text made untidy in ways that mean nothing formats back to the tidy text."""
    lines = []
    columns, mark = [0], data.draw(st.sampled_from(" \t"))
    for line in write(program).split("\n"):
        depth = (len(line) - len(line.lstrip(" "))) // 4
        line = line.lstrip(" ")
        if line:  # each block may be indented by as much as it likes
            del columns[depth + 1 :]
            if depth == len(columns):
                columns.append(columns[-1] + data.draw(st.integers(1, 5)))
        choice = data.draw(st.integers(0, 3)) if '"' not in line else 0
        if choice == 1:
            line = line.replace(" ", "  ")
        elif choice == 2:
            line = line.replace("cycle", "CYCLE").replace("extend ", "Advance ").replace("until", "UNTIL")
        elif choice == 3:
            line = re.sub("([0-9]) s$", "\\1s", line.replace("is made", "made")) + "  "
        lines.append(mark * columns[depth] + line if line else "")
    text, _ = format_text(Source("<test>", "\n".join(lines)))
    assert text == write(program)
