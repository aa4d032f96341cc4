"""The commands as a person uses them: what they print, what they write, and their exit codes."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from grammar.rungs import write
from targets.command_line import main
from targets.relay.emit import ARRANGEMENTS
from targets.target import CAUTION

ONE_LINE = "extend until at-end, hold 30 s, retract"


def run(*words: str, given: bytes | None = None) -> Result:
    result = CliRunner().invoke(main, list(words), input=given)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def test_alone_it_says_what_it_is_and_what_to_try() -> None:
    result = run()
    assert result.exit_code == 0
    assert result.output.count("    rungwright ") == 3
    assert "never a safety function" in result.output


def test_building_one_line_tells_everything_a_practitioner_needs() -> None:
    result = run("build", "--text", ONE_LINE)
    assert result.exit_code == 0
    for words in (
        "1. extend CYLINDER until LS1 is made",
        "on-delay dwell rungs (1 relay, 1 timer",
        "same only if the operator is careful (",
        "START is still held when STOP is let go",
        "same, whatever its inputs do",
        "STOP brings it home from everywhere",
        "a cycle takes 32 s to 38 s, undisturbed",
        "structured text",
        "Advice",
        "Caution: this is not a safety function.",
    ):
        assert words in result.output


def test_a_way_home_is_not_said_to_need_one_press_of_stop() -> None:
    """Pressed before the rod has let go of its home switch, STOP finds the way home over, and the memory valve sends
    the rod out; the next press brings it home."""
    program = (
        "pneumatic cylinder A\n    stroke 40 mm\n    double solenoid valve Y1 extends, Y2 retracts\n"
        "    limit switch B1 at end, B2 at home\npushbutton START, STOP NC\nhome when A is at-home\ncycle\n"
        "    when START is pressed\n    A+ A-\nwhen STOP is pressed, return home\n    retract A until at-home\n"
    )
    result = run("build", "--text", program, "--arrangement", "cascade")
    assert "STOP, pressed again where need be, brings it home from everywhere" in result.output


def test_a_step_that_no_run_stays_in_is_told() -> None:
    result = run("build", "--text", "extend until LS1 is made and LS1 is not made, retract")
    assert "No run stays in step S2" in result.output
    assert "No run stays" not in run("build", "--text", ONE_LINE).output


COUNTED = """\
machine "Peg counter"
pneumatic cylinder PUSHER
    stroke 50 mm, extends in 1 s to 2 s, retracts in 1 s to 2 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end, LS2 at home
pushbutton START, normally open
counter PEGS
cycle
    when START is pressed
    extend PUSHER until at-end
    retract PUSHER until at-home
    count PEGS
    if PEGS has reached 3
        clear PEGS
