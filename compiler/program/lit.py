"""What is on inside a program, in words."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.program.flow import TIMERS
from compiler.program.layout import Layout, Slot
from compiler.program.scan import OVERDUE, State
from compiler.timers import Phase, operated
from grammar.structured_text.blocks import Kind
from grammar.structured_text.declared import Role

__all__ = ["lit"]


def lit(plan: Layout, state: State) -> tuple[str, ...]:
    """Numbers with their values, true variables, and blocks whose output is on, in the order declared. Outputs are
    not inside: that they are on is told of the loads."""
    order = {where: k for k, where in enumerate(plan.names)}
    shown = sorted(zip(plan.slots, state, strict=True), key=lambda pair: order[pair[0].key])
    return tuple(word for slot, value in shown for word in _word(plan, slot, value))


def _word(plan: Layout, slot: Slot, value: bool | int) -> Iterator[str]:
    one = plan.names[slot.key]
    match slot.field:
        case "" if one.kind is Kind.INT:
            yield f"{slot.name} = {value}"
        case "" if value and one.role is not Role.OUTPUT:
            yield slot.name
        case "CV":
            yield f"{slot.name}.CV = {value}"
        case "phase":
            phase = Phase.RUNNING if value == OVERDUE else Phase(value)
            if operated(TIMERS[one.type], phase):
                yield f"{slot.name}.Q"
        case "Q" | "Q1" | "QU" | "QD" if value:
            yield f"{slot.name}.{slot.field}"
        case _:
            pass
