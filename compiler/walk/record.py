"""The causal record of a run: instant by instant what happened and why, taken from the bench as the run goes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from compiler.chart import Chart
from compiler.chart_logic import ChartLogic, chart_logic
from compiler.circuit.logic import CircuitLogic
from compiler.logic import Logic, StandIn
from compiler.machine import Actuator, Centre, Machine, Medium, Motor, MotorKind, ValveKind
from compiler.simulation.bench import Bench, wire
from compiler.simulation.run import Event, EventKind, Outcome, Scenario
from compiler.simulation.simulate import follow
from compiler.walk.changes import (
    InputChange,
    Instant,
    MotorChange,
    OutputChange,
    PumpChange,
    StepChange,
    Stroke,
    World,
)
from compiler.walk.evolution import Moment, evolved
from compiler.walk.tracer import Settled, Tracer

__all__ = ["Record", "circuit_of", "record"]


@dataclass(frozen=True, slots=True)
class Record:
    """A run with its causes. ``circuit`` tells whether rungs are known; ``loop`` what never settles at the end."""

    scenario: Scenario
    instants: tuple[Instant, ...]
    ended_us: int
    circuit: bool
    loop: tuple[str, ...] = ()
    gone_on: bool = True


def circuit_of(logic: Logic) -> CircuitLogic | None:
    """The relay circuit that a logic is, perhaps under another name."""
    inner = logic.logic if isinstance(logic, StandIn) else logic
    return inner if isinstance(inner, CircuitLogic) else None


def record(
    machine: Machine, logic: Logic, scenario: Scenario, chart: Chart | None = None, *, causes: bool = True
) -> Record:
    """What happens in a scenario, and why. A chart follows the same inputs, and tells the steps. Without ``causes``
    only what happens, which takes a third of the time: neither coils nor transitions are followed.

    Raises KeyError when the logic or an event names a device that the machine does not have.
    """
    recorder = _Recorder(machine, logic, chart, causes)
    wired = [wire(machine, logic)]
    if recorder.steps is not None and recorder.steps is not logic:
        wired.append(wire(machine, recorder.steps))
    ending = follow(machine, wired, scenario, watch=recorder.look, after_us=scenario.duration_us)
    return Record(
        scenario,
        tuple(recorder.instants),
        ending.ended_us,
        circuit_of(logic) is not None,
        ending.loop,
        ending.outcome is not Outcome.TOO_MANY_EVENTS,
    )


@dataclass
class _Recorder:
    machine: Machine
    logic: Logic
    chart: Chart | None
    causes: bool
    instants: list[Instant] = field(default_factory=list)
    motion: dict[str, tuple[int, bool]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        circuit = circuit_of(self.logic)
        self.tracer = Tracer(circuit) if circuit is not None and self.causes else None
        own = self.logic if isinstance(self.logic, ChartLogic) else None
        self.steps: ChartLogic | None = own or (None if self.chart is None else chart_logic(self.chart))
        self.switches = {
            s.name: a.name for a in self.machine.actuators for s in (*a.limit_switches, *a.pressure_switches)
        }
        self.motion = {a.name: (0, False) for a in self.machine.actuators}
        self.supplied = self.wanting = False
        self.since_us: dict[str, int] = {}
        self.counts: dict[str, int] = {}

    def look(self, bench: Bench, events: tuple[Event, ...]) -> None:
        """Note one instant. One at which the circuit never settles is the end of the run, and is not told."""
        if 0 in bench.chattering:
            return
        last = self.instants[-1] if self.instants else None
        actuated = frozenset(i.name for i, bit in zip(self.machine.inputs, bench.actuated, strict=True) if bit)
        on = frozenset(bench.on(0))
        settled = self._settled(bench)
        outputs = tuple(self._outputs(last.on if last else frozenset(), on, settled))
        expired = tuple(self.logic.timers[k].name for k in sorted(bench.expired[0]))
        strokes = tuple(self._strokes(bench, outputs))
        was_on = last.on if last else frozenset()
        follow_steps = self.causes and self.tracer is None
        steps = self._steps(bench, last, actuated) if follow_steps else None
        instant = Instant(
            at_us=bench.now_us,
            world=tuple(self._world(bench, events)),
            inputs=tuple(self._inputs(last.actuated if last else frozenset(), actuated)),
            expired=expired,
            coils=settled.rounds,
            sealed=settled.sealed,
            held=settled.held,
            refused=settled.refused,
            steps=steps,
            outputs=outputs,
            motors=tuple(self._motors(was_on, on)),
            strokes=strokes,
            pump=self._pump(bench, on),
            timing=tuple((self.logic.timers[k].name, due) for k, due in sorted(bench.clocks(0).items())),
            supply=bench.supply,
            active=frozenset(self._active(bench)),
            parted=bench.outputs[0] != bench.outputs[-1],
            actuated=actuated,
            on=on,
            lit=bench.lit(0),
            moving=frozenset(n for n, (_, way) in bench.plant.motion(bench.now_us).items() if way),
            places=tuple((n, at) for n, (at, _) in bench.plant.motion(bench.now_us).items()),
        )
        self.supplied = bench.supply
        self.instants.append(instant)

    # --- the world and the machine ----------------------------------------------------------------------------

    def _world(self, bench: Bench, events: tuple[Event, ...]) -> Iterator[World]:
        if bench.supply is not self.supplied:
            yield World("supply", "", bench.supply)
        for event in events:
            if event.kind not in (EventKind.INPUT, EventKind.SUPPLY):
                yield World(str(event.kind), event.device, event.on)

    def _inputs(self, before: frozenset[str], now: frozenset[str]) -> Iterator[InputChange]:
        for device in self.machine.inputs:
            if (device.name in before) is not (device.name in now):
                yield InputChange(device.name, device.name in now, self.switches.get(device.name, ""))

    def _settled(self, bench: Bench) -> Settled:
        if self.tracer is None:
            return Settled()
        if not bench.supply:
            return self.tracer.off()
        named = dict(zip((i.name for i in self.machine.inputs), bench.actuated, strict=True))
        return self.tracer.settle(tuple(named[name] for name in self.logic.inputs), bench.expired[0])

    def _outputs(self, before: frozenset[str], now: frozenset[str], settled: Settled) -> Iterator[OutputChange]:
        terminals = {name.casefold(): change for name, change in settled.loads.items()}
        for load in self.machine.loads:
            if (load.name in before) is not (load.name in now):
                yield OutputChange(load.name, load.name in now, terminals.get(load.name.casefold()))

    def _motors(self, before: frozenset[str], now: frozenset[str]) -> Iterator[MotorChange]:
        for motor in self.machine.motors:
            ways = [_running(motor.forward in on, motor.reverse in on) for on in (before, now)]
            if ways[0] != ways[1]:
                yield MotorChange(motor.name, ways[1])

    def _strokes(self, bench: Bench, outputs: tuple[OutputChange, ...]) -> Iterator[Stroke]:
        rapid = bench.plant.rapid(bench.now_us)
        for name, (position_um, way) in bench.plant.motion(bench.now_us).items():
            now, was = (way, name in rapid), self.motion[name]
            if now != was:
                actuator = self.machine.actuator(name)
                solenoids = tuple(o for o in outputs if o.signal in actuator.valve.solenoids)
                place = _place(actuator, position_um)
                yield Stroke(name, position_um, was[0], way, now[1], place, solenoids)
            self.motion[name] = now

    # --- the pump ---------------------------------------------------------------------------------------------

    def _pump(self, bench: Bench, on: frozenset[str]) -> PumpChange | None:
        ways = {name: way for name, (_, way) in bench.plant.motion(bench.now_us).items()}
        wanted, was = self._wants(ways, on), self.wanting
        self.wanting = wanted
        return None if wanted is was else PumpChange(wanted, "" if wanted else self._unloaded(on))

    def _wants(self, ways: dict[str, int], on: frozenset[str]) -> bool:
        """Whether oil of the pump goes anywhere: into a cylinder, but for one that its spring brings back, or
        through a motor."""
        rods = any(
            ways[a.name] and not (a.single_acting and ways[a.name] < 0)
            for a in self.machine.actuators
            if a.medium is Medium.HYDRAULIC
        )
        turning = (_running(m.forward in on, m.reverse in on) for m in self._turned_by_oil())
        return rods or any(turning)

    def _turned_by_oil(self) -> Iterator[Motor]:
        return (m for m in self.machine.motors if m.kind is MotorKind.HYDRAULIC)

    def _unloaded(self, on: frozenset[str]) -> str:
        for actuator in self.machine.actuators:
            valve = actuator.valve
            centred = valve.kind is ValveKind.THREE_POSITION and (valve.extend in on) is (valve.retract in on)
            if centred and valve.centre is Centre.TANDEM and actuator.medium is Medium.HYDRAULIC:
                return actuator.name
        return ""

    # --- the chart --------------------------------------------------------------------------------------------

    def _active(self, bench: Bench) -> tuple[str, ...]:
        return () if self.steps is None else bench.lit(len(bench.wired) - 1)

    def _steps(self, bench: Bench, last: Instant | None, actuated: frozenset[str]) -> StepChange | None:
        if self.steps is None:
            return None
        active = frozenset(self._active(bench))
        risen = frozenset() if last is None else actuated - last.actuated
        before = frozenset[str]() if last is None else last.active
        moment = Moment(bench.now_us, actuated, risen, before, dict(self.since_us), dict(self.counts))
        change = evolved(self.steps.chart, active, moment)
        again = () if change is None else (name for t in change.transitions for name in t.targets)
        for name in active - before | active.intersection(again) if change is not None else ():
            self.since_us[name] = bench.now_us
        reaction = bench.reactions[-1]
        for counter in self.steps.chart.counters:
            self.counts[counter] = 0 if reaction is None else self.steps.count(reaction.state, counter)
        return change


def _running(forward: bool, reverse: bool) -> str:
    return "forward" if forward and not reverse else "in reverse" if reverse and not forward else ""


def _place(actuator: Actuator, position_um: int) -> str:
    return "home" if position_um == 0 else "end" if position_um == actuator.stroke_um else ""
