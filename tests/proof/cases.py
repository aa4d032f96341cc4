"""Small machines, charts and circuits to try the proof on, with times of a few units each.

A unit is 10 ms, the time a pressure switch takes to let go; a tick of the tick explorer is a quarter of that.
"""

from __future__ import annotations

import random
import re
from collections.abc import Mapping
from dataclasses import dataclass

from compiler.chart import Action, ActionKind, Chart, Forcing, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.circuit import circuit_logic
from compiler.condition import Condition, Elapsed, Not, Rise, Signal, Sustained, both, either
from compiler.logic import Logic
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
    RapidKind,
    Travel,
    TravelBasis,
    Valve,
    ValveKind,
)
from grammar.rungs import read
from grammar.rungs.judge import forms
from grammar.rungs.tree import (
    Circuit,
    Contact,
    Device,
    Feed,
    Kind,
    Name,
    Network,
    Parallel,
    Preset,
    Rung,
    Series,
    Terminal,
    TimerFunction,
)
from grammar.source import Source
from targets.relay import TARGET
from targets.target import Artefact, Options

__all__ = [
    "ARRANGEMENTS",
    "AT_HOME",
    "RESET",
    "STROKE",
    "TICK",
    "UNIT",
    "Case",
    "arranged",
    "arrangement_cases",
    "changed_chart",
    "chart",
    "circuit",
    "logic",
    "press",
    "random_chart",
    "random_circuit",
    "random_machine",
    "travel",
]

UNIT = 10_000
TICK = UNIT // 4
STROKE = 100_000
RESET = 20_000  # a fifth of a stroke: long enough for the tick explorer to see the switch still made

ARRANGEMENTS = ("on-delay", "off-delay", "one-shot", "step-chain")
AT_HOME = both(Rise(device="START"), Signal(device="LS2"))


@dataclass(frozen=True, slots=True)
class Case:
    """Two logics on one machine."""

    name: str
    driver: Logic
    shadow: Logic
    machine: Machine


def travel(least: int, greatest: int) -> Travel:
    """A stroke time between so many units."""
    basis = TravelBasis.STATED
    return Travel(least_us=least * UNIT, usual_us=greatest * UNIT, greatest_us=greatest * UNIT, basis=basis)


def press(
    *,
    least: int = 2,
    greatest: int = 4,
    kind: ValveKind = ValveKind.SPRING_RETURN,
    pressure: int = 0,
    more: tuple[LimitSwitch, ...] = (),
) -> Machine:
    """One cylinder with a switch at each end; times in units. ``pressure``: PS1 builds up in so much."""
    switches = (
        LimitSwitch(name="LS1", at_um=STROKE, reset_um=RESET, toward=End.END),
        LimitSwitch(name="LS2", at_um=0, reset_um=RESET, toward=End.HOME),
        *more,
    )
    pressures = (PressureSwitch(name="PS1", pressure_bar=80, build_up_us=pressure * UNIT),) if pressure else ()
    ram = Actuator(
        name="RAM",
        medium=Medium.HYDRAULIC,
        stroke_um=STROKE,
        valve=Valve(kind=kind, extend="SOL1", retract="SOL2" if kind is ValveKind.MEMORY else None),
        extend_time=travel(least, greatest),
        retract_time=travel(least, greatest),
        limit_switches=switches,
        pressure_switches=pressures,
    )
    inputs = [Input(name=name, kind=InputKind.PUSHBUTTON) for name in ("START", "STOP")]
    inputs += [Input(name=s.name, kind=InputKind.LIMIT_SWITCH) for s in switches]
    inputs += [Input(name=s.name, kind=InputKind.PRESSURE_SWITCH) for s in pressures]
    loads = [Load(name=name, kind=LoadKind.SOLENOID) for name in ("SOL1", "SOL2")]
    loads.append(Load(name="LAMP", kind=LoadKind.LAMP))
    return Machine(actuators=(ram,), inputs=tuple(inputs), loads=tuple(loads), start="START", stop="STOP")


def chart(
    machine: Machine,
    trigger: Condition = AT_HOME,
    *,
    hold: int = 3,
    out: Condition | None = None,
    back: Condition | None = None,
    stop: bool = True,
) -> Chart:
    """Extend, hold so many units, retract."""
    on = (Action(output="SOL1"),)
    off = (Action(output="SOL2"),) if machine.actuators[0].valve.retract else ()
    steps = (
        Step(name="S0", initial=True),
        Step(name="S1", actions=on),
        Step(name="S2", actions=on),
        Step(name="S3", actions=off),
    )
    ends = (
        trigger,
        out or Signal(device="LS1"),
        Elapsed(step="S2", time_us=hold * UNIT),
        back or Signal(device="LS2"),
    )
    ways = (("S0", "S1"), ("S1", "S2"), ("S2", "S3"), ("S3", "S0"))
    return Chart(
        inputs=tuple(i.name for i in machine.inputs),
        outputs=tuple(load.name for load in machine.loads),
        steps=steps,
        transitions=tuple(
            Transition(name=f"T{k}", sources=(a,), targets=(b,), condition=c)
            for k, ((a, b), c) in enumerate(zip(ways, ends, strict=True), start=1)
        ),
        forcing=Forcing(condition=Signal(device="STOP")) if stop else None,
    )


