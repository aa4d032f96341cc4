"""What sets a circuit at rest moving: inputs that change, timers that expire, or the supply coming on."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

from compiler.logic import Bits

__all__ = ["Stimulus"]


@dataclass(frozen=True, slots=True)
class Stimulus:
    """``before`` is a settled state of the circuit's Logic under the inputs ``was``; None is a circuit without
    supply. At one instant the inputs become ``inputs`` and the timers ``expired`` reach their presets."""

    before: Hashable | None
    was: Bits
    inputs: Bits
    expired: frozenset[int] = frozenset()
