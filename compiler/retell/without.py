"""A Logic without some of its outputs."""

from __future__ import annotations

from collections.abc import Hashable

from compiler.logic import Bits, Logic, Reaction, Timer

__all__ = ["Without"]


class Without:
    """The Logic, but that some loads are not driven by it."""

    def __init__(self, logic: Logic, loads: frozenset[str]) -> None:
        self._logic = logic
        self._kept = tuple(k for k, name in enumerate(logic.outputs) if name not in loads)
        self.name = logic.name
        self.inputs: tuple[str, ...] = logic.inputs
        self.outputs = tuple(logic.outputs[k] for k in self._kept)
        self.timers: tuple[Timer, ...] = logic.timers

    def power_up(self, inputs: Bits) -> Reaction:
        """See ``compiler.logic.Logic.power_up``."""
        return self._less(self._logic.power_up(inputs))

    def react(self, state: Hashable, inputs: Bits, expired: frozenset[int] = frozenset()) -> Reaction:
        """See ``compiler.logic.Logic.react``."""
        return self._less(self._logic.react(state, inputs, expired))

    def lit(self, state: Hashable) -> tuple[str, ...]:
        """See ``compiler.logic.Logic.lit``."""
        return self._logic.lit(state)

    def _less(self, reaction: Reaction) -> Reaction:
        return reaction._replace(outputs=tuple(reaction.outputs[k] for k in self._kept))
