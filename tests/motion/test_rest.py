"""A chart ends soon after everything has come to rest, and everything that happened is in it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given

from compiler.simulation.rest import until_rest
from compiler.simulation.run import Run
from tests.motion.runs import EXAMPLES, any_runs, example

_BUNG = next(p for p in EXAMPLES if p.stem == "bung-press")


def last(run: Run) -> int:
    return max([*(c.at_us for c in run.changes), *(m.at_us for m in run.moves)])


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_cycle_is_drawn_until_a_twentieth_past_its_last_change(path: Path) -> None:
    """All but what the world has to take away is as it was, so that there is no more to be seen."""
    run = example(path).run
    drawn = until_rest(run)
    assert drawn.changes == run.changes
    assert drawn.ended_us == pytest.approx(min(last(run) * 1.05, run.ended_us), abs=1)


@pytest.mark.parametrize("name", ["RAM jams and stays", "START held throughout"])
def test_what_does_not_come_back_is_drawn_longer(name: str) -> None:
    run = example(_BUNG, run=name).run
    drawn = until_rest(run)
    left = [m for m in run.moves if m.at_us == last(run)]
    if name.startswith("RAM"):
        assert left
        assert drawn.ended_us == last(run) + last(run) // 5
    else:
        assert last(run) < drawn.ended_us <= run.ended_us


def test_a_rod_on_its_way_is_drawn_to_the_end_of_the_run() -> None:
    run = example(_BUNG).run
    moved = next(m.at_us for m in run.moves if m.way)
    cut = run.model_copy(
        update={
            "changes": tuple(c for c in run.changes if c.at_us <= moved),
            "moves": tuple(m for m in run.moves if m.at_us <= moved),
            "ended_us": moved + 2_000_000,
        }
    )
    assert until_rest(cut) == cut


@given(run=any_runs())
def test_no_change_is_left_out_and_nothing_is_made_up(run: Run) -> None:
    drawn = until_rest(run)
    assert drawn.changes == run.changes
    assert last(run) <= drawn.ended_us <= run.ended_us
    assert until_rest(run, told=[run.ended_us]).ended_us == run.ended_us
