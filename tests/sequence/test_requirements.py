"""What must never, always or soon be so: how it may be said, what it means, and how it is told and kept."""

from __future__ import annotations

import json

import pytest

from compiler.chart import Chart, Requirement, Response
from compiler.condition import And, Condition, Not, Or, Rise, Signal, Sustained
from compiler.document import Document, NotADocument, read_document
from compiler.machine import Machine
from compiler.tell import tell
from compiler.understand import understand
from grammar.sequence.read import read
from grammar.sequence.write import write
from grammar.source import Source

PRESS = """hydraulic cylinder RAM
    stroke 200 mm
    extends in 3 s to 4 s
    retracts in 2 s
    single solenoid valve SOL1, spring return
    limit switch LS1 at end
    limit switch LS2 at home
pushbutton START, normally open
pushbutton STOP, normally closed
sensor GUARD, normally closed
lamp BUSY
cycle
    turn on BUSY and extend RAM until at-end
    retract RAM until at-home
    turn off BUSY
"""
BUSY, GUARD, SOL1 = (Signal(device=name) for name in ("BUSY", "GUARD", "SOL1"))
AT_END = Signal(device="LS1")


def built(rule: str) -> tuple[Machine, Chart]:
    understood = understand(Source("<t>", f"{PRESS}{rule}\n"))
    assert understood.chart is not None, understood.diagnostics
    return understood.machine, understood.chart


@pytest.mark.parametrize(
    ("said", "never"),
    [
        # GUARD is wired normally closed: its contact is closed while it is not actuated.
        ("always GUARD is closed", GUARD),
        ("always BUSY while SOL1", And(of=(Not(of=BUSY), SOL1))),
        ("always not (SOL1 and START is held)", And(of=(SOL1, Signal(device="START")))),
        ("always BUSY or not SOL1 while RAM is at-end", And(of=(Not(of=Or(of=(BUSY, Not(of=SOL1)))), AT_END))),
        ("never SOL1 while GUARD is open", And(of=(SOL1, GUARD))),
        # As elsewhere in what lasts, "is pressed" means held.
        ("never SOL1 and STOP is pressed", And(of=(SOL1, Signal(device="STOP")))),
    ],
)
def test_always_is_never_the_opposite(said: str, never: Condition) -> None:
    _, chart = built(said)
    (requirement,) = chart.requirements
    assert requirement == Requirement(name="N1", never=never, words=requirement.words)
    assert requirement.words.text == said


@pytest.mark.parametrize(
    ("said", "cause", "effect", "within_us"),
    [
        ("whenever START is pressed, RAM is at-end within 10 s", Rise(device="START"), AT_END, 10_000_000),
        ("whenever START is held, RAM is at-end within 10 s", Signal(device="START"), AT_END, 10_000_000),
        ("BUSY leads to BUSY is off within 1 min", BUSY, Not(of=BUSY), 60_000_000),
        (
            "after SOL1 for 0.5 s, within 250 ms START is pressed",
            Sustained(of=SOL1, time_us=500_000),
            Rise(device="START"),
            250_000,
        ),
    ],
)
def test_whenever_takes_moments_outputs_and_places(
    said: str, cause: Condition, effect: Condition, within_us: int
) -> None:
    _, chart = built(said)
    (response,) = chart.requirements
    assert response == Response(name="N1", whenever=cause, then=effect, within_us=within_us, words=response.words)
    assert response.words.text == said


def test_requirements_are_numbered_as_they_are_written() -> None:
    _, chart = built("never SOL1 and BUSY is off\nwhenever SOL1, BUSY within 1 s\nalways BUSY or not SOL1")
    assert [(r.name, type(r)) for r in chart.requirements] == [
        ("N1", Requirement),
        ("N2", Response),
        ("N3", Requirement),
    ]


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("never SOL1 while GUARD is open", "Never: SOL1 is on and GUARD is made."),
        ("always BUSY while SOL1 and RAM is at-end", "Always: BUSY is on, while SOL1 is on and LS1 is made."),
        ("always BUSY or not SOL1", "Always: BUSY is on or SOL1 is off."),
        (
            "whenever START is pressed, RAM is at-end within 10 s",
            "Whenever START is pressed: LS1 is made, within 10 s.",
        ),
    ],
)
def test_requirements_are_told_in_words(said: str, told: str) -> None:
    assert tell(*built(said))[-1] == told


