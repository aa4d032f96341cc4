"""Programs as a practitioner writes them: each is read, becomes a Logic, and does what its comment says.

What must happen is worked out by hand from the text and the standard's tables, second by second.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from compiler.machine import Contact, Input, InputKind, Load, LoadKind, Machine
from compiler.program import ProgramLogic
from grammar.source import Source
from grammar.structured_text import read, write
from targets.structured_text import TARGET
from tests.structured_text.clock import Clocked

PROGRAMS = Path(__file__).parent / "programs"


@dataclass(frozen=True)
class Story:
    """``closed`` are the inputs wired normally closed. A happening is a time in seconds, the inputs actuated from
    then on, and the loads that are on once all has settled (a timer that is due just then included)."""

    inputs: str
    outputs: str
    happenings: tuple[tuple[float, str, str], ...]
    closed: str = ""
    notices: tuple[str, ...] = ()


PRESS = (
    (0, "LS2", ""), (1, "LS2 START", "SOL1 LAMP1"), (2, "START", "SOL1 LAMP1"), (3, "START LS1", "SOL1 LAMP1"),
    (4.9, "LS1", "SOL1 LAMP1"), (5, "LS1", "LAMP1"), (6, "", "LAMP1"), (7, "LS2", ""), (8, "LS2 START", "SOL1 LAMP1"),
    (9, "STOP", ""), (10, "LS2", ""),
)  # fmt: skip

STORIES = {
    "case_with_named_steps": Story("START STOP LS1 LS2", "SOL1 LAMP1", PRESS, closed="STOP"),
    # START held over the end of the cycle starts it again: there is no edge in this one.
    "step_flags": Story(
        "START LS1 LS2", "SOL1",
        ((0, "LS2", ""), (1, "LS2 START", "SOL1"), (2, "START", "SOL1"), (3, "START LS1", "SOL1"),
         (4.4, "START LS1", "SOL1"), (4.5, "START LS1", ""), (5, "START", ""), (6, "START LS2", "SOL1")),
    ),
    # The feed lets go at the bottom, the clamp only once the drill is at the top again.
    "bistables": Story(
        "PB_GO LS_CLAMPED LS_BOTTOM LS_TOP", "SOL_CLAMP SOL_FEED",
        ((0, "LS_TOP", ""), (1, "LS_TOP PB_GO", "SOL_CLAMP"), (2, "LS_TOP PB_GO LS_CLAMPED", "SOL_CLAMP SOL_FEED"),
         (3, "LS_CLAMPED", "SOL_CLAMP SOL_FEED"), (4, "LS_CLAMPED LS_BOTTOM", "SOL_CLAMP"),
         (5, "LS_CLAMPED", "SOL_CLAMP"), (6, "LS_CLAMPED LS_TOP", ""), (7, "LS_TOP", "")),
    ),
    "timer_pins_set_first": Story(
        "ON_PB OFF_PB", "K_MAIN K_STAR K_DELTA",
        ((0, "", ""), (1, "ON_PB", "K_MAIN K_STAR"), (2, "", "K_MAIN K_STAR"), (4.99, "", "K_MAIN K_STAR"),
         (5, "", "K_MAIN"), (5.04, "", "K_MAIN"), (5.05, "", "K_MAIN K_DELTA"), (9, "OFF_PB", ""), (10, "", "")),
        closed="OFF_PB",
    ),
    # The lamp changes every half second; S1, a risky name, is taken as it stands.
    "blinking_and_horn": Story(
        "S1 PB_ACK", "H1 HORN1",
        ((0, "", ""), (1, "S1", "HORN1"), (1.4, "S1", "HORN1"), (1.5, "S1", "H1 HORN1"), (2, "S1", "HORN1"),
         (2.5, "S1 PB_ACK", "H1 HORN1"), (2.9, "S1", "H1 HORN1"), (3, "S1", ""), (3.6, "", "H1"), (3.9, "PB_ACK", ""),
         (6, "", "")),
        closed="S1",
    ),
    "pump_alternation": Story(
        "FS_LOW FS_HIGH", "PUMP_1 PUMP_2",
        ((0, "", ""), (1, "FS_LOW", ""), (2, "FS_LOW FS_HIGH", "PUMP_1"), (3, "FS_LOW", "PUMP_1"), (4, "", ""),
         (5, "FS_LOW FS_HIGH", "PUMP_2"), (6, "FS_LOW", "PUMP_2"), (7, "", ""), (8, "FS_LOW FS_HIGH", "PUMP_1")),
        notices=("RETAIN is not looked at: as the supply comes on, every variable begins anew here",),
    ),
    "seal_in": Story(
        "START STOP OVERLOAD", "MOTOR FAN",
        ((0, "", ""), (1, "START", "MOTOR FAN"), (2, "", "MOTOR FAN"), (3, "START STOP", "FAN"), (5.9, "", "FAN"),
         (6, "", ""), (7, "START", "MOTOR FAN"), (8, "OVERLOAD", "FAN"), (9, "START", "MOTOR FAN"),
         (12, "", "MOTOR FAN")),
        closed="STOP",
    ),
    # Three strokes to a start; STOP leaves the count, which is at an address in memory.
    "located_variables": Story(
        "START STOP LS1 LS2", "SOL1",
        ((0, "LS2", ""), (1, "START LS2", "SOL1"), (2, "", "SOL1"), (3, "LS1", ""), (4, "LS2", "SOL1"),
         (5, "LS1", ""), (6, "STOP", ""), (7, "LS2", ""), (8, "START LS2", "SOL1"), (9, "LS1", ""), (10, "LS2", "")),
        closed="STOP",
    ),
    "global_variables": Story(
        "START LEVEL", "VALVE HORN",
        ((0, "", ""), (1, "START", "VALVE"), (2, "", "VALVE"), (3, "LEVEL", ""), (4, "START LEVEL", ""), (5, "", ""),
         (7, "START", "VALVE"), (8, "", "VALVE"), (16.9, "", "VALVE"),
         (17, "", "HORN"), (17.9, "", "HORN"), (18, "", "")),
    ),
    "up_and_down_counter": Story(
        "TRAY_IN TRAY_OUT RESET_KEY", "GATE LAMP_EMPTY",
        ((0, "", "GATE LAMP_EMPTY"), (1, "TRAY_OUT", "GATE LAMP_EMPTY"), (2, "TRAY_IN", "GATE"), (3, "", "GATE"),
         (4, "TRAY_IN", "GATE"), (5, "", "GATE"), (6, "TRAY_IN", "GATE"), (7, "", "GATE"), (8, "TRAY_IN", ""),
         (9, "TRAY_OUT", "GATE"), (10, "TRAY_IN", ""), (11, "RESET_KEY", "GATE LAMP_EMPTY")),
    ),
    "case_with_ranges": Story(
        "START STOP LS_DOWN LS_UP", "SOL_STAMP SOL_EJECT LAMP_BUSY",
        ((0, "LS_UP", ""), (1, "START LS_UP", "SOL_STAMP LAMP_BUSY"), (2, "LS_DOWN", "LAMP_BUSY"),
         (3, "LS_UP", "SOL_STAMP LAMP_BUSY"), (4, "LS_DOWN", "LAMP_BUSY"), (5, "LS_UP", "SOL_STAMP LAMP_BUSY"),
         (6, "LS_DOWN", "LAMP_BUSY"), (7, "START LS_UP", "LAMP_BUSY SOL_EJECT"),
         (7.7, "START LS_UP", "LAMP_BUSY SOL_EJECT"), (7.8, "START LS_UP", "LAMP_BUSY"), (8, "LS_UP", ""),
         (9, "START LS_UP", "SOL_STAMP LAMP_BUSY"), (10, "STOP", ""), (11, "LS_UP", "")),
        closed="STOP",
    ),
}  # fmt: skip


def machine(story: Story) -> Machine:
    return Machine(
        inputs=tuple(
            Input(
                name=name,
                kind=InputKind.SENSOR,
                contact=Contact.NORMALLY_CLOSED if name in story.closed.split() else Contact.NORMALLY_OPEN,
            )
            for name in story.inputs.split()
        ),
        loads=tuple(Load(name=name, kind=LoadKind.SOLENOID) for name in story.outputs.split()),
    )


def text(name: str) -> str:
    return (PROGRAMS / f"{name}.st").read_text(encoding="utf-8")


def test_every_program_has_its_story() -> None:
    assert sorted(STORIES) == sorted(path.stem for path in PROGRAMS.glob("*.st"))


@pytest.mark.parametrize("name", STORIES)
def test_the_program_does_what_it_says(name: str) -> None:
    story = STORIES[name]
    logic = TARGET.read(text(name), f"{name}.st", machine(story))
    assert isinstance(logic, ProgramLogic)
    assert tuple(notice.message for notice in logic.notices) == story.notices
    clocked: Clocked | None = None
    for at, actuated, want in story.happenings:
        inputs = tuple(device in actuated.split() for device in logic.inputs)
        if clocked is None:
            clocked = Clocked(logic, inputs)
        else:
            clocked.advance(int(at * 1_000_000), inputs)
        on = {load for load, bit in zip(logic.outputs, clocked.outputs, strict=True) if bit}
        assert on == set(want.split()), f"at {at} s"


@pytest.mark.parametrize("name", STORIES)
def test_the_program_comes_back_from_its_text(name: str) -> None:
    reading = read(Source(f"{name}.st", text(name)))
    assert reading.tree is not None
    assert reading.sound
    again = read(Source("again.st", write(reading.tree)))
    assert (again.tree, again.sound) == (reading.tree, True)
