"""The flag and the time of a step in conditions: ``S1.X`` and ``S1.T >= T#4s`` (IEC 61131-3:2003 Table 40, from
memory)."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass

from grammar.structured_text.declared import key
from grammar.structured_text.tree import Chain, Expression, Name, Pin

__all__ = ["Reached", "is_flag", "is_time", "reached"]

_TURNED = {"<=": ">=", ">": "<"}


@dataclass(frozen=True, slots=True)
class Reached:
    """Whether a step has been active for a time; ``negated`` says that it must not have been."""

    step: Name
    time: Expression
    negated: bool


def is_flag(value: Expression, steps: Container[str]) -> bool:
    """Whether this is ``S1.X``; ``steps`` are the keys of their names."""
    return isinstance(value, Pin) and key(value.block) in steps and value.pin.text.upper() == "X"


def is_time(value: Expression, steps: Container[str]) -> bool:
    """Whether this is ``S1.T``."""
    return isinstance(value, Pin) and key(value.block) in steps and value.pin.text.upper() == "T"


def reached(value: Chain, steps: Container[str]) -> Reached | None:
    """What a comparison says of the time of a step; None where it is none that is read."""
    if len(value.links) != 1:
        return None
    (link,) = value.links
    operator, step, time = link.operator, value.first, link.operand
    if is_time(time, steps) and not is_time(step, steps):
        operator, step, time = _TURNED.get(operator, ""), time, step
    if isinstance(step, Pin) and is_time(step, steps) and not is_time(time, steps) and operator in (">=", "<"):
        return Reached(step.block, time, operator == "<")
    return None
