"""Six small sequences, each with its machine and the arrangements that fit it, to spoil one element at a time."""

from __future__ import annotations

from dataclasses import dataclass

from compiler.chart import Action, Chart, Forcing, Step, Transition
from compiler.condition import And, Elapsed, Not, Signal
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
    Valve,
    ValveKind,
)
from tests.proof.cases import ARRANGEMENTS, AT_HOME, RESET, STROKE, UNIT, chart, press, travel

__all__ = ["SEQUENCES", "Sequence"]


@dataclass(frozen=True, slots=True)
class Sequence:
    """A chart, its machine and what can be built of it."""

    name: str
    chart: Chart
    machine: Machine
    arrangements: tuple[str, ...]


def _watched(machine: Machine) -> Chart:
    """The press with a fault lamp when LS1 is not made within 6 units, which is longer than any stroke."""
    of = chart(machine)
    late = And(of=(Elapsed(step="S1", time_us=6 * UNIT), Not(of=Signal(device="LS1"))))
    fault = Step(name="F1", fault="the ram is late", actions=(Action(output="LAMP"),))
    way = Transition(name="TF", sources=("S1",), targets=("F1",), condition=late)
    return of.model_copy(update={"steps": (*of.steps, fault), "transitions": (*of.transitions, way)})


def _cylinder(letter: str, out: str, home: str) -> Actuator:
    return Actuator(
        name=letter,
        medium=Medium.PNEUMATIC,
        stroke_um=STROKE,
        valve=Valve(kind=ValveKind.SPRING_RETURN, extend=f"SOL{letter}"),
        extend_time=travel(1, 2),
        retract_time=travel(1, 2),
        limit_switches=(
            LimitSwitch(name=out, at_um=STROKE, reset_um=2 * RESET, toward=End.END),
            LimitSwitch(name=home, at_um=0, reset_um=2 * RESET, toward=End.HOME),
        ),
    )


def _two_cylinders() -> tuple[Machine, Chart]:
    """A out, B out, B back, A back."""
    names = ("START", "STOP", "LS1", "LS2", "LS3", "LS4")
    kinds = dict.fromkeys(("START", "STOP"), InputKind.PUSHBUTTON)
    machine = Machine(
        actuators=(_cylinder("A", "LS1", "LS2"), _cylinder("B", "LS3", "LS4")),
        inputs=tuple(Input(name=n, kind=kinds.get(n, InputKind.LIMIT_SWITCH)) for n in names),
        loads=tuple(Load(name=n, kind=LoadKind.SOLENOID) for n in ("SOLA", "SOLB")),
        start="START",
        stop="STOP",
    )
    on = {"S0": (), "S1": ("SOLA",), "S2": ("SOLA", "SOLB"), "S3": ("SOLA",), "S4": ()}
    ends = (AT_HOME, *(Signal(device=name) for name in ("LS1", "LS3", "LS4", "LS2")))
    steps = list(on)
    return machine, Chart(
        inputs=names,
        outputs=("SOLA", "SOLB"),
        steps=tuple(
            Step(name=name, initial=name == "S0", actions=tuple(Action(output=o) for o in outputs))
            for name, outputs in on.items()
        ),
        transitions=tuple(
            Transition(name=f"T{k}", sources=(steps[k],), targets=(steps[(k + 1) % len(steps)],), condition=end)
            for k, end in enumerate(ends)
        ),
        forcing=Forcing(condition=Signal(device="STOP")),
    )


def _sequences() -> tuple[Sequence, ...]:
    plain, pressed, memory = press(), press(pressure=2), press(kind=ValveKind.MEMORY)
    chain = ("step-chain",)
    two, a_b = _two_cylinders()
    by_pressure = chart(pressed, out=Signal(device="PS1"))
    timed = chart(plain, out=Elapsed(step="S1", time_us=5 * UNIT))
    return (
        Sequence("out, hold, back", chart(plain), plain, ARRANGEMENTS),
        Sequence("pressure ends it", by_pressure, pressed, ("on-delay", "one-shot", "step-chain")),
        Sequence("a timed stroke", timed, plain, ("one-shot", "step-chain")),
        Sequence("a memory valve", chart(memory), memory, chain),
        Sequence("a watched stroke", _watched(plain), plain, chain),
        Sequence("two cylinders", a_b, two, chain),
    )


SEQUENCES = _sequences()
