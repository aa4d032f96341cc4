"""A relay circuit as a Logic: every coil a boolean function of contacts, all coils looked at together until stable.

A NO contact of an input is closed while the device is actuated, an NC contact while it is not. Contacts of relays,
timers and counters follow their coil one round later. Of a latching relay whose two coils are live at once the
unlatching one wins. When the supply comes on latching relays are taken to be unlatched and counters to stand at
nought, whatever they were before: a Logic remembers nothing over a loss of supply.
"""

from __future__ import annotations

from collections.abc import Hashable

from compiler.circuit.written import State, compiled, count_of, of_kind, timer_kind
from compiler.logic import Bits, Chattering, Reaction, Timer
from compiler.machine import Machine
from compiler.timers import Phase, operated
from grammar.rungs.judge import microseconds
from grammar.rungs.tree import Circuit, Device, Kind

__all__ = ["CircuitLogic", "circuit_logic"]


def circuit_logic(circuit: Circuit, machine: Machine, *, name: str = "") -> CircuitLogic:
    """The Logic of a circuit that is sound in itself and for the machine (``circuit_faults`` finds nothing)."""
    return CircuitLogic(circuit, machine, name or circuit.title or "the rung list")


class CircuitLogic:
    """See ``circuit_logic``. The state is a flat tuple, each part in the order of the circuit's devices: a bit for
    each relay, a phase for each timer, a bit for each latching relay, and for each counter twice its count and 1 more
    while its count coil is live."""

    def __init__(self, circuit: Circuit, machine: Machine, name: str) -> None:
        self.name = name
        self.inputs = tuple(i.name for i in machine.inputs)
        self.outputs = tuple(load.name for load in machine.loads)
        self._relays = of_kind(circuit, Kind.RELAY)
        self._timed = of_kind(circuit, Kind.TIMER)
        self._latching = of_kind(circuit, Kind.LATCHING_RELAY)
        self._counters = of_kind(circuit, Kind.COUNTER)
        self.timers = tuple(Timer(d.name.text, _preset_us(d)) for d in self._timed)
        self._kinds = tuple(timer_kind(d) for d in self._timed)
        self._at_rest: State = (
            *(False for _ in self._relays),
            *(0 for _ in self._timed),
            *(False for _ in self._latching),
            *(0 for _ in self._counters),
        )
        self._round, self._outputs_of = compiled(circuit, self.inputs, self.outputs)
        self._phases = slice(len(self._relays), len(self._relays) + len(self._timed))

    def power_up(self, inputs: Bits) -> Reaction:
        """Every coil dropped out, every timer reset, every latching relay unlatched and every counter at nought, then
        settled with these inputs."""
        return self._settle(self._at_rest, inputs, frozenset())

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        """See ``compiler.logic.Logic.react``. A timer takes note of its expiry in the first round."""
        assert isinstance(state, tuple)
        return self._settle(state, inputs, expired)

    def lit(self, state: Hashable) -> tuple[str, ...]:
        """The relays that are energised or latched, the timers that are operated, the counters at their count."""
        assert isinstance(state, tuple)
        phases = self._phases
        relays = zip(self._relays, state, strict=False)
        timers = zip(self._timed, self._kinds, state[phases], strict=True)
        latching = zip(self._latching, state[phases.stop :], strict=False)
        counters = zip(self._counters, state[phases.stop + len(self._latching) :], strict=True)
        return (
            *(d.name.text for d, bit in relays if bit),
            *(d.name.text for d, kind, phase in timers if operated(kind, Phase(phase))),
            *(d.name.text for d, bit in latching if bit),
            *(d.name.text for d, value in counters if value >= 2 * count_of(d)),
        )

    def _settle(self, state: State, inputs: Bits, expired: frozenset[int]) -> Reaction:
        started: set[int] = set()
        before, now = state, self._round(state, inputs, expired, started)
        seen: dict[State, None] = {}
        while now != before:
            if now in seen:
                rounds = list(seen)
                raise Chattering(self._changing(rounds[rounds.index(now) :]))
            seen[now] = None
            before, now = now, self._round(now, inputs, frozenset(), started)
        running = frozenset(
            k for k, phase in enumerate(now[self._phases]) if phase in (Phase.RUNNING, Phase.RELEASED)
        )
        return Reaction(now, self._outputs_of(now, inputs), running, frozenset(started) & running)

    def _changing(self, loop: list[State]) -> tuple[str, ...]:
        names = [d.name.text for d in (*self._relays, *self._timed, *self._latching, *self._counters)]
        return tuple(name for k, name in enumerate(names) if len({state[k] for state in loop}) > 1)


def _preset_us(device: Device) -> int:
    time = None if device.preset is None else microseconds(device.preset)
    if time is None:
        raise ValueError(f"the timer {device.name.text} has no sound preset")
    return time
