"""Three circuits typed as one would from a paper ladder, read against a machine: how they are written, drawn and act.

What they should do was worked out on paper from the words above each, not from runs.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from compiler.circuit import CircuitLogic, circuit_faults, circuit_logic, machine_devices
from compiler.logic import Bits, Reaction
from compiler.machine import Input, InputKind, Load, LoadKind, Machine
from grammar.diagnostic import render
from grammar.reading import ReadBack
from grammar.rungs import read, write
from grammar.source import Source
from targets.relay.ladder import ladder
from targets.relay.read import read as read_back

HERE = Path(__file__).parent / "typed"


def machine(inputs: str, loads: str) -> Machine:
    """Words such as ``pushbutton: START STOP; limit switch: LS1``."""
    return Machine(
        inputs=tuple(Input(name=name, kind=InputKind(kind)) for kind, name in _named(inputs)),
        loads=tuple(Load(name=name, kind=LoadKind(kind)) for kind, name in _named(loads)),
    )


def _named(words: str) -> list[tuple[str, str]]:
    return [
        (k, name) for k, _, names in (part.partition(": ") for part in words.split("; ")) for name in names.split()
    ]


MACHINES = {
    "sump": machine("sensor: HIGH LOW FLOOD", "motor: PUMP1 PUMP2; horn: HOOTER"),
    "clamp": machine("pushbutton: START STOP; limit switch: LS1 LS2 LS3 LS4", "solenoid: SOL1 SOL2"),
    "press": machine(
        "pushbutton: MASTER-ON E-STOP START STOP; limit switch: GUARD LS1 LS2", "solenoid: SOL1; lamp: BUSY DOWN"
    ),
}


def typed(name: str) -> Source:
    return Source(f"{name}.rungs", (HERE / f"{name}.rungs").read_text("utf-8"))


@pytest.mark.parametrize("name", MACHINES)
def test_what_is_typed_is_understood_written_and_drawn(name: str) -> None:
    """Written and drawn forms were looked at by eye and kept."""
    source, devices = typed(name), machine_devices(MACHINES[name])
    reading = read(source, devices)
    assert not reading.diagnostics, [render(d, source) for d in reading.diagnostics]
    assert not circuit_faults(reading.tree, MACHINES[name])
    written = write(reading.tree)
    assert written == (HERE / f"{name}.canonical.rungs").read_text("utf-8")
    assert read(Source("again", written), devices).tree == reading.tree
    assert "\n".join(ladder(reading.tree)) + "\n" == (HERE / f"{name}.ladder.txt").read_text("utf-8")


class Bench:
    """A circuit, the devices that are made, and what is on."""

    def __init__(self, name: str, on: Machine | None = None, text: str = "") -> None:
        self.machine = on or MACHINES[name]
        self.logic: CircuitLogic = read_back(text or typed(name).text, name, self.machine)
        self.made: set[str] = set()
        self.at: Reaction = self.logic.power_up(self._bits())

    def _bits(self) -> Bits:
        return tuple(i.name in self.made for i in self.machine.inputs)

    def make(self, *names: str) -> set[str]:
        self.made |= set(names)
        return self._react()

    def release(self, *names: str) -> set[str]:
        self.made -= set(names)
        return self._react()

    def expire(self) -> set[str]:
        return self._react(self.at.running)

    def _react(self, expired: frozenset[int] = frozenset()) -> set[str]:
        self.at = self.logic.react(self.at.state, self._bits(), expired)
        return {load.name for load, on in zip(self.machine.loads, self.at.outputs, strict=True) if on}


def test_the_sample_in_the_readme_is_understood_and_does_what_it_says() -> None:
    readme = (Path(__file__).parents[2] / "targets" / "relay" / "README.md").read_text("utf-8")
    text = readme.split("```\n")[1]
    boxes = machine("pushbutton: MASTER-ON E-STOP START STOP RESET; limit switch: GUARD LS1 LS2", "solenoid: SOL1")
    reading = read(Source("README", text), machine_devices(boxes))
    assert not reading.diagnostics
    box = Bench("boxes", boxes, text)
    box.make("GUARD", "LS2", "MASTER-ON")
    box.release("MASTER-ON")
    for _ in range(5):
        assert box.make("START") == {"SOL1"}
        box.release("START", "LS2")
        box.make("LS1")
        assert box.expire() == set()
        box.release("LS1")
        box.make("LS2")
    assert box.make("START") == set(), "five pieces fill a box"
    box.release("START")
    box.make("RESET")
    box.release("RESET")
    assert box.make("START") == {"SOL1"}


def test_the_pumps_take_turns() -> None:
    sump = Bench("sump")
    for pump in ("PUMP1", "PUMP2", "PUMP1", "PUMP2"):
        assert sump.make("LOW") == set()
        assert sump.make("HIGH") == {pump}
        assert sump.release("HIGH") == {pump}
        assert sump.release("LOW") == set()
    sump.make("LOW")
    assert sump.make("HIGH") == {"PUMP1"}
    assert sump.make("FLOOD") == {"PUMP1", "PUMP2"}
    assert sump.expire() == {"PUMP1", "PUMP2", "HOOTER"}
    assert sump.release("FLOOD") == {"PUMP1"}


@pytest.mark.parametrize("stop_after", [None, 2])
def test_the_clamp_holds_for_five_strokes(stop_after: int | None) -> None:
    """A and B go where their valves send them, one stroke at a time."""
    clamp = Bench("clamp")
    clamp.make("LS1", "LS3")
    on = clamp.make("START")
    clamp.release("START")
    strokes = 0
    for _ in range(40):
        if "SOL2" in on and "LS3" in clamp.made:
            assert "LS2" in clamp.made, "B strikes only while A is clamped"
            strokes += 1
            clamp.release("LS3")
            on = clamp.make("LS4")
        elif "SOL2" not in on and "LS4" in clamp.made:
            clamp.release("LS4")
            on = clamp.make("LS3")
        elif "SOL1" in on and "LS1" in clamp.made:
            clamp.release("LS1")
            on = clamp.make("LS2")
        elif "SOL1" not in on and "LS2" in clamp.made:
            clamp.release("LS2")
            on = clamp.make("LS1")
        if strokes == stop_after:
            clamp.make("STOP")
            on = clamp.release("STOP")
    assert strokes == (5 if stop_after is None else stop_after)
    assert {"LS1", "LS3"} == clamp.made
    assert clamp.logic.lit(clamp.at.state) == (), "nothing is left on, and the counter is back at nought"
    assert clamp.make("START") == {"SOL1"}


def test_nothing_behind_the_master_starts_again_by_itself() -> None:
    press = Bench("press")
    press.make("GUARD", "LS2")
    assert press.make("START") == {"DOWN"}, "the master is not on yet"
    press.release("START")
    press.make("MASTER-ON")
    assert press.release("MASTER-ON") == set()
    assert press.make("START") == {"SOL1", "BUSY"}
    press.release("START")
    press.release("LS2")
    assert press.make("LS1") == {"SOL1", "BUSY"}
    assert press.at.running == {0}
    assert press.release("GUARD") == set()
    assert press.at.running == frozenset()
    assert press.make("GUARD") == set()
    press.release("LS1")
    press.make("LS2")
    assert press.make("START") == {"SOL1", "BUSY"}
    press.release("START")
    press.release("LS2")
    press.make("LS1")
    assert press.expire() == set(), "the dwell is over"
    assert press.make("E-STOP") == {"DOWN"}
    assert press.release("E-STOP") == {"DOWN"}


# --- against the machine --------------------------------------------------------------------------------------


def told(text: str) -> list[str]:
    source = Source("list", text)
    reading = read(source, machine_devices(MACHINES["clamp"]))
    found = [*reading.diagnostics, *circuit_faults(reading.tree, MACHINES["clamp"])]
    return [render(d, source) for d in found]


def test_a_slip_of_the_pen_is_told_by_the_names_of_the_machine() -> None:
    assert told("rung 1: STRAT, CR1 NC, feeds CR1 and SOL3\n") == [
        "list:1:9: fault RW402: STRAT is not declared\n"
        "    1 | rung 1: STRAT, CR1 NC, feeds CR1 and SOL3\n"
        "      |         ^^^^^\n"
        "    try: did you mean START? if not, declare it, for example 'pushbutton STRAT': "
        "inputs and loads in the machine's file, others at the top here",
        "list:1:38: fault RW402: SOL3 is not declared\n"
        "    1 | rung 1: STRAT, CR1 NC, feeds CR1 and SOL3\n"
        "      |                                      ^^^^\n"
        "    try: did you mean SOL2? if not, declare it, for example 'solenoid SOL3': "
        "inputs and loads in the machine's file, others at the top here",
    ]


def test_a_name_of_the_machine_keeps_its_meaning() -> None:
    assert told("relay SOL1\ntimer LS1, on-delay 1 s\nrung 1: START, feeds SOL1 and LS1\n") == [
        "list:1:7: fault RW426: SOL1 is a relay here, a solenoid on the machine\n"
        "    1 | relay SOL1\n"
        "      |       ^^^^\n"
        "    try: write 'solenoid SOL1', or give the relay another name",
        "list:2:7: fault RW426: LS1 is a timer here, a limit switch on the machine\n"
        "    2 | timer LS1, on-delay 1 s\n"
        "      |       ^^^\n"
        "    try: write 'limit switch LS1', or give the timer another name",
    ]


def test_a_load_has_no_contacts_and_an_input_no_coil_on_the_machine_either() -> None:
    assert [
        line.split(": ", 1)[1].split("\n")[0] for line in told("rung 1: SOL1, feeds LS1\nrung 2: feeds SOL1\n")
    ] == [
        "fault RW405: the solenoid SOL1 has no contacts",
        "fault RW416: the limit switch LS1 is an input: no rung feeds it",
    ]


def test_reading_back_tells_every_fault() -> None:
    with pytest.raises(ReadBack) as wrong:
        read_back("limit switch LS9\nrung 1: LS9 or X, feeds SOL1\n", "x.rungs", MACHINES["clamp"])
    assert [d.code for d in wrong.value.diagnostics] == ["RW402", "RW425"]


def test_a_relay_by_its_coil_and_contacts_and_a_latching_relay_by_its_coils() -> None:
    text = "sensor A\nlamp L\nrung 1: A or CR1, feeds cr1 and KR1 set\nrung 2: KR1, feeds KR1 reset and L\n"
    reading = read(Source("list", text))
    assert reading.sound
    assert [(str(d.kind), d.name.text) for d in reading.tree.devices if d.implied] == [
        ("relay", "CR1"),
        ("latching relay", "KR1"),
    ]
    assert write(reading.tree).endswith(
        "rung 1: A or CR1, feeds CR1 and KR1 latch\nrung 2: KR1, feeds KR1 unlatch and L\n"
    )
    assert circuit_logic(reading.tree, machine("sensor: A", "lamp: L")).power_up((False,)).outputs == (False,)
