"""A relay circuit as a Logic: every coil a boolean function of contacts, all coils looked at together until stable.

A NO contact of an input is closed while the device is actuated, an NC contact while it is not. Contacts of relays
and timers follow their coil one round later. What a circuit does in a round is written out once as straight-line
Python and compiled: simulation and proof run it a great many times.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from typing import Any

from compiler.logic import Bits, Chattering, Reaction, Timer
from compiler.machine import Machine
from compiler.timers import Phase, TimerKind, advance, operated
from grammar.diagnostic import Diagnostic
from grammar.rungs.faults import fault
from grammar.rungs.judge import microseconds
from grammar.rungs.tree import (
    INPUTS,
    LOADS,
    Circuit,
    Contact,
    Device,
    Form,
    Kind,
    Network,
    Parallel,
    Rung,
    Series,
    Terminal,
)

__all__ = ["CircuitLogic", "circuit_faults", "circuit_logic"]

_State = tuple[int, ...]
_Round = Callable[[_State, Bits, frozenset[int], set[int]], _State]
_Outputs = Callable[[_State, Bits], Bits]


def circuit_faults(circuit: Circuit, machine: Machine) -> tuple[Diagnostic, ...]:
    """The inputs and loads of a circuit that the machine does not have."""
    inputs = {i.name.casefold() for i in machine.inputs}
    loads = {load.name.casefold() for load in machine.loads}
    found = []
    for device in circuit.devices:
        name = device.name
        missing = (device.kind in INPUTS and name.text.casefold() not in inputs) or (
            device.kind in LOADS and name.text.casefold() not in loads
        )
        if missing:
            message = f"the machine has no {device.kind} {name.text}"
            cure = "correct the name, or add the device to the machine"
            found.append(fault("RW425", message, name.span.start, name.span.end, cure=cure))
    return tuple(found)


def circuit_logic(circuit: Circuit, machine: Machine, *, name: str = "") -> CircuitLogic:
    """The Logic of a circuit that is sound in itself and for the machine (``circuit_faults`` finds nothing)."""
    return CircuitLogic(circuit, machine, name or circuit.title or "the rung list")


class CircuitLogic:
    """See ``circuit_logic``. The state is a flat tuple: a bit for each relay, then a phase for each timer."""

    def __init__(self, circuit: Circuit, machine: Machine, name: str) -> None:
        self.name = name
        self.inputs = tuple(i.name for i in machine.inputs)
        self.outputs = tuple(load.name for load in machine.loads)
        self._relays = [d for d in circuit.devices if d.kind is Kind.RELAY]
        self._timed = [d for d in circuit.devices if d.kind is Kind.TIMER]
        self.timers = tuple(Timer(d.name.text, _preset_us(d)) for d in self._timed)
        self._kinds = tuple(_timer_kind(d) for d in self._timed)
        self._at_rest: _State = (False,) * len(self._relays) + (0,) * len(self._timed)
        self._round, self._outputs_of = _compiled(circuit, self.inputs, self.outputs)
        self._from = len(self._relays)

    def power_up(self, inputs: Bits) -> Reaction:
        """Every coil dropped out and every timer reset, then settled with these inputs."""
        return self._settle(self._at_rest, inputs, frozenset())

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        """See ``compiler.logic.Logic.react``. A timer takes note of its expiry in the first round."""
        assert isinstance(state, tuple)
        return self._settle(state, inputs, expired)

    def lit(self, state: Hashable) -> tuple[str, ...]:
        """The relays whose coils are energised and the timers that are operated."""
        assert isinstance(state, tuple)
        relays = [d.name.text for d, bit in zip(self._relays, state, strict=False) if bit]
        timers = [
            d.name.text
            for d, kind, phase in zip(self._timed, self._kinds, state[self._from :], strict=True)
            if operated(kind, Phase(phase))
        ]
        return (*relays, *timers)

    def _settle(self, state: _State, inputs: Bits, expired: frozenset[int]) -> Reaction:
        started: set[int] = set()
        before, now = state, self._round(state, inputs, expired, started)
        seen: dict[_State, None] = {}
        while now != before:
            if now in seen:
                rounds = list(seen)
                raise Chattering(self._changing(rounds[rounds.index(now) :]))
            seen[now] = None
            before, now = now, self._round(now, inputs, frozenset(), started)
        running = frozenset(
            k for k, phase in enumerate(now[self._from :]) if phase in (Phase.RUNNING, Phase.RELEASED)
        )
        return Reaction(now, self._outputs_of(now, inputs), running, frozenset(started) & running)

    def _changing(self, loop: list[_State]) -> tuple[str, ...]:
        names = [d.name.text for d in (*self._relays, *self._timed)]
        return tuple(name for k, name in enumerate(names) if len({state[k] for state in loop}) > 1)


def _preset_us(device: Device) -> int:
    time = None if device.preset is None else microseconds(device.preset)
    if time is None:
        raise ValueError(f"the timer {device.name.text} has no sound preset")
    return time


def _timer_kind(device: Device) -> TimerKind:
    return TimerKind(str(device.function))


# --- written out as Python ------------------------------------------------------------------------------------


def _compiled(circuit: Circuit, inputs: tuple[str, ...], outputs: tuple[str, ...]) -> tuple[_Round, _Outputs]:
    """The two functions of a circuit: what one round makes of a state, and the outputs of a stable state."""
    source = "\n".join(_source(circuit, inputs, outputs))
    scope: dict[str, Any] = {f"T{k}": _table(kind) for k, kind in enumerate(TimerKind)}
    exec(compile(source, "<rung list>", "exec"), scope)  # the text is ours: names of devices never enter it
    return scope["one_round"], scope["outputs"]


def _table(kind: TimerKind) -> tuple[int, ...]:
    """``advance`` as a table: index phase*4 + energised*2 + expired, value phase*2 + started."""
    turns = [advance(kind, phase, on, over) for phase in Phase for on in (False, True) for over in (False, True)]
    return tuple(turn.phase * 2 + turn.started for turn in turns)


def _source(circuit: Circuit, inputs: tuple[str, ...], outputs: tuple[str, ...]) -> Iterator[str]:
    relays = [d for d in circuit.devices if d.kind is Kind.RELAY]
    timers = [d for d in circuit.devices if d.kind is Kind.TIMER]
    variables = {name.casefold(): f"a{k}" for k, name in enumerate(inputs)}
    variables |= {d.name.text.casefold(): f"r{k}" for k, d in enumerate(relays)}
    variables |= {d.name.text.casefold(): f"p{k}" for k, d in enumerate(timers)}
    devices = {d.name.text.casefold(): d for d in circuit.devices}
    fed = {(feed.name.text.casefold(), feed.terminal): rung for rung in circuit.rungs for feed in rung.feeds}

    def coil(device: Device, terminal: Terminal, unfed: str) -> str:
        rung = fed.get((device.name.text.casefold(), terminal))
        return unfed if rung is None else _expression(rung.network, devices, variables)

    # "pass" and the trailing commas keep the text well-formed when a circuit has no relays, timers or loads.
    state = "".join(f"r{k}, " for k in range(len(relays))) + "".join(f"p{k}, " for k in range(len(timers)))
    unpack = [f"    ({state}) = s" if state else "    pass"]
    unpack += [f"    ({''.join(f'a{k}, ' for k in range(len(inputs)))}) = i"] if inputs else []
    yield from ["def one_round(s, i, e, started):", *unpack]
    for k, relay in enumerate(relays):
        yield f"    n{k} = {coil(relay, Terminal.COIL, 'False')}"
    for k, timer in enumerate(timers):
        yield from _timer_source(k, timer, coil)
    following = "".join(f"n{k}, " for k in range(len(relays)))
    yield f"    return ({following}{''.join(f'q{k} >> 1, ' for k in range(len(timers)))})"
    yield from ["def outputs(s, i):", *unpack]
    loads = [fed.get((name.casefold(), Terminal.COIL)) for name in outputs]
    values = "".join(f"{_load(rung, devices, variables)}, " for rung in loads)
    yield f"    return ({values})"


def _load(rung: Rung | None, devices: dict[str, Device], variables: dict[str, str]) -> str:
    return "False" if rung is None else _expression(rung.network, devices, variables)


def _timer_source(k: int, timer: Device, coil: Callable[[Device, Terminal, str], str]) -> Iterator[str]:
    """The next phase of a timer: without its supply it is reset at once, whatever it was doing."""
    supply = coil(timer, Terminal.SUPPLY, "True")
    control = coil(timer, Terminal.COIL, "") or coil(timer, Terminal.CONTROL, "True" if supply != "True" else "False")
    table = list(TimerKind).index(_timer_kind(timer))
    yield f"    q{k} = T{table}[p{k} * 4 + ({control}) * 2 + ({k} in e)] if {supply} else 0"
    yield f"    if q{k} & 1: started.add({k})"


def _expression(network: Network, devices: dict[str, Device], variables: dict[str, str]) -> str:
    match network:
        case Contact(name=name, form=form):
            return _contact(devices[name.text.casefold()], form, variables[name.text.casefold()])
        case Series(parts=()):
            return "True"
        case Series(parts=parts):
            return f"({' and '.join(_expression(part, devices, variables) for part in parts)})"
        case Parallel(parts=parts):
            return f"({' or '.join(_expression(part, devices, variables) for part in parts)})"


def _contact(device: Device, form: Form, variable: str) -> str:
    if device.kind is not Kind.TIMER:
        return variable if form is Form.NO else f"(not {variable})"
    phases = tuple(int(phase) for phase in Phase if _closed(_timer_kind(device), form, phase))
    return f"({variable} in {phases})"


def _closed(kind: TimerKind, form: Form, phase: Phase) -> bool:
    """Whether a timer's contact is closed. NO and NC of an on-delay and an off-delay follow its input at once."""
    match form:
        case Form.NO:
            return _instant(kind, phase)
        case Form.NC:
            return not _instant(kind, phase)
        case Form.NOTC | Form.NOTO:
            return operated(kind, phase)
        case Form.NCTO | Form.NCTC:
            return not operated(kind, phase)


def _instant(kind: TimerKind, phase: Phase) -> bool:
    match kind:
        case TimerKind.ON_DELAY:
            return phase is not Phase.IDLE
        case TimerKind.OFF_DELAY:
            return phase is Phase.DONE
        case TimerKind.ONE_SHOT | TimerKind.RETRIGGERABLE:
            return operated(kind, phase)
