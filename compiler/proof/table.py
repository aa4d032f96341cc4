"""A logic as a table that grows as it is asked: states are small numbers, inputs and outputs are bit masks."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import cast

from compiler.logic import Bits, Chattering, Logic, Reaction, Timer
from compiler.proof.leaves import Look, plain

__all__ = ["CHATTERS", "OFF", "Nothing", "Table"]

OFF = -1
"""The state without supply."""
CHATTERS = -2
"""The state of a logic that never settles."""


class Nothing:
    """A logic that reads nothing and does nothing: the shadow where there is only one logic."""

    name = "nothing"
    inputs: tuple[str, ...] = ()
    outputs: tuple[str, ...] = ()
    timers: tuple[Timer, ...] = ()

    def power_up(self, inputs: Bits) -> Reaction:
        return Reaction((), ())

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        return Reaction((), ())

    def lit(self, state: Hashable) -> tuple[str, ...]:
        return ()


_Turn = tuple[int, frozenset[int]]
_NONE: frozenset[int] = frozenset()


class Table:
    """One logic in a machine whose inputs and loads have the given order; bit k is the k-th of them. Its timers are
    counted from ``timers_from``.

    Raises KeyError when the logic asks for an input that is not among the devices.
    """

    def __init__(self, logic: Logic, devices: Sequence[str], loads: Sequence[str], *, timers_from: int = 0) -> None:
        self.logic = logic
        self._timers_from = timers_from
        self.presets = tuple(timer.preset_us for timer in logic.timers)
        places = {name: k for k, name in enumerate(devices)}
        self._picked = tuple(places[name] for name in logic.inputs)
        driven = {name: k for k, name in enumerate(loads)}
        self._loads = tuple((k, 1 << driven[name]) for k, name in enumerate(logic.outputs) if name in driven)
        reads: Sequence[str] = getattr(logic, "reads", logic.inputs)
        self.reads = sum(1 << places[name] for name in reads)
        self.states: list[Hashable] = []
        self.outputs: list[int] = []
        self.running: list[tuple[int, ...]] = []
        self._shown: list[int] = []
        self._lights: dict[tuple[str, ...], int] = {}
        self.loops: dict[tuple[int, int, frozenset[int]], tuple[str, ...]] = {}
        self._ids: dict[tuple[Hashable, int], int] = {}
        self._turns: dict[tuple[int, int, frozenset[int]], _Turn] = {}
        self._bits: dict[int, Bits] = {}
        self._masks: dict[Bits, int] = {}

    def turn(self, state: int, inputs: int, expired: frozenset[int] = _NONE) -> _Turn:
        """The state after a reaction, and the timers that started anew in it. ``OFF`` powers up."""
        key = (state, inputs & self.reads, expired)
        known = self._turns.get(key)
        if known is None:
            known = self._turns[key] = self._work_out(key, inputs)
        return known

    def turn_with(self, state: int, looks: Sequence[Look], expired: frozenset[int]) -> _Turn:
        """The same, with inputs that note when they are looked at; nothing is remembered of it."""
        picked = tuple(looks[k] for k in self._picked)
        bits = cast(Bits, picked)
        before = None if state < 0 else self.states[state]
        try:
            reaction = self.logic.power_up(bits) if state < 0 else self.logic.react(before, bits, expired)
            outputs = tuple([bool(bit) for bit in reaction.outputs])
            reaction = Reaction(plain(reaction.state), outputs, reaction.running, reaction.started)
        except Chattering:
            return CHATTERS, _NONE
        return self._number(reaction), reaction.started

    def on(self, state: int) -> int:
        """The loads that are on."""
        return self.outputs[state] if state >= 0 else 0

    def runs(self, state: int) -> tuple[int, ...]:
        """The numbers of the timers whose clocks run, in order."""
        return self.running[state] if state >= 0 else ()

    def shown(self, state: int) -> int:
        """A number for what is on inside: the same for the same."""
        return self._shown[state] if state >= 0 else state

    def lit(self, state: int) -> tuple[str, ...]:
        """What is on inside."""
        return self.logic.lit(self.states[state]) if state >= 0 else ()

    def loop(self, state: int, inputs: int, expired: frozenset[int]) -> tuple[str, ...]:
        """What never settles in a reaction that ended in ``CHATTERS``."""
        return self.loops.get((state, inputs & self.reads, expired), ())

    def _work_out(self, key: tuple[int, int, frozenset[int]], inputs: int) -> _Turn:
        state, _, expired = key
        bits = self._bits.get(inputs)
        if bits is None:
            bits = self._bits[inputs] = tuple([inputs >> k & 1 == 1 for k in self._picked])
        try:
            before = None if state < 0 else self.states[state]
            reaction = self.logic.power_up(bits) if state < 0 else self.logic.react(before, bits, expired)
        except Chattering as chattering:
            self.loops[key] = chattering.loop
            return CHATTERS, _NONE
        return self._number(reaction), reaction.started

    def _number(self, reaction: Reaction) -> int:
        outputs = self._masks.get(reaction.outputs)
        if outputs is None:
            outputs = self._masks[reaction.outputs] = sum(bit for k, bit in self._loads if reaction.outputs[k])
        key = (reaction.state, outputs)
        known = self._ids.get(key)
        if known is None:
            known = self._ids[key] = len(self.states)
            self.states.append(reaction.state)
            self.outputs.append(outputs)
            self._shown.append(self._lights.setdefault(self.logic.lit(reaction.state), len(self._lights)))
            self.running.append(tuple([k + self._timers_from for k in sorted(reaction.running)]))
        return known
