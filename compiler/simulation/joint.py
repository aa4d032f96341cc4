"""One joint reaction of one or more logics to the same inputs: the piece that simulation and proof share.

Nothing here knows a clock or a plant. Whoever does says what is actuated and which timers of each logic expire at
this instant, gets back the stable reactions of all of them, and compares their outputs.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from functools import lru_cache

from compiler.logic import Bits, Chattering, Logic, Reaction

__all__ = ["Answer", "Wired", "differing", "react_together"]

Answer = Reaction | Chattering
"""A stable reaction, or the reason there is none."""


class Wired:
    """A logic as it stands in one machine: its inputs picked from ``devices``, its outputs brought to ``loads``.

    A load the logic does not drive is off. Raises KeyError when the logic asks for an input that is not among the
    devices. Reactions are remembered: the same state, inputs and expiries have the same answer.
    """

    def __init__(self, logic: Logic, devices: Sequence[str], loads: Sequence[str]) -> None:
        places = {name: k for k, name in enumerate(devices)}
        driven = {name: k for k, name in enumerate(logic.outputs)}
        self.logic = logic
        self.presets = tuple(timer.preset_us for timer in logic.timers)
        self._picked = tuple(places[name] for name in logic.inputs)
        self._whole = self._picked == tuple(range(len(devices)))
        self._driven = tuple(driven.get(name) for name in loads)
        self._react: Callable[[Hashable, Bits, frozenset[int]], Reaction] = lru_cache(maxsize=1 << 16)(logic.react)

    def answer(self, before: Reaction | None, actuated: Bits, expired: frozenset[int] = frozenset()) -> Answer:
        """What the logic does; ``before`` is None when the supply has only just come on."""
        inputs = actuated if self._whole else tuple(actuated[k] for k in self._picked)
        try:
            return self.logic.power_up(inputs) if before is None else self._react(before.state, inputs, expired)
        except Chattering as chattering:
            return Chattering(chattering.loop)

    def outputs(self, reaction: Reaction | None) -> Bits:
        """The loads that are on; all off when the supply is off."""
        if reaction is None:
            return (False,) * len(self._driven)
        return tuple(k is not None and reaction.outputs[k] for k in self._driven)


def react_together(
    wired: Sequence[Wired],
    before: Sequence[Reaction | None],
    actuated: Bits,
    expired: Sequence[frozenset[int]],
) -> tuple[Answer, ...]:
    """All of them react to the same inputs at the same instant, each until it is stable."""
    return tuple(w.answer(b, actuated, e) for w, b, e in zip(wired, before, expired, strict=True))


def differing(driver: Bits, shadow: Bits) -> int | None:
    """The place of the first load that is on in one and off in the other, or None."""
    if driver == shadow:
        return None
    return next(k for k, (a, b) in enumerate(zip(driver, shadow, strict=True)) if a != b)
