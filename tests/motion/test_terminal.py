"""Motion charts on the terminal: what they say is so, and no line is too long."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner

from compiler.simulation.timeline import timeline
from targets.command_line import main
from targets.motion import motion_step_text, motion_time_text
from tests.motion.runs import EXAMPLES, example, program, ran
from tests.motion.test_charts import cycle

_LARGE = EXAMPLES[0].parent / "large" / "tray-transfer.seq"
_BUNG = next(p for p in EXAMPLES if p.stem == "bung-press")


def rows(text: str) -> list[tuple[str, str]]:
    return [(line[:12].strip(), line[13:]) for line in text.splitlines()]


@pytest.mark.parametrize(
    ("letters", "bands"),
    [
        ("A+ B+ B- A-", {"A": [0, 1, 1, 1, 0], "B": [0, 0, 1, 0, 0]}),
        (
            "A+ B+ C+ A- B- C-",
            {"A": [0, 1, 1, 1, 0, 0, 0], "B": [0, 0, 1, 1, 1, 0, 0], "C": [0, 0, 0, 1, 1, 1, 0]},
        ),
    ],
)
def test_the_textbook_sequences_rise_and_fall_step_by_step(letters: str, bands: dict[str, list[int]]) -> None:
    """VDI 3260, from teaching texts; worked out by hand from the letters. Level where a rod stands, rising or falling
    from end to end of a step where it moves."""
    made = ran(program(cycle(letters)))
    drawn = dict(rows(motion_step_text(made.run, made.machine, why=made.why)))
    boundaries = [drawn["step"].index(str(k + 1)) for k in range(len(letters.split()))]
    wide = boundaries[1] - boundaries[0]
    assert boundaries == [k * wide for k in range(len(boundaries))]
    for name, levels in bands.items():
        for k, (before, after) in enumerate(pairwise(levels)):
            cells = drawn[name][k * wide : (k + 1) * wide]
            heights = ["▁▂▃▄▅▆▇█".index(c) for c in cells]
            assert heights == sorted(heights, reverse=after < before)
            assert (heights[0] < 4, heights[-1] < 4) == (not before, not after)
    assert drawn["because of"].split() == ["START", *(f"{m[0]}{int(m[1] == '+')}" for m in letters.split()[:-1])]


@pytest.mark.parametrize("width", [40, 80])
@pytest.mark.parametrize("path", [*EXAMPLES, _LARGE], ids=lambda path: path.stem)
def test_every_example_fits_and_names_its_switches(path: Path, width: int) -> None:
    made = example(path)
    moved = min((m.at_us for m in made.run.moves if m.way), default=0)
    owned = {s.name for a in made.machine.actuators for s in (*a.limit_switches, *a.pressure_switches)}
    makes = {c.signal for c in made.run.changes if c.on and c.at_us > moved and c.signal in owned}
    for text in (
        motion_step_text(made.run, made.machine, why=made.why, width=width),
        motion_time_text(made.run, made.machine, width=width),
    ):
        assert max(map(len, text.splitlines())) <= width
        assert text == "\n".join(line.rstrip() for line in text.splitlines()) + "\n"
        assert {a.name for a in made.machine.actuators} <= {label for label, _ in rows(text)}
        if width == 80:
            assert makes <= set(text.replace("…", " ").split())


@pytest.mark.parametrize("kind", ["timing", "motion-step", "motion-time"])
def test_without_a_file_the_command_draws_on_the_terminal(kind: str) -> None:
    result = CliRunner().invoke(main, ["chart", str(_BUNG), "--kind", kind])
    assert result.exit_code == 0, result.output
    assert "RAM" in result.output
    assert max(map(len, result.output.splitlines())) <= 80


def test_only_what_is_chosen_is_drawn_on_the_terminal() -> None:
    result = CliRunner().invoke(main, ["chart", str(_BUNG), "--signal", "SOL1", "--signal", "RAM"])
    assert result.exit_code == 0, result.output
    assert [label for label, drawing in rows(result.output) if drawing[:1] in ("▁", "▔")] == ["RAM", "SOL1"]


def test_long_names_that_differ_at_their_end_can_be_told_from_one_another() -> None:
    words = cycle("A+ B+ B- A-").replace("A1", "PARTS_PRESENT_AT_INFEED_1").replace("B1", "PARTS_PRESENT_AT_INFEED_2")
    made = ran(program(words))
    for text in (motion_step_text(made.run, made.machine), timeline(made.run, made.machine)):
        assert max(map(len, text.splitlines())) <= 80
    labels = [label for label, _ in rows(timeline(made.run, made.machine))]
    assert {"PARTS_…EED_1", "PARTS_…EED_2"} <= set(labels)


def test_each_station_has_a_row_for_its_steps_on_the_terminal() -> None:
    """In the second row of LOADER a branch that works beside the first: S4 while it is in S1 to S3."""
    made = example(_LARGE)
    drawn = [(label, drawing) for label, drawing in rows(timeline(made.run, made.machine, chart=made.chart))]
    lanes = [drawing for label, drawing in drawn if label == "LOADER"]
    assert len(lanes) == 2
    assert "│S5" in lanes[0]
    assert [step.strip() for step in lanes[1].split("│") if step.strip()] == ["S4", "S9"]
    assert sum(label == "PRESSER" for label, _ in drawn) == 1
    assert not [label for label, _ in drawn if label.startswith(("LOADER_", "PRESSER_"))]
