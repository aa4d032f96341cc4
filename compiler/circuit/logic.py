"""A relay circuit as a Logic: every coil a boolean function of contacts, all coils looked at together until stable.

A NO contact of an input is closed while the device is actuated, an NC contact while it is not. Contacts of relays,
timers and counters follow their coil one round later. Of a latching relay whose two coils are live at once the
unlatching one wins. When the supply comes on latching relays are taken to be unlatched and counters to stand at
nought, whatever they were before: a Logic remembers nothing over a loss of supply.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator

from compiler.circuit.settling import Settling
from compiler.circuit.wiring import State, coils_of, count_of, timer_kind
from compiler.logic import Bits, Reaction, Timer
from compiler.machine import Machine
from compiler.timers import Phase, operated
from grammar.diagnostic import Diagnostic
from grammar.rungs.judge import microseconds
from grammar.rungs.tree import Circuit, Device, Kind, contacts

__all__ = ["CircuitLogic", "circuit_logic"]

_NONE: frozenset[int] = frozenset()
_CLOCK_RUNS = (Phase.RUNNING, Phase.RELEASED)


def circuit_logic(circuit: Circuit, machine: Machine, *, name: str = "") -> CircuitLogic:
    """The Logic of a circuit that is sound in itself and for the machine (``circuit_faults`` finds nothing)."""
    return CircuitLogic(circuit, machine, name or circuit.title or "the rung list")


class CircuitLogic:
    """See ``circuit_logic``. The state is a flat tuple, each part in the order of the circuit's devices: a bit for
    each relay, a phase for each timer, a bit for each latching relay, and for each counter twice its count and 1 more
    while its count coil is live. ``reads`` are the inputs that it has contacts of."""

    def __init__(self, circuit: Circuit, machine: Machine, name: str) -> None:
        self.circuit = circuit
        self.notices: tuple[Diagnostic, ...] = ()  # worth knowing about the text it was read from
        self.name = name
        self.inputs = tuple(i.name for i in machine.inputs)
        self.outputs = tuple(load.name for load in machine.loads)
        used = {c.name.text.casefold() for rung in circuit.rungs for c in contacts(rung.network)}
        self.reads = tuple(name for name in self.inputs if name.casefold() in used)
        self._coils = coils_of(circuit)
        timed = [k for k, device in enumerate(self._coils) if device.kind is Kind.TIMER]
        self.timers = tuple(Timer(self._coils[k].name.text, _preset_us(self._coils[k])) for k in timed)
        self._phases = slice(timed[0], timed[-1] + 1) if timed else None
        self._running: dict[State, frozenset[int]] = {}  # the timers whose clocks run, by the phases of all
        self._at_rest: State = tuple(0 if d.kind in (Kind.TIMER, Kind.COUNTER) else False for d in self._coils)
        self._settling = Settling(circuit, self.inputs, self.outputs)

    def power_up(self, inputs: Bits) -> Reaction:
        """Every coil dropped out, every timer reset, every latching relay unlatched and every counter at nought, then
        settled with these inputs."""
        return self._settle(self._at_rest, inputs, frozenset())

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        """See ``compiler.logic.Logic.react``. A timer takes note of its expiry in the first round."""
        assert isinstance(state, tuple)
        return self._settle(state, inputs, expired)

    def rounds(self, state: Hashable | None, inputs: Bits, expired: frozenset[int] = frozenset()) -> Iterator[State]:
        """Every state that ``react`` goes through, the one it starts from first and the stable one last; ``power_up``
        where there is none to start from. Each has a value for each of ``coils_of`` the circuit. Endless where it
        never settles."""
        assert state is None or isinstance(state, tuple)
        return self._settling.rounds(self._at_rest if state is None else state, inputs, expired)

    def lit(self, state: Hashable) -> tuple[str, ...]:
        """The relays that are energised or latched, the timers that are operated, the counters at their count, and
        the others with what they have counted."""
        assert isinstance(state, tuple)
        return tuple(_told(d, value) for d, value in zip(self._coils, state, strict=True) if _on(d, value))

    def _settle(self, state: State, inputs: Bits, expired: frozenset[int]) -> Reaction:
        started: set[int] = set()
        now, outputs = self._settling.settle(state, inputs, expired, started)
        if self._phases is None:
            return Reaction(now, outputs)
        phases = now[self._phases]
        running = self._running.get(phases)
        if running is None:
            running = self._running[phases] = frozenset([k for k, p in enumerate(phases) if p in _CLOCK_RUNS])
        return Reaction(now, outputs, running, running & started if started else _NONE)


def _on(device: Device, value: int) -> bool:
    match device.kind:
        case Kind.TIMER:
            return operated(timer_kind(device), Phase(value))
        case Kind.COUNTER:
            return value >= 2
        case _:
            return bool(value)


def _told(device: Device, value: int) -> str:
    """A device by its name; a counter on its way with its count, of which each takes two and its live coil one."""
    counting = device.kind is Kind.COUNTER and value < 2 * count_of(device)
    return f"{device.name.text} = {value // 2}" if counting else device.name.text


def _preset_us(device: Device) -> int:
    time = None if device.preset is None else microseconds(device.preset)
    if time is None:
        raise ValueError(f"the timer {device.name.text} has no sound preset")
    return time
