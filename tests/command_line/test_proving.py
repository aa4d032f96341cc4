"""The commands that prove: what they say and how they end. The press is our own."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from targets.command_line import main
from targets.target import CAUTION
from tests.command_line.press import PRESS

# Typed from a paper ladder: the dwell with a seal-in, and the same with the timer's contact in the wrong rung.
DWELL = """\
timer TR1, on-delay 4 s
rung 1: START or CR1, STOP NC, TR1 NCTO, feeds CR1
rung 2: CR1, LS1, feeds TR1
rung 3: CR1, feeds SOL1
"""
WRONG = """\
timer TR1, on-delay 4 s
rung 1: START or CR1, STOP NC, feeds CR1
rung 2: CR1, LS1, feeds TR1
rung 3: CR1, TR1 NCTO, feeds SOL1
"""
PROGRAM = """\
PROGRAM Dwell
VAR_INPUT START, STOP, LS1 : BOOL; END_VAR
VAR_OUTPUT SOL1 : BOOL; END_VAR
VAR Run : BOOL; Hold : TON; END_VAR
Run := (START OR Run) AND STOP AND NOT Hold.Q;
Hold(IN := Run AND LS1, PT := T#4s);
SOL1 := Run;
END_PROGRAM
"""


@pytest.fixture
def files(tmp_path: Path) -> Path:
    for name, text in (("press.seq", PRESS), ("dwell.rungs", DWELL), ("wrong.rungs", WRONG), ("dwell.st", PROGRAM)):
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "devices.seq").write_text(PRESS.split("cycle")[0], encoding="utf-8")
    return tmp_path


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def plain(output: str) -> str:
    """Without the folding of lines."""
    return " ".join(output.split())


def test_a_hand_written_circuit_is_proved_against_the_sequence(files: Path) -> None:
    result = run("prove", files / "dwell.rungs", files / "press.seq")
    told = plain(result.output)
    assert result.exit_code == 0
    assert "same only if the operator is careful" in told
    assert "START is still held when STOP is let go at 1.4 s: SOL1 comes on in dwell.rungs (RAM extends)" in told
    assert "▲ they differ" in result.output
    assert "START pressed → S1 “extend RAM until at-end” → SOL1 on" in result.output
    assert CAUTION in told
    assert run("prove", files / "dwell.rungs", files / "press.seq", "--strict").exit_code == 1


def test_a_wrong_circuit_differs_whatever_is_assumed(files: Path) -> None:
    """Held in by CR1 for ever, the ram goes out again as soon as its return lets the timer's contact close."""
    result = run("prove", files / "wrong.rungs", files / "press.seq", "--brief")
    assert result.exit_code == 1
    assert "differs, whatever is assumed" in plain(result.output)
    assert "The shortest of all runs is shown: every stroke time" in plain(result.output)
    assert "Proved" not in result.output
    assert "▲ they differ" not in result.output


def test_two_circuits_are_compared_without_any_sequence(files: Path) -> None:
    same = run("compare", files / "dwell.rungs", files / "dwell.st", "--machine", files / "devices.seq")
    assert same.exit_code == 0, same.output
    assert "same, whatever its inputs do" in plain(same.output)
    differs = run("compare", files / "dwell.rungs", files / "wrong.rungs", "--machine", files / "devices.seq")
    assert differs.exit_code == 1


def test_several_are_told_in_a_table(files: Path) -> None:
    result = run("prove", "on-delay", "one-shot", files / "wrong.rungs", files / "press.seq", "--brief")
    assert result.exit_code == 1
    table = result.output.split("beside the sequence")[0]
    assert all(word in table for word in ("verdict", "same only if", "differs", "wrong.rungs"))


def test_the_verdicts_come_as_json(files: Path) -> None:
    result = run("compare", files / "dwell.rungs", files / "press.seq", "--json")
    report = json.loads(result.output)
    verdict = report["verdicts"][0]
    assert (verdict["standing"], verdict["needs"]) == (
        "same only if",
        ["the operator is careful", "every switch works"],
    )
    assert verdict["differences"][0]["run"]["outcome"] == "the two differ"
    assert report["caution"] == CAUTION
    assert report["messages"] == []


def test_what_is_worth_knowing_of_a_text_is_in_the_json_too(files: Path) -> None:
    """TR1 NC opens as its coil comes on, so that nothing waits the four seconds."""
    (files / "hasty.rungs").write_text(DWELL.replace("NCTO", "NC"), encoding="utf-8")
    (message,) = json.loads(run("prove", files / "hasty.rungs", files / "press.seq", "--json").output)["messages"]
    assert (message["code"], message["line"], message["words"]) == ("RW429", 2, "TR1 NC")


def test_where_no_machine_was_needed_none_is_claimed(files: Path) -> None:
    told = plain(run("compare", files / "dwell.rungs", files / "dwell.st", "--machine", files / "devices.seq").output)
    assert "Proved whatever the inputs do, stuck switches included" in told
    assert "switches work" not in told
    mixed = run("compare", files / "dwell.rungs", files / "dwell.st", "on-delay", files / "press.seq", "--brief")
    assert "a switch that sticks. Assumed: one thing" in plain(mixed.output)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("compare", "dwell.rungs", "wrong.rungs"), "--machine FILE"),
        (("compare", "dwell.rungs", "--machine", "press.seq"), "give two implementations, or more"),
        (("prove", "no-such-thing", "press.seq"), "neither a file nor an arrangement no-such-thing"),
        (("prove", "-", "press.seq"), "standard input has no name that tells what it is"),
        (("prove", " ", "press.seq"), "neither a file nor an arrangement"),
        (("prove", "elay", "press.seq"), "neither a file nor an arrangement elay"),
        (("prove", "delay", "press.seq"), "delay may mean on-delay dwell rungs or off-delay dwell rungs"),
        (("prove", "no-such.rungs", "press.seq"), "there is no file no-such.rungs"),
        (("compare", "no-such.st", "dwell.st", "--machine", "devices.seq"), "there is no file no-such.st"),
        (("compare", "on-delay", "dwell.st", "--machine", "devices.seq"), "no cycle in devices.seq to print"),
        (("prove", "on-delay", "devices.seq"), "has no cycle, only devices; write one, or"),
        (("compare", "devices.seq", "dwell.rungs"), "give it as --machine devices.seq"),
        (("prove", "press.seq", "dwell.rungs"), "dwell.rungs is an implementation, no machine: the sequence file"),
        (("races", "press.seq", "dwell.rungs"), "the sequence file (.seq) comes last"),
        (("retell", "press.seq", "--machine", "dwell.st"), "--machine takes the sequence file (.seq)"),
        (("races", "dwell.st", "press.seq"), "is not a relay circuit"),
        (("races", "dwell.rungs", "press.seq", "--middle", "2"), "--pick-up, --drop-out and --middle together"),
        (
            ("races", "dwell.rungs", "press.seq", "--pick-up", "nan", "1", "--drop-out", "1", "2", "--middle", "inf"),
            "a relay's times are numbers of milliseconds",
        ),
    ],
)
def test_what_cannot_be_done_is_said_in_one_line(
    files: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], told: str
) -> None:
    monkeypatch.chdir(files)
    result = run(*words)
    assert result.exit_code == 2
    assert told in plain(result.output)


