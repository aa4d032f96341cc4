"""How clauses join: what each continues, what is told when it continues nothing, and that one fault stays one."""

from __future__ import annotations

import pytest

from grammar.sequence import tree
from grammar.sequence.judge import every
from grammar.sequence.read import read
from grammar.sequence.write import write
from grammar.source import Source

_CYLINDER = "hydraulic cylinder A\n    "


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("drop out everything", ["RW121"]),
        ("normally closed", ["RW121"]),
        ("lamp B, normally closed", ["RW121"]),
        ("within 8 s or fault 'x'", ["RW145"]),
        ('or fault "x"', ["RW121"]),
        ("until LS1", ["RW121"]),
        ("for 5 s", ["RW121"]),
        ("extend until LS1, until LS2", ["RW126"]),
        ("extend for 2 s, for 3 s", ["RW126"]),
        ("extend, 3 s", ["RW137"]),
        ("hold, 3 s", []),
        ("extend, until LS1", []),
        ("extend 30 mm", ["RW137"]),
        ('extend, within 3 s, or fault "x"', []),
        ("extend, within 3 s\nlamp X", ["RW127"]),
        ('extend, within 3 s, within 4 s or fault "x"', ["RW126"]),
        ("when START is pressed\nwhen AUTO is on\nextend", ["RW122"]),
        ("when a fault is shown", ["RW124"]),
        ("when a fault is shown\n    turn on X\nextend", []),
        ("when a fault is shown, turn on X and extend A", ["RW124"]),
        ("when STOP is pressed\n    drop out everything", []),
        ("when STOP is pressed then drop out everything", []),
        ("cycle", ["RW125"]),
        ("cycle\n    @", ["RW104"]),
        ("cycle\nextend", ["RW128"]),
        ("lamp X\n    lamp Y", ["RW128"]),
        ("spring return", ["RW120"]),
        ("lamp X\nbore 80 mm\nrod 45 mm\nLS1 at end", ["RW120"]),  # told once for the block
        (_CYLINDER + "spring return", ["RW121"]),
        (_CYLINDER + "reset travel 2 mm", ["RW121"]),
        (_CYLINDER + "bore 80 mm, normally closed", ["RW121"]),
        (_CYLINDER + "bore 80 mm, retracting", ["RW121"]),
        (_CYLINDER + "single-acting, spring return", []),
        (_CYLINDER + "SOL2 extends", ["RW121"]),
        (_CYLINDER + "double solenoid valve S1 extends, S2 extends", ["RW123", "RW123"]),
        (_CYLINDER + "three-position valve S1 extends, S2 retracts", ["RW141"]),
        (_CYLINDER + "three-position valve S1 extends, S2 retracts, closed centre, float centre", ["RW141"]),
        (_CYLINDER + "three-position valve S1 extends, closed centre", ["RW123"]),
        (_CYLINDER + "double solenoid valve S1 extends, S2 retracts, closed centre", ["RW121"]),
        (_CYLINDER + "single solenoid valve S1, spring-centred", ["RW121"]),
        (_CYLINDER + "three-position valve, closed centre", ["RW103"]),
        ("rapid solenoid SOL3", ["RW120"]),
        (_CYLINDER + "limit switch LS1 at 6 bar", ["RW129"]),
        (_CYLINDER + "pressure switch PS1 at end", ["RW129"]),
        (_CYLINDER + "limit switch LS1 at end retracting", ["RW129"]),
        (_CYLINDER + "limit switch LS1 at end NC, PS1 at 6 bar, retracting, NC", []),
        ("@\nwithin 8 s or fault \"x\"", ["RW104"]),  # what it continues may have been in the unreadable line
        ("extnd PLATEN, within 8 s or fault \"x\"", ["RW102"]),  # read on as meant
        ("hydralic cylinder P\n    bore 80 mm\n    singel solenoid valve S", ["RW102", "RW102"]),
        ("lamp A, B C", ["RW104"]),
        ("pushbutton A NC, B NO, C", []),
        ("lamp A, OUT, STOP", []),
        ("turn on BUSY and RUN", []),
        ("turn on BUSY and RESET until RUN is on", []),
        ("RESET only while AUTO is on", []),
        ("stop", ["RW103"]),
        ("turn on BUSY and stop WINCH", []),
    ],
)  # fmt: skip
def test_what_continues_what(text: str, codes: list[str]) -> None:
    assert [d.code for d in read(Source("<t>", text)).diagnostics] == codes


def _comments(text: str) -> list[tuple[str, tuple[str, ...], str]]:
    nodes = [n for n in every(read(Source("<t>", text)).tree) if isinstance(n, tree.Line)]
    return [(type(n).__name__, n.comments.above, n.comments.beside) for n in nodes if n.comments != tree.Comments()]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("extend, retract  # both", [("CycleStep", (), "both")]),
        ("cycle  # c\n    when START is pressed  # t\n    extend", [("Cycle", (), "c"), ("Trigger", (), "t")]),
        ("cycle\n    # t\n    when START is pressed\n    extend", [("Trigger", ("t",), "")]),
        ("# r\nwhen STOP is pressed  # one\n    drop out everything  # two", [("StopRule", ("r", "two"), "one")]),
        ("extend  # a\nuntil LS1  # b", [("CycleStep", ("b",), "a")]),
        ("hydraulic cylinder A  # a\n    bore 8 mm, rod 4 mm  # b", [("Cylinder", (), "a"), ("Item", (), "b")]),
        ("@  # kept\nextend", [("CycleStep", ("kept",), "")]),
        ("lamp A, B  # last", [("LoadDevice", (), "last")]),
    ],
)
def test_a_comment_stays_with_its_words(text: str, wanted: list[tuple[str, tuple[str, ...], str]]) -> None:
    assert _comments(text) == wanted


def test_names_are_spelt_as_declared() -> None:
    text = write(read(Source("<t>", "lamp Busy\nturn on BUSY until busy is on\nturn on other")).tree)
    assert text == "lamp Busy\n\ncycle\n    turn on Busy until Busy is on\n    turn on other\n"


def test_two_names_that_differ_in_case_only_are_left_alone() -> None:
    """Which of the two is meant is not for the formatter to say."""
    text = write(read(Source("<t>", "lamp Busy\nhorn BUSY\nturn on BUSY\nturn on Busy")).tree)
    assert text.endswith("    turn on BUSY\n    turn on Busy\n")
