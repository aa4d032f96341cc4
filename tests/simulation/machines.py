"""Machines, charts and small hand-made logics to run. All invented."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field

from compiler.chart import Action, Chart, Forcing, Requirement, Step, Transition
from compiler.condition import Condition, Elapsed, Not, Rise, Signal, both
from compiler.logic import Bits, Reaction, Timer
from compiler.machine import (
    Actuator,
    Centre,
    End,
    Input,
    InputKind,
    LimitSwitch,
    Load,
    LoadKind,
    Machine,
    Medium,
    PressureSwitch,
    Rapid,
    Travel,
    TravelBasis,
    Valve,
    ValveKind,
)
from compiler.simulation.run import Event, EventKind
from compiler.timers import Phase, TimerKind, advance

SECOND = 1_000_000


def travel(least: int, usual: int, greatest: int) -> Travel:
    return Travel(least_us=least, usual_us=usual, greatest_us=greatest, basis=TravelBasis.STATED)


def cylinder(
    name: str,
    valve: Valve,
    switches: tuple[LimitSwitch, ...],
    *,
    times: Travel | None = None,
    pressure: tuple[PressureSwitch, ...] = (),
    rest: End = End.HOME,
    stroke_um: int = 100_000,
) -> Actuator:
    whole = times or travel(SECOND, 1_500_000, 2 * SECOND)
    return Actuator(
        name=name,
        medium=Medium.PNEUMATIC,
        stroke_um=stroke_um,
        rest=rest,
        valve=valve,
        extend_time=whole,
        retract_time=whole,
        limit_switches=switches,
        pressure_switches=pressure,
    )


def end_switches(end: str, home: str, stroke_um: int = 100_000) -> tuple[LimitSwitch, ...]:
    return (
        LimitSwitch(name=end, at_um=stroke_um, reset_um=1_000, toward=End.END),
        LimitSwitch(name=home, at_um=0, reset_um=1_000, toward=End.HOME),
    )


def machine(actuators: tuple[Actuator, ...], outside: tuple[Input, ...], lamps: tuple[str, ...] = ()) -> Machine:
    limits = (Input(name=s.name, kind=InputKind.LIMIT_SWITCH) for a in actuators for s in a.limit_switches)
    pressures = (Input(name=p.name, kind=InputKind.PRESSURE_SWITCH) for a in actuators for p in a.pressure_switches)
    solenoids = (s for a in actuators for s in a.valve.solenoids)
    return Machine(
        title="Test stand",
        actuators=actuators,
        inputs=(*limits, *pressures, *outside),
        loads=(
            *(Load(name=s, kind=LoadKind.SOLENOID) for s in solenoids),
            *(Load(name=x, kind=LoadKind.LAMP) for x in lamps),
        ),
        start="START",
        stop="STOP",
    )


SINGLE = Valve(kind=ValveKind.SPRING_RETURN, extend="SOL1")
MEMORY = Valve(kind=ValveKind.MEMORY, extend="SOL1A", retract="SOL1B")


def centred(centre: Centre, rapid: Rapid | None = None) -> Valve:
    """A three-position valve with the solenoids of the memory valve."""
    kind = ValveKind.THREE_POSITION
    return Valve(kind=kind, extend="SOL1A", retract="SOL1B", centre=centre, rapid=rapid)


BUTTONS = (Input(name="START", kind=InputKind.PUSHBUTTON), Input(name="STOP", kind=InputKind.PUSHBUTTON))
DWELL = machine((cylinder("RAM", SINGLE, end_switches("LS1", "LS2")),), BUTTONS)


def on(*names: str) -> tuple[Action, ...]:
    return tuple(Action(output=name) for name in names)


def link(number: int, source: str, target: str, condition: Condition) -> Transition:
    return Transition(name=f"T{number}", sources=(source,), targets=(target,), condition=condition)


def dwell_chart(
    *, dwell_us: int = 30 * SECOND, trigger: Condition | None = None, requirements: tuple[Requirement, ...] = ()
) -> Chart:
    """Extend until the end switch, hold, retract until the home switch."""
    return Chart(
        title=DWELL.title,
        inputs=tuple(i.name for i in DWELL.inputs),
        outputs=("SOL1",),
        steps=(
            Step(name="S0", initial=True),
            Step(name="S1", actions=on("SOL1")),
            Step(name="S2", actions=on("SOL1")),
            Step(name="S3"),
        ),
        transitions=(
            link(1, "S0", "S1", both(trigger or Rise(device="START"), Signal(device="LS2"))),
            link(2, "S1", "S2", Signal(device="LS1")),
            link(3, "S2", "S3", Elapsed(step="S2", time_us=dwell_us)),
            link(4, "S3", "S0", Signal(device="LS2")),
        ),
        forcing=Forcing(condition=Signal(device="STOP")),
        requirements=requirements,
    )


DWELL_CHART = dwell_chart()

SENSOR_MACHINE = machine(
    (cylinder("RAM", SINGLE, end_switches("LS1", "LS2")),),
    (*BUTTONS, Input(name="PART", kind=InputKind.SENSOR), Input(name="EJECT", kind=InputKind.PUSHBUTTON)),
    lamps=("BUSY",),
)
SENSOR_CHART = Chart(
    title=SENSOR_MACHINE.title,
    inputs=tuple(i.name for i in SENSOR_MACHINE.inputs),
    outputs=("SOL1", "BUSY"),
    steps=(
        Step(name="S0", initial=True),
        Step(name="S1", actions=on("BUSY")),
        Step(name="S2", actions=on("SOL1", "BUSY")),
        Step(name="S3", actions=on("SOL1", "BUSY")),
        Step(name="S4", actions=on("BUSY")),
        Step(name="F1", fault="no part came"),
    ),
    transitions=(
        link(1, "S0", "S1", both(Rise(device="START"), Signal(device="LS2"))),
        link(2, "S1", "S2", Signal(device="PART")),
        link(3, "S1", "F1", both(Elapsed(step="S1", time_us=4 * SECOND), Not(of=Signal(device="PART")))),
        link(4, "S2", "S3", Signal(device="LS1")),
        link(5, "S3", "S4", both(Rise(device="EJECT"), Not(of=Signal(device="PART")))),
        link(6, "S4", "S0", Signal(device="LS2")),
    ),
    forcing=Forcing(condition=Signal(device="STOP")),
)


def event(at_us: int, device: str, is_on: bool) -> Event:
    return Event(at_us=at_us, kind=EventKind.INPUT, device=device, on=is_on)


def supply(at_us: int, is_on: bool) -> Event:
    return Event(at_us=at_us, kind=EventKind.SUPPLY, on=is_on)


def jam(at_us: int, actuator: str, is_on: bool = True) -> Event:
    return Event(at_us=at_us, kind=EventKind.JAM, device=actuator, on=is_on)


@dataclass(frozen=True)
class Wire:
    """The smallest logic: outputs are a function of inputs, remembered by nothing."""

    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    rule: Callable[[Bits], Bits]
    name: str = "a wire"
    timers: tuple[Timer, ...] = ()

    def power_up(self, inputs: Bits) -> Reaction:
        return Reaction((), self.rule(inputs))

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        return Reaction((), self.rule(inputs))

    def lit(self, state: Hashable) -> tuple[str, ...]:
        return ()


@dataclass(frozen=True)
class SealIn:
    """The textbook dwell circuit: a sealed-in relay, its end switch starting an on-delay that breaks the seal.

    CR1 = (START or CR1) and not STOP and not T1; T1 runs while CR1 is on and LS1 is made; SOL1 = CR1 (common
    practice). It forgets nothing of the sequence but that START must be pressed anew.
    """

    preset_us: int = 30 * SECOND
    obeys_stop: bool = True
    name: str = "the seal-in rungs"
    inputs: tuple[str, ...] = ("START", "STOP", "LS1")
    outputs: tuple[str, ...] = ("SOL1",)
    timers: tuple[Timer, ...] = field(default=())

    def __post_init__(self) -> None:
        object.__setattr__(self, "timers", (Timer("T1", self.preset_us),))

    def power_up(self, inputs: Bits) -> Reaction:
        return self.react((False, Phase.IDLE), inputs)

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        assert isinstance(state, tuple)
        relay, phase = state
        start, stop, at_end = inputs
        over, started = 0 in expired, False
        for _ in range(10):
            turn = advance(TimerKind.ON_DELAY, phase, relay and at_end, over)
            over, started = False, started or turn.started
            after = (start or relay) and not (stop and self.obeys_stop) and turn.phase is not Phase.DONE
            if (after, turn.phase) == (relay, phase):
                break
            relay, phase = after, turn.phase
        running = frozenset({0} if phase is Phase.RUNNING else ())
        return Reaction((relay, phase), (relay,), running, running if started else frozenset())

    def lit(self, state: Hashable) -> tuple[str, ...]:
        assert isinstance(state, tuple)
        return (*(("CR1",) if state[0] else ()), *(("T1",) if state[1] is Phase.DONE else ()))
