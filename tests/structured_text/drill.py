"""A drill with all there is: two branches of which one repeats, three faults that break off the rest, a lamp that is
set and reset, interlocks, STOP that drops out, and FINISH that is
remembered until the machine rests and START is let go."""

from __future__ import annotations

from compiler.chart import (
    Action,
    ActionKind,
    Chart,
    Counting,
    CountingKind,
    Forcing,
    Interlock,
    Step,
    Transition,
    Words,
)
from compiler.condition import Active, Always, Condition, Counted, Elapsed, Not, Rise, Signal, both
from compiler.machine import Contact, Input, InputKind, Load, LoadKind, Machine

__all__ = ["CHART", "MACHINE"]

_SWITCHES = ("LS1", "LS2", "LS3", "LS4", "LS5")
_LOADS = ("SOL1", "SOL2A", "SOL2B", "SOL3", "SOL4", "BUSY", "ALARM", "JAM")
_WORK = ("S1", "S2", "S3", "W1", "S4", "W2", "S5")

MACHINE = Machine(
    title="Coaster drill and stamp",
    inputs=(
        Input(name="START", kind=InputKind.PUSHBUTTON),
        Input(name="STOP", kind=InputKind.PUSHBUTTON, contact=Contact.NORMALLY_CLOSED),
        Input(name="FINISH", kind=InputKind.PUSHBUTTON),
        *(Input(name=name, kind=InputKind.LIMIT_SWITCH) for name in _SWITCHES),
        Input(name="GUARD", kind=InputKind.SENSOR),
    ),
    loads=tuple(Load(name=n, kind=LoadKind.SOLENOID if n.startswith("SOL") else LoadKind.LAMP) for n in _LOADS),
    start="START",
    stop="STOP",
)


def _on(*outputs: str) -> tuple[Action, ...]:
    return tuple(Action(output=name) for name in outputs)


def _go(name: str, sources: str, targets: str, condition: Condition, words: str = "") -> Transition:
    return Transition(
        name=name,
        sources=tuple(sources.split()),
        targets=tuple(targets.split()),
        condition=condition,
        aborts=tuple(step for step in _WORK if step != sources) if name.startswith("TF") else (),
        words=Words(text=words),
    )


def _made(name: str) -> Condition:
    return Signal(device=name)


_READY = both(Signal(device="START"), Signal(device="LS2"), Not(of=Active(step="M1")))


def _late(step: str, switch: str, seconds: int) -> Condition:
    return both(Elapsed(step=step, time_us=seconds * 1_000_000), Not(of=_made(switch)))


_DONE = Counted(counter="PASSES", at_least=3)
_PASS = Counting(counter="PASSES")
_CLEAR = Counting(counter="PASSES", kind=CountingKind.CLEAR)
_SET, _RESET = (Action(output="BUSY", kind=k) for k in (ActionKind.SET_ON_ENTRY, ActionKind.RESET_ON_ENTRY))
_MET = "never SOL2B with SOL4"

CHART = Chart(
    title=MACHINE.title,
    inputs=tuple(device.name for device in MACHINE.inputs),
    outputs=_LOADS,
    counters=("PASSES",),
    steps=(
        Step(name="S0", initial=True, counting=(_CLEAR,)),
        Step(name="S1", actions=(*_on("SOL1"), _SET), words=Words(text="extend CLAMP until at-end")),
        Step(
            name="S2", actions=_on("SOL1", "SOL2A"), counting=(_PASS,), words=Words(text="extend DRILL until at-end")
        ),
        Step(name="S3", actions=_on("SOL1", "SOL2B"), words=Words(text="retract DRILL until at-home")),
        Step(name="W1", actions=_on("SOL1")),
        Step(name="S4", actions=_on("SOL4"), words=Words(text="extend STAMP until at-end")),
        Step(name="W2", actions=_on("SOL3")),
        Step(name="S5", actions=(_RESET,), words=Words(text="retract CLAMP until at-home")),
        Step(name="F1", actions=(*_on("ALARM"), _RESET), fault="drill did not go through"),
        Step(name="F2", actions=(*_on("ALARM"), _RESET), fault="drill did not come back"),
        Step(name="F3", actions=(*_on("ALARM", "JAM"), _RESET), fault="stamp did not come down"),
        Step(name="M0", initial=True),
        Step(name="M1"),
    ),
    transitions=(
        _go("T1", "S0", "S1", _READY, "again while START is pressed"),
        _go("T2", "S1", "S2 S4", _made("LS1"), "extend CLAMP until at-end"),
        _go("T3", "S2", "S3", _made("LS3"), "extend DRILL until at-end"),
        _go("TF1", "S2", "F1", _late("S2", "LS3", 10), 'within 10 s or fault "drill did not go through"'),
        _go("T4", "S3", "S2", both(_made("LS4"), Not(of=_DONE)), "repeat 3 times"),
        _go("T5", "S3", "W1", both(_made("LS4"), _DONE), "repeat 3 times"),
        _go("TF2", "S3", "F2", _late("S3", "LS4", 10), 'within 10 s or fault "drill did not come back"'),
        _go("T6", "S4", "W2", _made("LS5"), "extend STAMP until at-end"),
        _go("TF3", "S4", "F3", _late("S4", "LS5", 10), 'within 10 s or fault "stamp did not come down"'),
        _go("T7", "W1 W2", "S5", Always()),
        _go("T8", "S5", "S0", _made("LS2"), "retract CLAMP until at-home"),
        _go("T9", "M0", "M1", both(Rise(device="FINISH"), Not(of=Active(step="S0"))), "when FINISH is pressed"),
        _go("T10", "M1", "M0", both(Active(step="S0"), Not(of=_made("START")))),
    ),
    forcing=Forcing(condition=_made("STOP"), words=Words(text="when STOP is pressed, drop out everything")),
    interlocks=(
        Interlock(output="SOL1", only_while=_made("GUARD"), words=Words(text="SOL1 only while GUARD is made")),
        Interlock(output="SOL2B", only_while=Not(of=_made("SOL4")), words=Words(text=_MET)),
        Interlock(output="SOL4", only_while=Not(of=_made("SOL2B")), words=Words(text=_MET)),
    ),
)
