"""Conditions: what a transition, an interlock or a requirement waits for.

A condition is a small tree of pydantic models, so it travels in the Chart's JSON. Inputs are always spoken of as
*actuated* (a pushbutton is down, a switch is made), never as the voltage on a wire: a normally closed contact is
a matter of wiring and is settled where the wire is (IEC 60848:2013 receptivities, from memory; common practice).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = [
    "Active",
    "Always",
    "And",
    "Condition",
    "Counted",
    "Elapsed",
    "Not",
    "Or",
    "Rise",
    "Signal",
    "Sustained",
    "both",
    "either",
    "negated",
    "walk",
]


class _Node(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Always(_Node):
    """True at all times."""

    kind: Literal["always"] = "always"


class Signal(_Node):
    """An input is actuated, or an output is on."""

    kind: Literal["signal"] = "signal"
    device: str


class Rise(_Node):
    """The moment an input becomes actuated (an edge). An input already actuated when power comes on has no edge."""

    kind: Literal["rise"] = "rise"
    device: str


class Active(_Node):
    """A step is active (IEC 60848: X*)."""

    kind: Literal["active"] = "active"
    step: str


class Elapsed(_Node):
    """A step has been active for at least ``time_us`` microseconds (IEC 60848: ``t/X*``)."""

    kind: Literal["elapsed"] = "elapsed"
    step: str
    time_us: int = Field(gt=0)


class Sustained(_Node):
    """A condition has been true, without a break, for ``time_us`` microseconds (IEC 60848: ``t/v``).

    The time runs whatever step is active; ``of`` holds no Rise and no Elapsed.
    """

    kind: Literal["sustained"] = "sustained"
    of: Condition
    time_us: int = Field(gt=0)


class Counted(_Node):
    """A counter has reached a number."""

    kind: Literal["counted"] = "counted"
    counter: str
    at_least: int = Field(gt=0)


class Not(_Node):
    """The opposite of a condition."""

    kind: Literal["not"] = "not"
    of: Condition


class And(_Node):
    """All of two or more conditions."""

    kind: Literal["and"] = "and"
    of: tuple[Condition, ...] = Field(min_length=2)


class Or(_Node):
    """Any of two or more conditions."""

    kind: Literal["or"] = "or"
    of: tuple[Condition, ...] = Field(min_length=2)


Condition = Annotated[
    Always | Signal | Rise | Active | Elapsed | Sustained | Counted | Not | And | Or, Field(discriminator="kind")
]
for _model in (Sustained, Not, And, Or):
    _model.model_rebuild()


def both(*parts: Condition) -> Condition:
    """All of the parts; nested Ands are flattened and Always is left out."""
    flat: list[Condition] = []
    for part in parts:
        flat.extend(part.of if isinstance(part, And) else () if isinstance(part, Always) else (part,))
    return And(of=tuple(flat)) if len(flat) > 1 else flat[0] if flat else Always()


def either(*parts: Condition) -> Condition:
    """Any of the parts (one or more); nested Ors are flattened."""
    flat: list[Condition] = []
    for part in parts:
        flat.extend(part.of if isinstance(part, Or) else (part,))
    return Or(of=tuple(flat)) if len(flat) > 1 else flat[0]


def negated(condition: Condition) -> Condition:
    """The opposite of a condition; a double negation is dropped."""
    return condition.of if isinstance(condition, Not) else Not(of=condition)


def walk(condition: Condition) -> Iterator[Condition]:
    """The condition and everything inside it, from the outside in."""
    yield condition
    match condition:
        case Not() | Sustained():
            yield from walk(condition.of)
        case And() | Or():
            for part in condition.of:
                yield from walk(part)
        case _:
            pass
