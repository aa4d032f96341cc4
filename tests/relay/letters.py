"""Sequences in letter notation, their machines and their charts, built by hand: ``A+ B+ (C+ D+) B- A-``.

The seventeen rows are common exercise sequences; the published counts are those named beside them, the others were
worked out by trying every way to cut. The parser here is this file's own, so that it shares nothing with a reader.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from compiler.chart import Action, Chart, Forcing, Step, Transition, Words
from compiler.condition import Condition, Elapsed, Rise, Signal, both, negated
from compiler.machine import (
    Actuator,
    End,
    Input,
    InputKind,
    LimitSwitch,
    Load,
    LoadKind,
    Machine,
    Medium,
    Travel,
    TravelBasis,
    Valve,
    ValveKind,
)
from targets.relay.groups import Move, Stage

__all__ = ["ROWS", "Row", "chart_of", "letters_of", "machine_of", "solenoid", "stages_of", "switch"]

STROKE_UM = 100_000


@dataclass(frozen=True, slots=True)
class Row:
    """A sequence; its groups counted in a line and the least number round the cycle; the moves blocked in direct
    wiring."""

    number: int
    sequence: str
    in_line: str
    cyclic: int
    blocked: str
    cyclic_groups: str = ""


ROWS = (
    Row(1, "A+ B+ B- A-", "A+ B+ / B- A-", 2, "A+ B-"),
    Row(2, "A+ B+ A- B-", "A+ B+ / A- B-", 2, ""),
    Row(3, "A+ A- B+ B-", "A+ / A- B+ / B-", 2, "A- B-", "A- B+ / B- A+"),
    Row(4, "A+ B+ C+ C- B- A-", "A+ B+ C+ / C- B- A-", 2, "A+ B+ C- B-"),
    Row(5, "A+ B+ C+ A- B- C-", "A+ B+ C+ / A- B- C-", 2, ""),
    Row(6, "A+ B+ B- C+ C- A-", "A+ B+ / B- C+ / C- A-", 3, "A+ B- C-"),  # published: a course page counts 3
    Row(7, "A+ B+ B- A- C+ C-", "A+ B+ / B- A- C+ / C-", 2, "A+ B- A- C-", "B- A- C+ / C- A+ B+"),
    Row(8, "A+ A- B+ B- C+ C-", "A+ / A- B+ / B- C+ / C-", 3, "A- B- C-", "A- B+ / B- C+ / C- A+"),
    Row(9, "A+ B+ C+ C- A- B-", "A+ B+ C+ / C- A- B-", 2, "A+ C-"),
    Row(10, "A+ B+ C+ B- C- A-", "A+ B+ C+ / B- C- A-", 2, "A+ B-"),
    Row(11, "A+ C+ C- B+ B- A-", "A+ C+ / C- B+ / B- A-", 3, "A+ C- B-"),
    Row(12, "A+ B+ B- B+ B- A-", "A+ B+ / B- / B+ / B- A-", 4, "A+ B- B-"),
    Row(13, "A+ B+ C+ (B- C-) A-", "A+ B+ C+ / (B- C-) A-", 2, "A+ B- C-"),
    Row(14, "A+ B+ C+ C- B- D+ D- A-", "A+ B+ C+ / C- B- D+ / D- A-", 3, "A+ B+ C- B- D-"),
    Row(15, "A+ B- B+ A-", "A+ B- / B+ A-", 2, "A+ B+"),  # B starts out
    Row(16, "A+ B+ A- C+ C- B-", "A+ B+ / A- C+ / C- B-", 2, "B+ C-", "B+ A- C+ / C- B- A+"),
    Row(17, "A+ B+ C- A- B- C+", "A+ B+ C- / A- B- C+", 2, ""),  # C starts out
)


def stages_of(sequence: str) -> tuple[Stage, ...]:
    """The stages of a sequence in letters; a number is a hold of so many seconds, a stage without moves."""
    words = re.findall(r"\([^)]*\)|[A-Z][+-]|\d+", sequence)
    return tuple(tuple(Move(m[0], m[1] == "+") for m in re.findall(r"[A-Z][+-]", word)) for word in words)


def letters_of(stages: tuple[Stage, ...]) -> dict[str, bool]:
    """Every letter, and whether it starts out."""
    found: dict[str, bool] = {}
    for stage in stages:
        for move in stage:
            found.setdefault(move.letter, not move.out)
    return dict(sorted(found.items()))


def solenoid(move: Move) -> str:
    """The solenoid of a move: ``SOLA1`` sends A out, ``SOLA0`` sends it back."""
    return f"SOL{move.letter}{int(move.out)}"


def switch(move: Move) -> str:
    """The limit switch at the end of a move: ``LSA1`` out, ``LSA0`` at home."""
    return f"LS{move.letter}{int(move.out)}"


def machine_of(sequence: str, *, least_us: int = 20_000, greatest_us: int = 40_000) -> Machine:
    """Pneumatic cylinders on double solenoid valves, a limit switch at both ends of each."""
    travel = Travel(least_us=least_us, usual_us=greatest_us, greatest_us=greatest_us, basis=TravelBasis.STATED)
    letters = letters_of(stages_of(sequence))
    actuators = tuple(
        Actuator(
            name=letter,
            medium=Medium.PNEUMATIC,
            stroke_um=STROKE_UM,
            rest=End.END if out else End.HOME,
            valve=Valve(
                kind=ValveKind.MEMORY, extend=solenoid(Move(letter, True)), retract=solenoid(Move(letter, False))
            ),
            extend_time=travel,
            retract_time=travel,
            limit_switches=(
                LimitSwitch(name=switch(Move(letter, True)), at_um=STROKE_UM, reset_um=2_000, toward=End.END),
                LimitSwitch(name=switch(Move(letter, False)), at_um=0, reset_um=2_000, toward=End.HOME),
            ),
        )
        for letter, out in letters.items()
    )
    inputs = [Input(name=name, kind=InputKind.PUSHBUTTON) for name in ("START", "STOP")]
    inputs += [Input(name=s.name, kind=InputKind.LIMIT_SWITCH) for a in actuators for s in a.limit_switches]
    loads = [
        Load(name=solenoid(Move(letter, out)), kind=LoadKind.SOLENOID) for letter in letters for out in (True, False)
    ]
    loads.append(Load(name="BUSY", kind=LoadKind.LAMP))
    return Machine(
        title=sequence, actuators=actuators, inputs=tuple(inputs), loads=tuple(loads), start="START", stop="STOP"
    )


def chart_of(
    sequence: str, *, home: bool = False, stop: bool = True, busy: tuple[int, ...] = (), within_us: int = 0
) -> Chart:
    """One step a stage. ``home``: START counts only with every cylinder where the cycle begins. ``busy``: the
    numbers of the steps, from 1, in which the lamp is on. ``within_us``: each stage of moves takes no longer, or a
    fault lights the lamp."""
    machine, stages = machine_of(sequence), stages_of(sequence)
    holds = re.findall(r"\([^)]*\)|[A-Z][+-]|\d+", sequence)
    begins = [Signal(device=switch(Move(letter, out))) for letter, out in letters_of(stages).items()]
    steps = [Step(name="S0", initial=True)]
    ends: list[Condition] = [both(Rise(device="START"), *(begins if home else ()))]
    for number, (stage, word) in enumerate(zip(stages, holds, strict=True), start=1):
        outputs = [solenoid(move) for move in stage] + (["BUSY"] if number in busy else [])
        actions = tuple(Action(output=output) for output in outputs)
        name = f"S{number}"
        steps.append(Step(name=name, actions=actions, words=Words(text=word)))
        seen = [Signal(device=switch(move)) for move in stage]
        ends.append(both(*seen) if stage else Elapsed(step=name, time_us=int(word) * 10_000))
    names = [step.name for step in steps]
    transitions = [
        Transition(name=f"T{k}", sources=(here,), targets=(there,), condition=condition, words=Words(text="on"))
        for k, (here, there, condition) in enumerate(zip(names, [*names[1:], names[0]], ends, strict=True), start=1)
    ]
    for name, stage, end in zip(names[1:], stages, ends[1:], strict=True):
        if stage and within_us:
            fault = Step(name=f"F{name}", actions=(Action(output="BUSY"),), fault=f"{name} takes too long")
            condition = both(Elapsed(step=name, time_us=within_us), negated(end))
            steps.append(fault)
            transitions.append(
                Transition(name=f"T{fault.name}", sources=(name,), targets=(fault.name,), condition=condition)
            )
    return Chart(
        title=sequence,
        inputs=tuple(i.name for i in machine.inputs),
        outputs=tuple(load.name for load in machine.loads),
        steps=tuple(steps),
        transitions=tuple(transitions),
        forcing=Forcing(condition=Signal(device="STOP")) if stop else None,
    )
