"""Logic: the one small thing that a chart, a relay circuit and a structured text program all become.

Simulation, comparison and (later) proof are written once, against this interface. A Logic has no clock: it says
which timers run and which start anew, and is told which have expired.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from typing import NamedTuple, Protocol

__all__ = ["Bits", "Chattering", "Logic", "Reaction", "Renamed", "StandIn", "Timer"]

Bits = tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class Timer:
    """A timer of a Logic: a name for messages and its preset in microseconds (> 0)."""

    name: str
    preset_us: int


class Reaction(NamedTuple):
    """A stable situation after a reaction.

    ``state`` is all the memory there is, hashable and comparable. ``running`` are the indices of timers whose
    clocks run in it; ``started`` those of them that began again from zero in this reaction (a timer may stop and
    start again inside one reaction, so this can't be told from two states).
    """

    state: Hashable
    outputs: Bits
    running: frozenset[int] = frozenset()
    started: frozenset[int] = frozenset()


class Chattering(Exception):
    """The logic never settles: the coils, steps or variables named in ``loop`` change for ever at one instant."""

    def __init__(self, loop: tuple[str, ...] = ()) -> None:
        super().__init__("never settles: " + ", ".join(loop))
        self.loop = loop


class Logic(Protocol):
    """One implementation of a machine's control.

    ``inputs`` and ``outputs`` name devices of the Machine; bits are in that order. An input bit is true when the
    device is *actuated* (a Logic that reads wires settles normally closed wiring itself); an output bit is true
    when the load is on.
    """

    @property
    def name(self) -> str:
        """What messages call it: "the sequence as written", "the on-delay dwell rungs"."""
        ...

    @property
    def inputs(self) -> tuple[str, ...]: ...

    @property
    def outputs(self) -> tuple[str, ...]: ...

    @property
    def timers(self) -> tuple[Timer, ...]: ...

    def power_up(self, inputs: Bits) -> Reaction:
        """The first stable situation after the supply comes on with these inputs.

        Raises Chattering if it never settles.
        """
        ...

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        """The stable situation reached from ``state`` when the inputs are now these and the timers in
        ``expired`` have reached their presets at this instant. Raises Chattering if it never settles.
        """
        ...

    def lit(self, state: Hashable) -> tuple[str, ...]:
        """What is on inside: active steps, energised coils, true variables. For timelines and explanations."""
        ...


class StandIn:
    """A logic that stands in for another one and does the same, but for what a subclass says otherwise."""

    def __init__(self, logic: Logic) -> None:
        self.logic = logic

    @property
    def name(self) -> str:
        return self.logic.name

    @property
    def inputs(self) -> tuple[str, ...]:
        return self.logic.inputs

    @property
    def outputs(self) -> tuple[str, ...]:
        return self.logic.outputs

    @property
    def timers(self) -> tuple[Timer, ...]:
        return self.logic.timers

    @property
    def reads(self) -> tuple[str, ...]:
        """The inputs it looks at, where the logic tells."""
        reads: tuple[str, ...] = getattr(self.logic, "reads", self.logic.inputs)
        return reads

    def power_up(self, inputs: Bits) -> Reaction:
        return self.logic.power_up(inputs)

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        return self.logic.react(state, inputs, expired)

    def lit(self, state: Hashable) -> tuple[str, ...]:
        return self.logic.lit(state)


class Renamed(StandIn):
    """The same logic under another name, that of the file it came from, say."""

    def __init__(self, logic: Logic, name: str) -> None:
        super().__init__(logic)
        self._name = name

    @property
    def name(self) -> str:
        return self._name