def circuit(machine: Machine, timers: Mapping[str, str], *rungs: str) -> Circuit:
    """A circuit from its rungs, ``START or CR1, STOP NC, feeds CR1``; ``timers``: ``{"TR1": "on-delay 3"}`` in units.
    Every other device in it that the machine does not have is a relay."""
    known = {device.name for device in (*machine.inputs, *machine.loads)} | set(timers)
    words = {word for rung in rungs for word in re.findall(r"\b[A-Z]+[0-9]+\b", rung)}
    lines = [f"{i.kind} {i.name}" for i in machine.inputs]
    lines += [f"relay {name}" for name in sorted(words - known)]
    lines += [
        f"timer {name}, {re.sub('[0-9]+$', lambda n: f'{int(n[0]) * UNIT} us', what)}"
        for name, what in timers.items()
    ]
    lines += [f"{load.kind} {load.name}" for load in machine.loads]
    lines += [f"rung {k}: {rung}" for k, rung in enumerate(rungs, start=1)]
    reading = read(Source("case.rungs", 'circuit "Case"\n\n' + "\n".join(lines) + "\n"))
    assert reading.sound, reading.diagnostics
    return reading.tree


def logic(machine: Machine, timers: Mapping[str, str], *rungs: str) -> Logic:
    """The Logic of such a circuit."""
    return circuit_logic(circuit(machine, timers, *rungs), machine)


def arranged(arrangement: str, of: Chart, machine: Machine, *, anti_repeat: bool = False) -> Circuit:
    """A chart in relays, as printed."""
    options = Options(anti_repeat=anti_repeat, arrangements=(arrangement,))
    rungs = next(iter(TARGET.emit(machine, of, options=options)))
    assert isinstance(rungs, Artefact), rungs
    return read(Source(rungs.file, rungs.text)).tree


def arrangement_cases() -> tuple[Case, ...]:
    """The chart beside every arrangement of it, with and without an anti-repeat relay or a home contact."""
    machine = press()
    cases = []
    for name in ARRANGEMENTS:
        for anti_repeat in (False, True):
            for home in (True, False):
                of = chart(machine, AT_HOME if home else Rise(device="START"))
                drawn = arranged(name, of, machine, anti_repeat=anti_repeat)
                told = f"{name}{', anti-repeat' * anti_repeat}{', home contact' * home}"
                cases.append(Case(told, chart_logic(of), circuit_logic(drawn, machine), machine))
    return tuple(cases)


def random_circuit(seed: int, machine: Machine) -> Circuit:
    """A small sound circuit for a machine, with up to two relays and two timers of one to four units."""
    rng = random.Random(seed)
    inputs = [Device(Kind(str(i.kind)), Name(i.name)) for i in machine.inputs]
    relays = [Device(Kind.RELAY, Name(f"CR{k}")) for k in range(rng.randint(1, 2))]
    timers = [_random_timer(rng, k) for k in range(rng.randint(0, 2))]
    loads = [Device(Kind(str(load.kind)), Name(load.name)) for load in _loads(machine)]
    feeds = [Feed(device.name) for device in (*relays, *loads)]
    for timer in timers:
        apart = timer.function in (TimerFunction.ONE_SHOT, TimerFunction.RETRIGGERABLE) or rng.random() < 0.3
        feeds += [Feed(timer.name, t) for t in (Terminal.SUPPLY, Terminal.CONTROL)] if apart else [Feed(timer.name)]
    seen = [*inputs, *relays, *timers]
    rungs = tuple(Rung(k, _random_network(rng, seen, 2), (feed,)) for k, feed in enumerate(feeds, start=1))
    return Circuit("", (), (*inputs, *relays, *timers, *loads), rungs)


def _loads(machine: Machine) -> list[Load]:
    """The loads, without a second solenoid that the valve does not have."""
    double = any(actuator.valve.retract for actuator in machine.actuators)
    return [load for load in machine.loads if load.name != "SOL2" or double]


def _random_timer(rng: random.Random, k: int) -> Device:
    preset = Preset(str(rng.randint(1, 4) * UNIT), "us")
    return Device(Kind.TIMER, Name(f"TR{k}"), rng.choice(list(TimerFunction)), preset)


def _random_network(rng: random.Random, devices: list[Device], depth: int) -> Network:
    if depth == 0 or rng.random() < 0.3:
        device = rng.choice(devices)
        return Contact(device.name, rng.choice(forms(device)))
    kind: type[Series] | type[Parallel] = rng.choice((Series, Parallel))
    parts = [_random_network(rng, devices, depth - 1) for _ in range(rng.randint(2, 3))]
    flat = [inner for part in parts for inner in (part.parts if isinstance(part, kind) else (part,))]
    return kind(tuple(flat))