@pytest.mark.parametrize(
    ("said", "code", "words"),
    [
        ("whenever START is pressed, RUM is at-end within 10 s", "RW202", "RUM"),
        ("always LUMP while SOL1", "RW202", "LUMP"),
        ("never SOL1 while GARD is open", "RW202", "GARD"),
        ("whenever START is pressed, RAM is at-end within 0 s", "RW206", "0 s"),
        ("whenever START is pressed, RAM is at-end within 20 mm", "RW206", "20 mm"),
        ("whenever START is pressed, RAM is at-end", "RW154", "RAM is at-end"),
        ("START is pressed leads to RAM is at-end", "RW154", "RAM is at-end"),
        ("whenever not START is pressed, BUSY within 1 s", "RW208", "START is pressed"),
        ("whenever after 5 s, BUSY within 1 s", "RW209", "after 5 s"),
        ("whenever START is pressed, turn on BUSY", "RW155", "turn"),
        ('whenever SOL1, BUSY within 1 s or fault "dark"', "RW155", 'or fault "dark"'),
        ("whenever BUSY is pressed, SOL1 within 1 s", "RW203", "BUSY is pressed"),
    ],
)
def test_what_is_at_fault_is_told_once_at_its_place(said: str, code: str, words: str) -> None:
    source = Source("<t>", f"{PRESS}{said}\n")
    understood = understand(source)
    assert understood.chart is None
    told = [d for d in understood.diagnostics if d.severity == "fault"]
    assert [d.code for d in told] == [code]
    assert told[0].span is not None
    assert source.words(told[0].span) == words


@pytest.mark.parametrize(
    "line",
    [
        "whenever START is pressed, RAM is at-end within 10 s, lamp X",
        "lamp X, whenever START is pressed, RAM is at-end, within 10 s",
        "lamp X, START is pressed leads to RAM is at-end within 10 s",
        "lamp WHEEL-OVER, WHATEVER, X, whenever START is pressed then X within 10 s",
    ],
)
def test_a_sentence_ends_at_its_time(line: str) -> None:
    """What follows the time on the same line is something new, and so is what stands before."""
    reading = read(Source("<t>", line))
    assert reading.sound, reading.diagnostics
    assert {type(d).__name__ for d in reading.tree.declarations} == {"Whenever", "LoadDevice"}


def test_places_are_right_past_the_comma() -> None:
    source = Source("<t>", "whenever START is pressed ,   RAM is att-end within 10 s")
    (found,) = read(source).diagnostics
    assert found.span is not None
    assert source.words(found.span) == "att-end"


# --- as JSON --------------------------------------------------------------------------------------------------------


def document(rule: str) -> str:
    machine, chart = built(rule)
    return Document(machine=machine, chart=chart).to_json()


def test_requirements_come_back_from_a_document() -> None:
    text = document("never SOL1 and BUSY is off\nwhenever START is pressed, BUSY within 1 s")
    assert read_document(text).to_json() == text


def test_a_document_of_old_still_reads() -> None:
    """Files written before there was anything but ``never``: name, never and words, no more."""
    text = document("never SOL1 while GUARD is open")
    (requirement,) = json.loads(text)["chart"]["requirements"]
    assert set(requirement) == {"name", "never", "words"}
    assert read_document(text).chart.requirements[0].conditions == (And(of=(SOL1, GUARD)),)


@pytest.mark.parametrize(
    ("rule", "part", "spoilt"),
    [
        ("never SOL1", {"kind": "signal", "device": "SOL1"}, {"kind": "signal", "device": "SOL9"}),
        ("never SOL1", {"kind": "signal", "device": "SOL1"}, {"kind": "active", "step": "S99"}),
        ("whenever SOL1, BUSY within 1 s", {"kind": "signal", "device": "BUSY"}, {"kind": "rise", "device": "BUZY"}),
        (
            "whenever SOL1, BUSY within 1 s",
            {"kind": "signal", "device": "SOL1"},
            {"kind": "elapsed", "step": "S99", "time_us": 5},
        ),
    ],
)
def test_a_document_whose_requirements_name_strangers_is_refused(
    rule: str, part: dict[str, object], spoilt: dict[str, object]
) -> None:
    whole = json.loads(document(rule))
    (requirement,) = whole["chart"]["requirements"]
    changed = {key: spoilt if value == part else value for key, value in requirement.items()}
    assert changed != requirement
    whole["chart"]["requirements"] = [changed]
    stranger = spoilt.get("device") or spoilt["step"]
    with pytest.raises(NotADocument, match=f"a requirement speaks of {stranger}, which is not declared"):
        read_document(json.dumps(whole))


@pytest.mark.parametrize(
    ("rule", "part", "told"),
    [
        ("whenever SOL1, BUSY within 1 s", "within_us", r"chart\.requirements\.0\.whenever\.within_us is missing"),
        ("never SOL1", "never", r"chart\.requirements\.0\.never\.never is missing"),
    ],
)
def test_a_document_with_half_a_requirement_is_refused(rule: str, part: str, told: str) -> None:
    whole = json.loads(document(rule))
    del whole["chart"]["requirements"][0][part]
    with pytest.raises(NotADocument, match=told):
        read_document(json.dumps(whole))


@pytest.mark.parametrize(
    "valve",
    [
        "single solenoid valve Y1, spring return",
        "double solenoid valve Y1 extends, Y2 retracts",
        "three-position valve Y1 extends, Y2 retracts, closed centre",
        "single solenoid valve Y2, spring return\n    rapid solenoid Y1",
    ],
)
def test_a_solenoid_of_any_valve_is_on_and_never_made(valve: str) -> None:
    said = "never Y1 while GUARD is open"
    text = f"hydraulic cylinder A\n    {valve}\nsensor GUARD\ncycle\n    extend A, retract A\n{said}\n"
    assert write(read(Source("<t>", text)).tree).endswith(f"\n{said}\n")
