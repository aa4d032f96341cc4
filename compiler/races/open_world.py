"""Situations to look at where no proof engine tells which can be reached: whatever one change at a time leads to."""

from __future__ import annotations

from collections import deque
from collections.abc import Hashable, Iterator
from dataclasses import dataclass

from compiler.logic import Bits, Chattering, Logic, Reaction
from compiler.races.stimulus import Stimulus

__all__ = ["World", "open_world"]


@dataclass(frozen=True, slots=True)
class World:
    """``complete`` unless the walk was cut short at its limit."""

    stimuli: tuple[Stimulus, ...]
    complete: bool


def open_world(logic: Logic, *, limit: int = 20_000) -> World:
    """Every stimulus of one input that changes or one timer that expires, from whatever that leads to.

    The inputs are free of the machine: any may change at any time, both ends of a stroke may be made at once. The
    supply comes on with any inputs that come up. Timers run out in any order, whatever their presets. What never
    settles leads no further. At most ``limit`` stimuli.
    """
    rest = (False,) * len(logic.inputs)
    stimuli: list[Stimulus] = []
    known: set[tuple[Hashable, Bits]] = set()
    powered = {rest}
    waiting: deque[Stimulus] = deque([Stimulus(None, rest, rest)])
    while waiting:
        if len(stimuli) == limit:
            return World(tuple(stimuli), complete=False)
        stimulus = waiting.popleft()
        stimuli.append(stimulus)
        if stimulus.inputs not in powered:
            powered.add(stimulus.inputs)
            waiting.append(Stimulus(None, stimulus.inputs, stimulus.inputs))
        reaction = _settled(logic, stimulus)
        if reaction is not None and (reaction.state, stimulus.inputs) not in known:
            known.add((reaction.state, stimulus.inputs))
            waiting.extend(_changes(reaction, stimulus.inputs))
    return World(tuple(stimuli), complete=True)


def _settled(logic: Logic, stimulus: Stimulus) -> Reaction | None:
    try:
        if stimulus.before is None:
            return logic.power_up(stimulus.inputs)
        return logic.react(stimulus.before, stimulus.inputs, stimulus.expired)
    except Chattering:
        return None


def _changes(reaction: Reaction, inputs: Bits) -> Iterator[Stimulus]:
    for k, on in enumerate(inputs):
        yield Stimulus(reaction.state, inputs, (*inputs[:k], not on, *inputs[k + 1 :]))
    for timer in sorted(reaction.running):
        yield Stimulus(reaction.state, inputs, inputs, frozenset({timer}))
