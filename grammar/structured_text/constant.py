"""Values that are known before the machine runs."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from itertools import takewhile

from grammar.structured_text.blocks import Kind
from grammar.structured_text.declared import Declared, Role, key
from grammar.structured_text.literals import duration_us, integer_value
from grammar.structured_text.tree import Boolean, Duration, Expression, Integer, Negative, Variable

__all__ = ["constant_duration", "constant_integer", "initial_value"]


def initial_value(one: Declared, names: Mapping[str, Declared]) -> int | None:
    """What a variable of BOOL, INT or TIME (in microseconds) is worth at first; None where that is no constant.

    Without an initial value it is 0, FALSE or T#0s (IEC 61131-3: the defaults of the types). The value may refer to
    constants that are declared before, so that none leads back to itself.
    """
    if one.initial is None:
        return 0
    before = dict(takewhile(lambda item: item[1] is not one, names.items()))
    return (constant_duration if one.kind is Kind.TIME else constant_integer)(one.initial, before)


def constant_integer(value: Expression, names: Mapping[str, Declared] | None = None) -> int | None:
    """The value of a whole number, of TRUE and FALSE (1 and 0), or of a variable under VAR CONSTANT; None for
    anything else."""
    match value:
        case Boolean(value=true):
            return int(true)
        case Integer(text=text):
            number = integer_value(text)
            return number if isinstance(number, int) else None
        case Negative(of=of) if not isinstance(of, Boolean):
            number_within = constant_integer(of, names)
            return None if number_within is None else -number_within
        case Variable(name=name):
            one = (names or {}).get(key(name))
            if one is None or not one.constant or one.kind not in (Kind.INT, Kind.BOOL):
                return None
            return initial_value(one, names or {})
        case _:
            return None


def constant_duration(
    value: Expression, names: Mapping[str, Declared] | None = None, written: Collection[str] = ()
) -> int | None:
    """The microseconds of a time literal, or of a TIME variable that is not ``written``; None for anything else."""
    match value:
        case Duration(text=text):
            time = duration_us(text)
            return time if isinstance(time, int) else None
        case Variable(name=name):
            one = (names or {}).get(key(name))
            if one is None or one.kind is not Kind.TIME or key(name) in written or one.role is Role.INPUT:
                return None
            return initial_value(one, names or {})
        case _:
            return None