"""


def test_a_step_that_is_made_to_be_passed_is_no_step_that_was_not_checked(tmp_path: Path) -> None:
    """Nobody can stay where a cycle only counts or clears. A hold that no run comes to is told."""
    path = tmp_path / "pegs.seq"
    path.write_text(COUNTED, encoding="utf-8")
    result = run("build", str(path), "--quick")
    assert result.exit_code == 0, result.output
    assert "No run stays" not in result.output
    path.write_text(COUNTED.replace("reached 3", "reached 99").replace("clear", "hold 1 s, clear"), encoding="utf-8")
    told = " ".join(run("build", str(path), "--quick").output.split())
    assert 'No run stays in step S4 "hold 1 s": none comes to it, or it is left in the same instant' in told


def test_a_cycle_that_never_begins_is_no_success(tmp_path: Path) -> None:
    """Home asks for the rod where it does not stand: nothing differs, as nothing ever happens."""
    path = tmp_path / "bolt.seq"
    path.write_text(
        "hydraulic cylinder BOLT\n    double solenoid valve Y1 extends, Y2 retracts\n"
        "    limit switch LS1 at end, LS2 at home\n"
        "pushbutton START, STOP\nhome when BOLT is at-end\ncycle\n    retract BOLT\n    extend BOLT\n"
    )
    result = run("build", str(path))
    assert result.exit_code == 1
    assert "No cycle ever begins" in result.output
    path.write_text(path.read_text().replace("    double", "    normally extended\n    double"))
    assert "No cycle ever begins" not in run("build", str(path)).output


def test_what_must_never_be_is_told_and_exits_1_when_it_was() -> None:
    program = (
        "pushbutton START\npushbutton STOP, normally closed\nlamp A\nlamp B\ncycle\n    turn on A and wait 1 s\n"
    )
    kept = run("build", "-", given=(program + "    turn off A\nnever A and B\n").encode())
    assert (kept.exit_code, "never A and B: kept in every run" in kept.output) == (0, True)
    broken = run(
        "build", "-", given=(program + "    turn on B and wait 1 s\n    turn off A\nnever A and B\n").encode()
    )
    assert (broken.exit_code, "never A and B: broken at 1.5 s: " in broken.output) == (1, True)


def test_a_sequence_that_never_settles_is_no_success() -> None:
    """With START and X both actuated it goes round and round at one instant: nothing in it lasts."""
    program = (
        "sensor X\npushbutton START\npushbutton STOP, normally closed\nlamp A\ncycle\n    when START is held\n"
        "    turn on A and wait until X is made\n    turn off A and wait until X is made\n"
    )
    built = run("build", "-", given=program.encode())
    assert built.exit_code == 1
    assert "it never settles in some runs: S0" in built.output
    ran = run("build", "-", "--quick", given=program.encode())
    assert ran.exit_code == 1
    assert "never settles" in ran.output
    assert "that came to an end" in ran.output


def test_building_a_file_writes_every_artefact(tmp_path: Path) -> None:
    program = tmp_path / "press.seq"
    program.write_text(f'machine "Cork press"\n{ONE_LINE}\n', encoding="utf-8")
    out = tmp_path / "built"
    result = run("build", str(program), "-o", str(out))
    assert result.exit_code == 0
    made = sorted(p.name for p in out.iterdir() if not p.name.startswith("."))
    assert {"cork-press.st", "cork-press.chart.json", "cork-press-step-chain.rungs"} <= set(made)
    assert all(name in result.output for name in made)
    assert run("build", str(program), "-o", str(out)).exit_code == 0  # over its own files
    (out / "cork-press.st").write_text("edited", encoding="utf-8")
    refused = run("build", str(program), "-o", str(out))
    assert refused.exit_code == 2
    assert (out / "cork-press.st").read_text(encoding="utf-8") == "edited"


def test_faults_build_nothing_and_exit_1(tmp_path: Path) -> None:
    out = tmp_path / "built"
    result = run("build", "--text", "extnd until at-end, hold 3 mm", "-o", str(out))
    assert result.exit_code == 1
    assert "nothing was built (2 faults)" in result.output
    assert not out.exists()


def test_the_report_as_json() -> None:
    report = json.loads(run("build", "--text", ONE_LINE, "--json").output)
    verdicts = {a["name"]: a["verdict"]["standing"] for a in report["artefacts"] if a["implementation"]}
    assert verdicts["structured text"] == "same"
    assert verdicts["on-delay dwell rungs"] == "same only if"
    words = {a["name"]: a["words"] for a in report["artefacts"]}
    assert "hold 30 s" in words["on-delay dwell rungs"].values()
    assert {"hold 30 s", "retract"} <= set(words["structured text"].values())
    messages = json.loads(run("check", "--text", "extnd", "--json").output)
    assert (messages[0]["line"], messages[0]["column"], messages[0]["words"]) == (1, 1, "extnd")


def test_strict_counts_warnings_and_announced_differences() -> None:
    assert run("build", "--text", ONE_LINE, "--strict", "--arrangement", "on-delay").exit_code == 1
    assert run("check", "--text", "extend for 5 s, retract for 5 s").exit_code == 0
    assert run("check", "--text", "extend for 5 s, retract for 5 s", "--strict").exit_code == 1


def test_the_shortest_run_of_a_difference_is_shown() -> None:
    result = run("build", "--text", ONE_LINE, "--arrangement", "one-shot", "--differences")
    told = result.output.split("one-shot stroke rungs: when a stroke jams: ")[-1]
    assert "34.500 s" in told
    assert "they differ: SOL1 is off in the one-shot stroke rungs" in told
    ran = run("build", "--text", ONE_LINE, "--arrangement", "one-shot", "--differences", "--quick")
    assert "one-shot stroke rungs: when a stroke jams it differs at 34.5 s" in ran.output


def test_standard_input_and_one_artefact_shown() -> None:
    result = run("build", "-", "--arrangement", "on-delay", "--show", "rungs", given=ONE_LINE.encode())
    assert result.exit_code == 0
    assert "rung 1: START or CR1, STOP NC, TR1 NCTO, feeds CR1" in result.output


@pytest.mark.parametrize(
    "words",
    [
        ["build"],
        ["build", "nowhere.seq"],
        ["build", "--text", ONE_LINE, "also.seq"],
        ["explain", "RW999"],
        ["build", "--text", ONE_LINE, "--arrangement", "on-dealy"],
        ["simulate", "--text", ONE_LINE, "--of", "cam switch"],
        ["simulate", "--text", ONE_LINE, "--run", "no such run"],
        ["frobnicate"],
    ],
)
def test_what_cannot_be_carried_out_exits_2_with_a_reason(words: list[str]) -> None:
    result = run(*words)
    assert result.exit_code == 2
    assert result.output.strip()
    assert "Traceback" not in result.output


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\x00\x01\x02\xff" * 50,
        b"\xff\xfeh\x00",
        b"caf\xe9",
        b"a" * 10_000_000,
        b"(" * 5_000,
        b"\xef\xbb\xbf",
        b'"',
    ],
    ids=["empty", "binary", "utf-16", "latin", "10 MB", "nested", "mark only", "quote"],
)
def test_no_traceback_on_any_file(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "x.seq"
    path.write_bytes(data)
    for command in (["build"], ["check"], ["simulate"]):
        assert run(*command, str(path)).exit_code == 1
    assert run("format", str(path)).exit_code == (1 if data.strip(b"\xef\xbb\xbf") else 0)
    assert json.loads(run("check", "--json", str(path)).output)


def test_formatting_prints_checks_and_writes(tmp_path: Path) -> None:
    path = tmp_path / "a.seq"
    path.write_bytes(b"advance until at end , dwell 2 sec,return   # made by hand\r\n")
    assert run("format", str(path), "--check").exit_code == 1
    printed = run("format", str(path)).output
    assert "extend until at-end" in printed
    assert "# made by hand" in printed
    assert run("format", str(path), "--write").exit_code == 0
    assert path.read_text(encoding="utf-8") == printed
    assert run("format", str(path), "--check").exit_code == 0


def test_a_file_with_faults_is_not_formatted(tmp_path: Path) -> None:
    path = tmp_path / "a.seq"
    path.write_text("extnd\n", encoding="utf-8")
    assert run("format", str(path), "--write").exit_code == 1
    assert path.read_text(encoding="utf-8") == "extnd\n"


def test_the_starter_builds_cleanly_and_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "mine.seq"
    assert run("new", str(path)).exit_code == 0
    assert run("check", str(path), "--strict").exit_code == 0
    built = run("build", str(path), "--anti-repeat")
    assert built.exit_code == 0
    for arrangement in ("on-delay dwell", "off-delay dwell", "one-shot stroke", "step chain"):
        assert f"{arrangement} rungs (" in built.output
    before = path.read_bytes()
    assert run("new", str(path)).exit_code == 2
    assert path.read_bytes() == before


def test_runs_are_listed_shown_kept_and_replayed(tmp_path: Path) -> None:
    assert "START held throughout" in run("simulate", "--text", ONE_LINE, "--runs").output
    kept = tmp_path / "run.json"
    shown = run("simulate", "--text", ONE_LINE, "--of", "on-delay", "--run", "one cycle", "--save", str(kept))
    assert CAUTION in " ".join(shown.output.split())
    assert "START pressed → CR1 on → SOL1 on" in shown.output
    assert run("simulate", "--text", ONE_LINE, "--replay", str(kept)).output == shown.output
    other = run("simulate", "--text", ONE_LINE.replace("30", "31"), "--replay", str(kept))
    assert other.exit_code == 2
    assert "differently" in other.output


def test_every_code_is_explained() -> None:
    codes = [line.split()[0] for line in run("explain").output.splitlines() if line.startswith("RW")]
    assert len(codes) > 40
    for code in codes:
        assert "What to do:" in run("explain", code.lower()).output


def test_the_schema_is_published_and_fits_what_is_printed(tmp_path: Path) -> None:
    schema = json.loads(run("schema").output)
    assert set(schema["properties"]) == {"format", "caution", "machine", "chart"}


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_scripts(shell: str) -> None:
    assert "_RUNGWRIGHT_COMPLETE" in run("completion", shell).output


def test_no_colour_away_from_a_terminal() -> None:
    assert "\x1b" not in run("build", "--text", ONE_LINE).output


def test_start_up_imports_nothing_heavy() -> None:
    heavy = "{'lark', 'pint', 'pydantic', 'jinja2', 'rich'}"
    code = f"import sys, targets.command_line; print(sorted({heavy} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_same_text_gives_the_same_bytes_under_any_hash_seed(tmp_path: Path) -> None:
    example = Path(__file__).parents[2] / "examples" / "bung-press.seq"
    made = []
    for seed in ("1", "2"):
        out = tmp_path / seed
        command = [sys.executable, "-m", "targets", "build", str(example), "-o", str(out), "--json"]
        done = subprocess.run(
            command, capture_output=True, text=True, env={"PYTHONHASHSEED": seed, "PATH": ""}, check=True
        )
        report = json.loads(done.stdout)
        report.pop("written")
        made.append(({p.name: p.read_bytes() for p in out.iterdir()}, report))
    assert made[0] == made[1]


def test_a_kept_run_never_replaces_a_file_that_is_none(tmp_path: Path) -> None:
    program, kept = tmp_path / "press.seq", tmp_path / "run.json"
    program.write_text(ONE_LINE, encoding="utf-8")
    refused = run("simulate", str(program), "--save", str(program))
    assert (refused.exit_code, program.read_text(encoding="utf-8")) == (2, ONE_LINE)
    assert "choose another name" in refused.output
    assert run("simulate", str(program), "--save", str(kept)).exit_code == 0
    before = kept.read_bytes()
    assert run("simulate", str(program), "--run", "START held throughout", "--save", str(kept)).exit_code == 0
    assert kept.read_bytes() != before


def test_a_terminal_without_box_characters_gets_question_marks() -> None:
    plain = {"PATH": "/usr/bin:/bin", "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "LC_ALL": "C"}
    words = ["-m", "targets", "build", "--text", ONE_LINE, "--arrangement", "on-delay", "--show", "ladder"]
    shown = subprocess.run([sys.executable, *words], env=plain, capture_output=True, check=False, timeout=120)
    assert (shown.returncode, shown.stderr) == (0, b"")
    assert b"STOP  TR1" in shown.stdout


def test_format_says_why_a_file_cannot_be_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program = tmp_path / "press.seq"
    program.write_text("extend until at-end,retract", encoding="utf-8")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("targets.files.os.replace", full)
    refused = run("format", str(program), "--write")
    assert refused.exit_code == 2
    assert f"{program} cannot be written: No space left on device" in refused.output
    assert program.read_text(encoding="utf-8") == "extend until at-end,retract"


def test_rungs_that_cannot_be_read_back_are_told_and_never_a_traceback(monkeypatch: pytest.MonkeyPatch) -> None:
    """The emitter is broken on purpose: it leaves out the declaration of TR1, so that it is taken for a relay."""
    monkeypatch.setattr(
        "targets.relay.emit.write", lambda circuit: write(circuit).replace("timer TR1, on-delay 30 s\n", "")
    )
    built = run("build", "--text", ONE_LINE, "--arrangement", "on-delay")
    assert built.exit_code == 1
    assert "cannot be read back from its own text; do not use it" in built.output
    assert "the relay TR1 has no NCTO contact" in built.output
    for command in ("simulate", "chart"):
        driven = run(command, "--text", ONE_LINE, "--arrangement", "on-delay")
        assert driven.exit_code == 1
        assert "the relay TR1 has no NCTO contact" in driven.output


def test_the_help_of_build_names_every_arrangement() -> None:
    told = " ".join(run("build", "--help").output.split("--arrangement NAME")[1].split())
    assert all(arrangement.key in told for arrangement in ARRANGEMENTS)


def test_what_is_not_built_for_one_reason_is_told_once() -> None:
    told = " ".join(run("build", "--text", "extend A, extend B, retract B, retract A", "--quick").output.split())
    assert "on-delay dwell rungs, off-delay dwell rungs, one-shot stroke rungs: it fits one cylinder" in told
    assert told.count("it fits one cylinder") == 1


def test_the_help_tells_every_command_in_full() -> None:
    commands = run("--help").output.split("Commands:")[1]
    assert commands.count("\n  ") == len(main.commands)
    assert "..." not in commands


@pytest.mark.parametrize("width", ["44", "56", "60", "62", "80"])
def test_a_time_and_its_unit_stand_on_one_line(width: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", width)
    report = run("build", "--text", ONE_LINE).output.split("Not built")[0]
    assert not re.search(r"[0-9]\n +(?:s|ms|min)\b", report)
    assert "\u00a0" not in report


def test_an_explanation_ends_no_line_with_a_blank() -> None:
    lines = run("explain", "RW318").output.splitlines()
    assert not [line for line in lines if line != line.rstrip()]
