"""A chart and a relay circuit as formulas, for bounded model checking; written from their trees alone.

Neither uses the compiler's Logics: a circuit is read from ``grammar.rungs.tree``, its timers from the tables of IEC
61131-3 and the time-relay functions (from memory), a chart from the evolution rules of IEC 60848 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import z3  # type: ignore[import-untyped]  # it comes without types

from compiler.chart import ActionKind, Chart
from compiler.condition import Active, Always, And, Condition, Elapsed, Not, Or, Rise, Signal, Sustained, walk
from grammar.rungs.judge import microseconds
from grammar.rungs.tree import (
    Circuit,
    Contact,
    Device,
    Form,
    Kind,
    Network,
    Parallel,
    Series,
    Terminal,
    TimerFunction,
)

__all__ = ["Bit", "Bits", "ChartFormulas", "CircuitFormulas", "Logical", "Look"]

Bit = Any  # a z3 boolean; z3's own types are not precise enough to be of use
Bits = dict[str, Bit]


@dataclass
class Look:
    """What a logic sees in one look: devices and edges by name, expired timers by name."""

    inputs: Bits
    rises: Bits
    expired: Bits


class Logical(Protocol):
    """A logic as formulas: named bits of state, some of which are running timers with presets."""

    names: tuple[str, ...]
    presets: dict[str, int]

    def first(self) -> Bits: ...
    def look(self, state: Bits, seen: Look) -> tuple[Bits, Bits]:
        """The state after one look, and the timers that start in it."""
        ...

    def running(self, state: Bits, timer: str) -> Bit: ...
    def outputs(self, state: Bits, inputs: Bits) -> Bits: ...


class CircuitFormulas:
    """A timer has three bits: its clock runs; it is done; its input was seen off while its pulse runs."""

    def __init__(self, circuit: Circuit, loads: Sequence[str]) -> None:
        self.loads = loads
        self.relays = [d.name.text for d in circuit.devices if d.kind is Kind.RELAY]
        self.timers = {d.name.text: d for d in circuit.devices if d.kind is Kind.TIMER}
        self.devices = {d.name.text: d for d in circuit.devices}
        self.fed = {(f.name.text, f.terminal): rung.network for rung in circuit.rungs for f in rung.feeds}
        self.presets = {name: microseconds(d.preset) or 0 for name, d in self.timers.items() if d.preset is not None}
        self.names = (*self.relays, *(f"{t}.{bit}" for t in self.timers for bit in ("runs", "done", "off")))

    def first(self) -> Bits:
        return {name: z3.BoolVal(False) for name in self.names}

    def running(self, state: Bits, timer: str) -> Bit:
        return state[f"{timer}.runs"]

    def outputs(self, state: Bits, inputs: Bits) -> Bits:
        return {load: self._coil(load, Terminal.COIL, state, inputs, unfed=False) for load in self.loads}

    def look(self, state: Bits, seen: Look) -> tuple[Bits, Bits]:
        after = {name: self._coil(name, Terminal.COIL, state, seen.inputs, unfed=False) for name in self.relays}
        starts: Bits = {}
        for name, timer in self.timers.items():
            runs, done, off, starts[name] = self._timer(name, timer, state, seen)
            after |= {f"{name}.runs": runs, f"{name}.done": done, f"{name}.off": off}
        return after, starts

    def _coil(self, name: str, terminal: Terminal, state: Bits, inputs: Bits, *, unfed: bool) -> Bit:
        network = self.fed.get((name, terminal))
        return z3.BoolVal(unfed) if network is None else self._conducts(network, state, inputs)

    def _conducts(self, network: Network, state: Bits, inputs: Bits) -> Bit:
        match network:
            case Series(parts=parts):
                return z3.And([self._conducts(part, state, inputs) for part in parts])
            case Parallel(parts=parts):
                return z3.Or([self._conducts(part, state, inputs) for part in parts])
            case Contact(name=name, form=form):
                closed = self._made(name.text, form, state, inputs)
                return z3.Not(closed) if form in (Form.NC, Form.NCTO, Form.NCTC) else closed

    def _made(self, name: str, form: Form, state: Bits, inputs: Bits) -> Bit:
        """Whether the device holds its NO contact of that sort closed."""
        if name in inputs:
            return inputs[name]
        if name in state:
            return state[name]
        runs, done = state[f"{name}.runs"], state[f"{name}.done"]
        at_once = form in (Form.NO, Form.NC)
        match self.timers[name].function:
            case TimerFunction.ON_DELAY:
                return z3.Or(runs, done) if at_once else done
            case TimerFunction.OFF_DELAY:
                return done if at_once else z3.Or(runs, done)
            case _:
                return runs

    def _timer(self, name: str, timer: Device, state: Bits, seen: Look) -> tuple[Bit, Bit, Bit, Bit]:
        supply = self._coil(name, Terminal.SUPPLY, state, seen.inputs, unfed=True)
        apart = (name, Terminal.SUPPLY) in self.fed
        terminal = Terminal.COIL if (name, Terminal.COIL) in self.fed else Terminal.CONTROL
        on = self._coil(name, terminal, state, seen.inputs, unfed=apart)
        runs, done, off = (state[f"{name}.{bit}"] for bit in ("runs", "done", "off"))
        over = seen.expired.get(name, z3.BoolVal(False))
        goes_on = z3.And(runs, z3.Not(over))
        idle = z3.Not(z3.Or(runs, done))
        no = z3.BoolVal(False)
        match timer.function:
            case TimerFunction.ON_DELAY:
                starts = z3.And(on, idle)
                after = (z3.And(on, z3.Or(goes_on, starts)), z3.And(on, z3.Or(done, z3.And(runs, over))), no)
            case TimerFunction.OFF_DELAY:
                starts = z3.And(z3.Not(on), done)
                after = (z3.And(z3.Not(on), z3.Or(goes_on, starts)), on, no)
            case TimerFunction.ONE_SHOT:
                starts = z3.And(on, idle)
                after = (z3.Or(goes_on, starts), z3.And(on, z3.Not(goes_on), z3.Not(starts)), no)
            case _:  # a released pulse begins again as its input returns, even at the instant it would be over
                starts = z3.Or(z3.And(on, idle), z3.And(on, runs, off))
                pulse = z3.Or(goes_on, starts)
                after = (pulse, z3.And(on, z3.Not(pulse)), z3.And(goes_on, z3.Not(on)))
        return (*(z3.And(supply, bit) for bit in after), z3.And(supply, starts))


class ChartFormulas:
    """Active steps, and for every time in a step whether it runs or is over."""

    def __init__(self, chart: Chart, loads: Sequence[str]) -> None:
        self.chart, self.loads = chart, loads
        parts = [part for condition in chart.conditions for part in walk(condition)]
        if any(isinstance(part, Sustained) for part in parts):
            raise NotImplementedError("sustained conditions")
        actions = [action for step in chart.steps for action in step.actions]
        if any(a.kind is not ActionKind.CONTINUOUS or a.condition != Always() for a in actions):
            raise NotImplementedError("stored or conditional actions")
        self.timed = {f"{p.step}@{p.time_us}": p.step for p in parts if isinstance(p, Elapsed)}
        self.presets = {f"{p.step}@{p.time_us}": p.time_us for p in parts if isinstance(p, Elapsed)}
        self.steps = tuple(step.name for step in chart.steps)
        self.initial = {step.name for step in chart.steps if step.initial}
        self.names = (*self.steps, *(f"{t}.{bit}" for t in self.timed for bit in ("runs", "done")))

    def first(self) -> Bits:
        state = {step: z3.BoolVal(step in self.initial) for step in self.steps}
        for timer, step in self.timed.items():
            state |= {f"{timer}.runs": z3.BoolVal(step in self.initial), f"{timer}.done": z3.BoolVal(False)}
        return state

    def running(self, state: Bits, timer: str) -> Bit:
        return state[f"{timer}.runs"]

    def outputs(self, state: Bits, inputs: Bits) -> Bits:
        on: dict[str, list[Bit]] = {load: [] for load in self.loads}
        for step in self.chart.steps:
            for action in step.actions:
                on[action.output].append(state[step.name])
        return {load: z3.Or(bits) for load, bits in on.items()}

    def look(self, state: Bits, seen: Look) -> tuple[Bits, Bits]:
        state = dict(state)
        for timer, over in seen.expired.items():
            runs = state[f"{timer}.runs"]
            state[f"{timer}.done"] = z3.Or(state[f"{timer}.done"], z3.And(runs, over))
            state[f"{timer}.runs"] = z3.And(runs, z3.Not(over))
        forcing = self.chart.forcing
        forced = z3.BoolVal(False) if forcing is None else self._holds(forcing.condition, state, seen)
        clears = [
            (t, z3.And([state[s] for s in t.sources] + [self._holds(t.condition, state, seen)]))
            for t in self.chart.transitions
        ]
        after: Bits = {}
        for step in self.steps:
            comes = z3.Or([clear for t, clear in clears if step in t.targets])
            goes = z3.Or([clear for t, clear in clears if step in t.sources])
            free = z3.Or(comes, z3.And(state[step], z3.Not(goes)))
            after[step] = z3.If(forced, z3.BoolVal(step in self.initial), free)
        starts: Bits = {}
        for timer, step in self.timed.items():
            starts[timer] = z3.And(after[step], z3.Not(state[step]))
            stays = z3.And(after[step], state[step])
            after[f"{timer}.runs"] = z3.Or(starts[timer], z3.And(stays, state[f"{timer}.runs"]))
            after[f"{timer}.done"] = z3.And(stays, state[f"{timer}.done"])
        return after, starts

    def _holds(self, condition: Condition, state: Bits, seen: Look) -> Bit:
        match condition:
            case Always():
                return z3.BoolVal(True)
            case Signal(device=name):
                return seen.inputs[name]
            case Rise(device=name):
                return seen.rises[name]
            case Active(step=name):
                return state[name]
            case Elapsed(step=step, time_us=time):
                return state[f"{step}@{time}.done"]
            case Not(of=part):
                return z3.Not(self._holds(part, state, seen))
            case And(of=parts):
                return z3.And([self._holds(part, state, seen) for part in parts])
            case Or(of=parts):
                return z3.Or([self._holds(part, state, seen) for part in parts])
            case _:
                raise NotImplementedError(condition.kind)
