"""Values that are known before the machine runs."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from grammar.structured_text.blocks import Kind
from grammar.structured_text.declared import Declared, key
from grammar.structured_text.literals import duration_us, integer_value
from grammar.structured_text.tree import Boolean, Duration, Expression, Integer, Negative, Variable

__all__ = ["constant_duration", "constant_integer"]


def constant_integer(value: Expression) -> int | None:
    """The value of a whole number or of TRUE and FALSE (1 and 0); None for anything else."""
    match value:
        case Boolean(value=true):
            return int(true)
        case Integer(text=text):
            number = integer_value(text)
            return number if isinstance(number, int) else None
        case Negative(of=of) if not isinstance(of, Boolean):
            number_within = constant_integer(of)
            return None if number_within is None else -number_within
        case _:
            return None


def constant_duration(
    value: Expression, names: Mapping[str, Declared] | None = None, written: Collection[str] = ()
) -> int | None:
    """The microseconds of a time literal, or of a TIME variable that nothing writes to; None for anything else.

    A TIME variable without an initial value is T#0s (IEC 61131-3: the default of TIME).
    """
    match value:
        case Duration(text=text):
            time = duration_us(text)
            return time if isinstance(time, int) else None
        case Variable(name=name):
            one = (names or {}).get(key(name))
            if one is None or one.kind is not Kind.TIME or key(name) in written or one.section == "VAR_INPUT":
                return None
            return 0 if one.initial is None else constant_duration(one.initial)
        case _:
            return None