def random_chart(seed: int, machine: Machine) -> Chart:
    """A ring of two to four steps that move things, wait for switches, presses and times, and may write outputs."""
    rng = random.Random(seed)
    devices = [i.name for i in machine.inputs]
    loads = [load.name for load in _loads(machine)]
    names = [f"S{k}" for k in range(rng.randint(2, 4))]
    steps = []
    for name in names:
        written = rng.sample(loads, rng.randint(0, len(loads)))
        actions = tuple(Action(output=load, kind=rng.choice(_KINDS)) for load in written)
        steps.append(Step(name=name, initial=name == "S0", actions=actions))
    ways = [(a, b) for a, b in zip(names, [*names[1:], names[0]], strict=True)]
    ways += [(names[0], names[-1])] * (rng.random() < 0.3)
    return Chart(
        inputs=tuple(devices),
        outputs=tuple(load.name for load in machine.loads),
        steps=tuple(steps),
        transitions=tuple(
            Transition(name=f"T{k}", sources=(a,), targets=(b,), condition=_random_condition(rng, a, devices, 2))
            for k, (a, b) in enumerate(ways)
        ),
        forcing=Forcing(condition=Signal(device="STOP")) if rng.random() < 0.6 else None,
    )


_KINDS = (ActionKind.CONTINUOUS, ActionKind.CONTINUOUS, ActionKind.SET_ON_ENTRY, ActionKind.RESET_ON_EXIT)


def _random_condition(rng: random.Random, step: str, devices: list[str], depth: int) -> Condition:
    time = rng.randint(1, 4) * UNIT
    device = rng.choice(devices)
    match rng.randint(0, 5 if depth else 3):
        case 0:
            return Rise(device=device)
        case 1:
            return Elapsed(step=step, time_us=time)
        case 2:
            return Sustained(of=Signal(device=device), time_us=time)
        case 3:
            return Signal(device=device) if rng.random() < 0.5 else Not(of=Signal(device=device))
        case 4:
            return both(*(_random_condition(rng, step, devices, depth - 1) for _ in range(2)))
        case _:
            return either(*(_random_condition(rng, step, devices, depth - 1) for _ in range(2)))


def changed_chart(seed: int, of: Chart, machine: Machine) -> Chart:
    """The chart with the condition of one transition replaced."""
    rng = random.Random(seed)
    k = rng.randrange(len(of.transitions))
    was = of.transitions[k]
    condition = _random_condition(rng, was.sources[0], [i.name for i in machine.inputs], 1)
    changed = was.model_copy(update={"condition": condition})
    return of.model_copy(update={"transitions": (*of.transitions[:k], changed, *of.transitions[k + 1 :])})


def random_machine(seed: int) -> Machine:
    """One rod that rests at either end, with any valve, perhaps quick on the way out, two to four switches anywhere
    and perhaps pressure switches.

    No place where a switch makes is one where another lets go: which of them comes first there is nobody's business.
    """
    rng = random.Random(seed)
    rest = rng.choice(list(End))
    resets = rng.sample((21_000, 23_000, 27_000, 29_000), 4)
    switches = [
        LimitSwitch(
            name=f"LS{k + 1}", at_um=STROKE // 8 * rng.randint(0, 8), reset_um=resets[k], toward=rng.choice(list(End))
        )
        for k in range(rng.randint(2, 4))
    ]
    pressures = [
        PressureSwitch(name=f"PS{k + 1}", pressure_bar=80, build_up_us=rng.randint(1, 3) * UNIT, toward=end)
        for k, end in enumerate(rng.sample(list(End), rng.randint(0, 2)))
    ]
    kind = rng.choice(list(ValveKind))
    double = kind is not ValveKind.SPRING_RETURN
    quick = Rapid(kind=RapidKind.RAPID, solenoid="FAST", time=travel(1, 1)) if rng.random() < 0.3 else None
    rod = Actuator(
        name="RAM",
        medium=Medium.PNEUMATIC,
        stroke_um=STROKE,
        single_acting=not double and rng.random() < 0.3,
        rest=rest,
        valve=Valve(
            kind=kind,
            extend="SOL1" if double or rest is End.HOME else None,
            retract="SOL2" if double or rest is End.END else None,
            centre=rng.choice(list(Centre)) if kind is ValveKind.THREE_POSITION else None,
            rapid=quick,
        ),
        extend_time=travel(2, 4),
        retract_time=travel(1, 2),
        limit_switches=tuple(switches),
        pressure_switches=tuple(pressures),
    )
    inputs = [Input(name=name, kind=InputKind.PUSHBUTTON) for name in ("START", "STOP")]
    inputs += [Input(name=s.name, kind=InputKind.LIMIT_SWITCH) for s in switches]
    inputs += [Input(name=s.name, kind=InputKind.PRESSURE_SWITCH) for s in pressures]
    loads = [Load(name=name, kind=LoadKind.SOLENOID) for name in ("SOL1", "SOL2", *(["FAST"] if quick else []))]
    loads.append(Load(name="LAMP", kind=LoadKind.LAMP))
    return Machine(actuators=(rod,), inputs=tuple(inputs), loads=tuple(loads), start="START", stop="STOP")
