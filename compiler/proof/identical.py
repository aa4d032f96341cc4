"""Whether two logics are one and the same, word for word once they are read: then nothing need be searched."""

from __future__ import annotations

import ast

from compiler.logic import Logic
from compiler.proof.induction.reading import NotUnderstood
from compiler.proof.induction.written import Written, written

__all__ = ["identical"]


def identical(one: Logic, other: Logic) -> bool:
    """Whether they read the same inputs, drive the same outputs, and all that lies between is the same but for the
    names of what is inside. False says nothing."""
    if one is other:
        return True
    try:
        return _told(written(one)) == _told(written(other))
    except NotUnderstood:
        return False


def _told(text: Written) -> tuple[object, ...]:
    """All there is to a logic."""
    logic, begin = text.logic, text.begin
    return (
        logic.inputs,
        logic.outputs,
        tuple(timer.preset_us for timer in logic.timers),
        ast.dump(text.look.function),
        begin if isinstance(begin, tuple) else ast.dump(begin.function),
        text.timers,
        dict(text.tables),
        text.parts,
        text.scans,
        text.closed,
        text.counters,
    )