def test_faults_in_a_circuit_are_shown_with_their_words(files: Path) -> None:
    (files / "bad.rungs").write_text("rung 1: START or CR1, STOQ NC, feeds CR1\n", encoding="utf-8")
    result = run("prove", files / "bad.rungs", files / "press.seq")
    assert result.exit_code == 1
    assert "STOQ" in result.output
    assert "^^^^" in result.output


def test_relays_race_in_the_anti_repeat_unless_their_times_are_known(files: Path) -> None:
    """START drops the anti-repeat relay as it picks up CR1: free only if a relay changes over quicker than one drops
    out (common practice: 1 to 3 ms beside 3 to 15 ms)."""
    free = run("races", files / "dwell.rungs", files / "press.seq")
    assert free.exit_code == 0
    assert "free of critical races" in free.output
    races = run("races", "on-delay", files / "press.seq", "--anti-repeat")
    assert races.exit_code == 1
    assert "critical race when START is pressed" in races.output
    times = ("--pick-up", 5, 20, "--drop-out", 3, 15, "--middle", 2)
    assert run("races", "on-delay", files / "press.seq", "--anti-repeat", *times).exit_code == 0


def test_a_circuit_is_retold_and_the_words_are_proved(files: Path) -> None:
    out = files / "again.seq"
    result = run("retell", files / "dwell.rungs", "--machine", files / "devices.seq", "-o", out, "--brief")
    assert result.exit_code == 0, result.output
    told = out.read_text(encoding="utf-8")
    # The circuit starts again at once while START is held, home or not: said so, the words are the very same.
    assert all(words in told for words in ("when START is held", "extend RAM until at-end", "hold 4 s"))
    assert run("prove", files / "dwell.rungs", out, "--brief").exit_code == 0


