"""The report of sizes: what it says against worked examples, in both systems, as text and as JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from targets.command_line import main
from targets.size_report import digits
from targets.target import CAUTION

SIZED = Path(__file__).parents[2] / "examples/bale-compactor.seq"
# The worked example of the thick rod, regenerative: 80/56 mm, 400 mm, 40 L/min, 100 bar.
THICK = """
hydraulic cylinder P
    bore 80 mm, rod 56 mm, stroke 400 mm, flow 40 L/min, pressure 100 bar
    single solenoid valve Y1, spring return
    regenerative solenoid Y2
    limit switch LS1 at end, LS2 at home
pushbutton START
cycle
    when START is pressed
    extend P until at-end
    retract P until at-home
"""


def run(*words: str, code: int = 0) -> str:
    done = CliRunner().invoke(main, ["size", *words])
    assert done.exit_code == code, done.output
    return done.output


def figures(*words: str) -> dict[tuple[str, str], dict[str, Any]]:
    made = json.loads(run(*words, "--json"))
    return {(part["title"].split(",")[0], f["name"]): f for part in made["parts"] for f in part["figures"]}


def test_the_fixture_says_what_the_formulas_do() -> None:
    """Worked out by hand from the lines of the program; the pump is the worked example in SI units."""
    found = figures(str(SIZED))
    wanted = [
        (("RAM", "force out"), 80.425, "kN"),  # 160 bar on 5026.5 mm2
        (("RAM", "speed out"), 66.315, "mm/s"),  # 20 L/min over that
        (("RAM", "time out"), 6.0719, "s"),  # 400 mm at that speed, and 40 ms
        (("RAM", "load pressure out"), 119.37, "bar"),  # 60 kN
        (("RAM", "taken up out"), 68.042, "kN"),  # 60 kN and a tenth of 80.425
        (("RAM", "rod side, at most"), 234.06, "bar"),  # 160 x 6400 / (6400 - 2025)
        (("LIFT", "speed out"), 187.08, "mm/s"),  # 22.04 L/min over 1963.5 mm2
        (("LIFT", "load pressure out"), 14.983, "bar"),  # 300 kg
        (("GATE", "force out"), 1178.1, "N"),  # the worked example of an air cylinder
        (("GATE", "compression"), 6.92154, ""),
        # 5.00127 L without tubes; each tube is 56.55 cm3 and takes 5.92154 times that
        (("GATE", "free air, both ways"), 5.00127 + 2 * 0.0565487 * 5.92154, "L"),
        (("Hydraulic pump", "flow delivered"), 22.04, "L/min"),
        (("Hydraulic pump", "power in the flow"), 5.8773, "kW"),
        (("Hydraulic pump", "power at the shaft"), 6.9145, "kW"),
        (("Hydraulic pump", "ideal torque"), 40.744, "Nm"),
        (("Hydraulic pump", "standby, compensated"), 0.32, "kW"),  # 160 x 1.2 / 600
        (("Hydraulic pump", "standby, fixed pump"), 5.8773, "kW"),
    ]
    for key, value, unit in wanted:
        assert found[key]["value"] == pytest.approx(value, rel=2e-4), key
        assert found[key]["unit"] == unit, key
    force = found[("RAM", "force out")]
    assert force["least"] == pytest.approx(0.95 * force["value"])
    assert force["greatest"] == pytest.approx(1.05 * force["value"])


def test_the_cycle_names_its_path() -> None:
    made = json.loads(run(str(SIZED), "--json"))
    (cycle,) = (part for part in made["parts"] if part["path"])
    assert [leg["name"] for leg in cycle["path"]] == [
        "extend LIFT until at-end",  # 1.4 s against the gate's 1 s
        "repeat 2 times: 1 pass more of what follows",
        "extend RAM until at-end",
        "hold 2 s",
        "retract RAM until at-home",
        "retract LIFT until at-home",
        "retract GATE until at-home",
    ]
    assert sum(leg["value"] for leg in cycle["path"]) == pytest.approx(cycle["figures"][0]["value"], abs=1e-5)


def test_a_regenerative_stroke_is_sized_as_in_the_worked_example(tmp_path: Path) -> None:
    file = tmp_path / "thick.seq"
    file.write_text(THICK, encoding="utf-8")
    found = figures(str(file))
    for name, value in (("quick speed out", 270.672), ("quick time out", 1.4778), ("quick force out", 24.630),
                        ("quick inflow", 81.633), ("time out", 3.0159), ("time back", 1.5381)):  # fmt: skip
        assert found[("P", name)]["value"] == pytest.approx(value, rel=1e-4), name


def test_both_systems_say_the_same() -> None:
    """1 lbf is 4.4482216 N, 1 psi 6.894757 kPa, 1 gpm 3.785412 L/min, 1 hp 745.6999 W, 1 in 25.4 mm."""
    si, us = figures(str(SIZED), "--si"), figures(str(SIZED), "--us")
    factors = {"lbf": 4.4482216 / 1000, "psi": 0.06894757, "gpm": 3.785412, "hp": 0.7456999, "in/s": 25.4, "s": 1,
               "in2": 645.16, "ft3": 28.31685, "cfm": 28.31685, "lbf in": 0.1129848, "": 1}  # fmt: skip
    assert set(si) == set(us)
    for key, figure in si.items():
        factor = factors[us[key]["unit"]] * (1000 if figure["unit"] == "N" else 1)
        assert figure["value"] == pytest.approx(us[key]["value"] * factor, rel=1e-6), key


def test_the_report_fits_80_columns_and_carries_the_caution() -> None:
    for system in ("--si", "--us"):
        text = run(str(SIZED), system)
        report = text[: text.index("licensed practice.")]
        assert max(map(len, report.split("\n"))) <= 80
        assert " ".join(CAUTION.split()) in " ".join(text.split())
        assert "RW354" in text  # what is questionable about sizes follows
    assert json.loads(run(str(SIZED), "--json"))["caution"] == CAUTION


def test_every_number_says_how_it_was_got_and_whence() -> None:
    assert all(f["how"] and f["source"] for f in figures(str(SIZED)).values())


def test_little_is_stated_and_little_is_said() -> None:
    text = run("--text", "extend until at-end, hold 30 s, retract")
    assert "Its bore is not stated" in text
    assert "assumed" in text
    assert "34 s" in text  # the cycle: 2 s, 30 s, 2 s


def test_bad_input_is_told_and_not_traced() -> None:
    assert "RW104" in run("--text", "@@", code=1)
    assert json.loads(run("--text", "@@", "--json", code=1))[0]["code"] == "RW104"
    assert "not both" in run(str(SIZED), "--us", "--si", code=2)


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0"), (1963.495, "1963"), (19634.95, "19630"), (0.28, "0.28"), (1.4569, "1.457"), (9.9996, "10"),
     (-1.864, "-1.864"), (0.000123456, "0.0001235"), (2.0, "2")],
)  # fmt: skip
def test_numbers_have_four_digits(value: float, text: str) -> None:
    assert digits(value) == text
