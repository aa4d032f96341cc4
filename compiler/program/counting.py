"""Counters that need not count past their preset, because nobody could tell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass

from grammar.structured_text.constant import constant_integer
from grammar.structured_text.declared import Declared, key
from grammar.structured_text.tree import Call, Given, Pin, PinAssignment, Taken, Unit

__all__ = ["stopping"]


def stopping(unit: Unit, names: Mapping[str, Declared]) -> frozenset[str]:
    """The CTU blocks of whose count only Q is seen and whose PV is one constant.

    CV goes on to the greatest INT in the standard (IEC 61131-3:2013 Table 45, from memory); stopped at PV it gives
    the same Q for ever, and a search of every run has an end.
    """
    nodes = list(_nodes(unit))
    seen = {key(n.block) for n in nodes if isinstance(n, Pin) and n.pin.text.upper() == "CV"}
    seen |= {key(n.pin.block) for n in nodes if isinstance(n, PinAssignment) and n.pin.pin.text.upper() == "PV"}
    presets: dict[str, set[int | None]] = {}
    for call in (n for n in nodes if isinstance(n, Call)):
        given = {a.pin.text.upper(): a.value for a in call.arguments if isinstance(a, Given)}
        # A call that gives no PV goes by what was given before, and by 0 before that.
        preset = constant_integer(given["PV"], names) if "PV" in given else None
        presets.setdefault(key(call.block), set()).add(preset)
        if any(isinstance(a, Taken) and a.pin.text.upper() == "CV" for a in call.arguments):
            seen.add(key(call.block))
    return frozenset(
        where
        for where, given in presets.items()
        if names[where].type == "CTU" and where not in seen and len(given) == 1 and None not in given
    )


def _nodes(node: object) -> Iterator[object]:
    yield node
    if isinstance(node, tuple):
        for part in node:
            yield from _nodes(part)
    elif is_dataclass(node):
        for part in fields(node):
            yield from _nodes(getattr(node, part.name))
