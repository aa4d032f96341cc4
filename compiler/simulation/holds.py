"""Whether a condition holds, told by somebody who knows the situation."""

from __future__ import annotations

from typing import Protocol

from compiler.condition import (
    Active,
    Always,
    And,
    Condition,
    Counted,
    Elapsed,
    Not,
    Or,
    Rise,
    Signal,
    Sustained,
)

__all__ = ["Situation", "holds"]


class Situation(Protocol):
    """What there is to know about one moment of a machine."""

    def signal(self, device: str) -> bool: ...

    def rise(self, device: str) -> bool: ...

    def active(self, step: str) -> bool: ...

    def elapsed(self, step: str, time_us: int) -> bool: ...

    def sustained(self, condition: Sustained) -> bool: ...

    def counted(self, counter: str, at_least: int) -> bool: ...


def holds(condition: Condition, situation: Situation) -> bool:
    """Whether a condition is true in a situation."""
    match condition:
        case Always():
            return True
        case Signal(device=device):
            return situation.signal(device)
        case Rise(device=device):
            return situation.rise(device)
        case Active(step=step):
            return situation.active(step)
        case Elapsed(step=step, time_us=time_us):
            return situation.active(step) and situation.elapsed(step, time_us)
        case Sustained():
            return situation.sustained(condition)
        case Counted(counter=counter, at_least=at_least):
            return situation.counted(counter, at_least)
        case Not(of=of):
            return not holds(of, situation)
        case And(of=parts):
            return all(holds(part, situation) for part in parts)
        case Or(of=parts):
            return any(holds(part, situation) for part in parts)
