"""A circuit whose contacts take their time: where its parts stand, and what may move next."""

from __future__ import annotations

from compiler.logic import Bits, Reaction
from compiler.machine import Machine
from compiler.races.parts import ANEW, Part, Role, folded, parts_of
from compiler.races.stimulus import Stimulus
from compiler.races.written_out import Move, State, nets_of, written_out
from compiler.timers import Phase
from grammar.rungs.tree import Circuit

__all__ = ["Motion"]

_REMEMBERS = (Role.RELAY, Role.CLOCK, Role.LATCH, Role.COUNT)
_CONTACTS = (Role.RELAY, Role.LATCH)


class Motion:
    """The parts of a circuit, how they may move, and the way between a ``CircuitLogic``'s states and theirs."""

    def __init__(self, circuit: Circuit, machine: Machine) -> None:
        self.inputs = tuple(i.name for i in machine.inputs)
        self.loads = tuple(load.name for load in machine.loads)
        self.parts = parts_of(circuit, self.inputs)
        self.moves, self._overdue, self.outputs = written_out(circuit, self.parts, self.inputs, self.loads)
        self.kinds = {folded(device): device.kind for device in circuit.devices}
        self.nets = nets_of(circuit, self.parts, self.loads)
        self._memory = [k for k, part in enumerate(self.parts) if part.role in _REMEMBERS]
        self._clocks = [k for k, part in enumerate(self.parts) if part.role is Role.CLOCK]
        names = [name.casefold() for name in self.inputs]
        self._wires = [
            (k, names.index(folded(part.device)), part.gap)
            for k, part in enumerate(self.parts)
            if part.role is Role.INPUT
        ]

    @property
    def memory(self) -> tuple[Part, ...]:
        """The parts whose places are the state of a ``CircuitLogic``, in its order."""
        return tuple(self.parts[k] for k in self._memory)

    def to_make(self, state: State, inputs: Bits) -> Bits:
        """Those inputs, of the ones that stand in the middle, that will be actuated: all a move may ask of inputs."""
        return tuple(inputs[wire] for k, wire, _ in self._wires if state[k] == 1)

    def before(self, stimulus: Stimulus) -> Bits:
        """The outputs before the stimulus."""
        if stimulus.before is None:
            return (False,) * len(self.loads)
        return self.outputs(self._settled(stimulus.before, stimulus.was))

    def start(self, stimulus: Stimulus) -> State:
        """Where the parts stand straight after a stimulus, before any relay has moved.

        Changed inputs have broken but, where they have both NO and NC contacts, not yet made. The clocks that
        expire have looked at their input once, as in the first round of a ``CircuitLogic``.
        """
        if stimulus.before is None:
            return self._settled((0,) * len(self._memory), stimulus.inputs)
        now = self._settled(stimulus.before, stimulus.inputs)
        standing = list(now)
        if stimulus.expired:
            due = self._overdue(now)
            for clock in stimulus.expired:
                standing[self._clocks[clock]] = due[clock]
        for k, wire, gap in self._wires:
            if gap and stimulus.was[wire] != stimulus.inputs[wire]:
                standing[k] = 1
        return tuple(standing)

    def _settled(self, state: object, inputs: Bits) -> State:
        """The positions of all parts in a settled state of the ``CircuitLogic``."""
        assert isinstance(state, tuple)
        standing = [0] * len(self.parts)
        for k, wire, _ in self._wires:
            standing[k] = 2 * inputs[wire]
        for k, value in zip(self._memory, state, strict=True):
            standing[k] = 2 * bool(value) if self.parts[k].role in _CONTACTS else int(value)
        # Contacts that follow a clock or a count are where it says; nothing else about them is remembered.
        following = {k for k, part in enumerate(self.parts) if part.role in (Role.TIMED, Role.INSTANT)}
        while moves := [move for move in self.moves(tuple(standing), inputs) if move[0] in following]:
            for k, value in moves:
                standing[k] = value
        return tuple(standing)

    def step(self, state: State, move: Move) -> State:
        k, value = move
        return (*state[:k], value, *state[k + 1 :])

    def reaction(self, state: State) -> Reaction:
        """A state in which nothing moves any more, as the reaction a ``CircuitLogic`` would have told."""
        memory = tuple(self._remembered(k, state[k]) for k in self._memory)
        running = {n for n, k in enumerate(self._clocks) if state[k] % ANEW in (Phase.RUNNING, Phase.RELEASED)}
        anew = {n for n, k in enumerate(self._clocks) if state[k] >= ANEW}
        return Reaction(memory, self.outputs(state), frozenset(running), frozenset(anew))

    def _remembered(self, k: int, place: int) -> int:
        match self.parts[k].role:
            case Role.RELAY | Role.LATCH:
                return place == 2
            case Role.CLOCK:
                return place % ANEW
            case _:
                return place