def test_a_driver_that_never_settles_is_no_success(files: Path) -> None:
    (files / "buzzer.rungs").write_text("rung 1: CR1 NC, feeds CR1\nrung 2: CR1, feeds SOL1\n", encoding="utf-8")
    result = run("compare", files / "buzzer.rungs", files / "dwell.rungs", "--machine", files / "devices.seq")
    assert result.exit_code == 1
    assert "buzzer.rungs does not even settle as the supply comes on" in plain(result.output)
    assert run("races", files / "buzzer.rungs", files / "press.seq").exit_code == 1


def test_counters_in_rungs_and_in_text_are_the_same(files: Path) -> None:
    """The count past the preset is seen by nobody, so that the search has an end."""
    rungs = "counter CT1, preset 3\nrung 1: LS1, feeds CT1 count\nrung 2: STOP, feeds CT1 reset\n"
    rungs += "rung 3: CT1, feeds SOL1\n"
    text = "PROGRAM C VAR_INPUT LS1, STOP : BOOL; END_VAR VAR_OUTPUT SOL1 : BOOL; END_VAR VAR N : CTU; END_VAR "
    text += "N(CU := LS1, R := NOT STOP, PV := 3, Q => SOL1); END_PROGRAM\n"
    (files / "count.rungs").write_text(rungs, encoding="utf-8")
    (files / "count.st").write_text(text, encoding="utf-8")
    result = run("compare", files / "count.rungs", files / "count.st", "--machine", files / "devices.seq", "--brief")
    assert result.exit_code == 0, result.output
    assert "same, whatever its inputs do" in plain(result.output)


def test_nothing_is_retold_over_a_file_that_is_there(files: Path) -> None:
    result = run("retell", files / "dwell.rungs", "--machine", files / "devices.seq", "-o", files / "press.seq")
    assert result.exit_code == 2
    assert (files / "press.seq").read_text(encoding="utf-8") == PRESS


def test_what_makes_a_build_fail_is_marked_in_words_and_not_by_color_alone(files: Path) -> None:
    """A memory valve leaves the rod out where STOP found it, and START is obeyed at home only."""
    valve = "double solenoid valve SOL1 extends, SOL2 retracts"
    stranded = PRESS.replace("single solenoid valve SOL1, spring return", valve)
    stranded = stranded.replace("cycle\n", "home when RAM is at-home\ncycle\n")
    (files / "stranded.seq").write_text(stranded, encoding="utf-8")
    result = run("build", files / "stranded.seq", "--arrangement", "step-chain")
    assert result.exit_code == 1
    assert "Mind: it can get stuck in S0: no press, switch or time leads from there to rest at home" in plain(
        result.output
    )


@pytest.mark.parametrize(
    ("first", "words"),
    [
        ("START or CR1, STOP, TR1 NCTO", "STOP"),
        ("START or CR1 and STOP, TR1 NCTO", "STOP"),
        ("START or CR1, STOP NC, TR1 NCTO", ""),
        ("START or CR1 or STOP, TR1 NCTO", ""),
        ("STOP and LS2 or CR1 and START NC, TR1 NCTO", ""),
    ],
    ids=["in series", "in the seal-in path", "breaking", "beside the start", "a press in its own path"],
)
def test_a_stop_that_makes_is_told_where_a_stop_stands(files: Path, first: str, words: str) -> None:
    """The machine's STOP breaks when pressed; a name alone is a contact that makes when pressed."""
    (files / "typed.rungs").write_text(DWELL.replace("START or CR1, STOP NC, TR1 NCTO", first), encoding="utf-8")
    report = json.loads(run("prove", files / "typed.rungs", files / "press.seq", "--json").output)
    told = [(message["code"], message["line"], message["words"]) for message in report["messages"]]
    assert told == ([("RW430", 2, words)] if words else [])


def test_a_stop_that_makes_is_told_behind_a_master_once(files: Path) -> None:
    lines = DWELL.replace(", STOP NC", "").replace("rung 1", "master STOP:\nrung 1") + "end master\n"
    (files / "typed.rungs").write_text(lines, encoding="utf-8")
    report = json.loads(run("prove", files / "typed.rungs", files / "press.seq", "--json").output)
    assert [message["line"] for message in report["messages"] if message["code"] == "RW430"] == [2]
    told = plain(run("prove", files / "typed.rungs", files / "press.seq", "--brief").output)
    assert "STOP is normally closed on the machine, and this contact makes only while it is pressed" in told
    assert "for the contact that a stop circuit wants, write STOP NC" in told
