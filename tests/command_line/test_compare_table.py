"""``rungwright compare FILE``: every relay arrangement of a sequence in one table."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from compiler.chart_logic import chart_logic
from compiler.logic import Logic
from compiler.understand import understand
from grammar.source import Source
from targets.command_line import main
from targets.manners import Manners, manners, occasions
from targets.relay import TARGET
from targets.target import CAUTION
from tests.command_line.press import PRESS
from tests.whole.programs import example

SEALED = """\
timer TR1, on-delay 4 s
rung: {start}, {stop}TR1 NCTO, feeds CR1
rung: CR1, LS1, feeds TR1
rung: CR1, feeds SOL1
"""


def _file(folder: Path) -> str:
    path = folder / "press.seq"
    path.write_text(PRESS, encoding="utf-8")
    return str(path)


def test_tabulates_what_fits_and_says_why_the_rest_does_not(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["compare", _file(tmp_path)])
    assert result.exit_code == 0, result.output
    # Counted by hand in the rungs above: the on-delay dwell has one relay with a seal-in and two more contacts.
    assert any(line.split()[:6] == ["on-delay", "dwell", "1", "1", "4", "3"] for line in result.output.splitlines())
    assert "cascade groups: the valve of RAM does not stay where it was put" in " ".join(result.output.split())
    assert CAUTION.split(":")[0] in result.output
    assert max(map(len, result.output.splitlines())) <= 80


def test_the_same_as_json(tmp_path: Path) -> None:
    report = json.loads(CliRunner().invoke(main, ["compare", _file(tmp_path), "--json", "--anti-repeat"]).output)
    rows = {row["name"]: row for row in report["arrangements"]}
    assert rows["one-hot chain"]["verdict"]["standing"] == "same"
    assert rows["step chain"]["manners"]["held"] == report["as written"]["held"] == "one cycle"
    assert {"cascade groups"} <= {refusal["name"].removesuffix(" rungs") for refusal in report["do not fit"]}


def test_poles_are_kept_to(tmp_path: Path) -> None:
    words = ["compare", _file(tmp_path), "--json", "--poles", "3"]
    report = json.loads(CliRunner().invoke(main, words).output)
    assert max(row["poles"] for row in report["arrangements"]) == 3
    assert {row["verdict"]["standing"] for row in report["arrangements"]} <= {"same", "same only if"}


def test_manners_tell_a_circuit_that_goes_on_from_one_that_stops() -> None:
    understood = understand(Source("press.seq", PRESS))
    assert understood.chart is not None
    machine = understood.machine
    met = occasions(machine, understood.chart)

    def behaves(logic: Logic) -> Manners:
        return manners(machine, logic, met)

    def sealed(*, start: str, stop: str) -> Manners:
        text = SEALED.format(start=start, stop=stop)
        return behaves(TARGET.read(text, "typed.rungs", machine))

    written = behaves(chart_logic(understood.chart))
    assert written == Manners("one cycle", "all off, then rests", "rests")
    # Its timer drops the relay out at the end of the hold, and START, still down, picks it up at once.
    assert sealed(start="START or CR1", stop="STOP NC, ") == Manners("SOL1 stays on", "all off, then rests", "rests")
    assert sealed(start="(START and LS2) or CR1", stop="STOP NC, ").held == "cycle after cycle"
    assert sealed(start="START or CR1", stop="").stopped.startswith("SOL1 on")
    # Without START in it, the cycle begins by itself as soon as the supply is back.
    assert sealed(start="LS2 or CR1", stop="STOP NC, ").supply == "SOL1 on"


def test_a_stop_that_leads_home_tells_what_it_sends() -> None:
    """STOP falls into the first stroke, FEED's: all else is home, so Y2 alone comes on, and goes off at home."""
    punch = example("tag-punch")
    assert punch.chart is not None
    found = manners(punch.machine, chart_logic(punch.chart), occasions(punch.machine, punch.chart))
    assert found.stopped == "Y2 on, then rests"
