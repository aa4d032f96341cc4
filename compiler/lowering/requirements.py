"""What must never, always or soon be so: each requirement in words becomes one of the Chart."""

from __future__ import annotations

from collections.abc import Callable

from compiler.chart import Requirement, Response, Words
from compiler.condition import both, negated
from compiler.lowering.conditions import Setting, lower_condition
from compiler.lowering.devices import Devices
from compiler.units import microseconds
from grammar.sequence import tree
from grammar.source import Span

__all__ = ["lower_requirements"]

_LASTING = Setting(moments=False, outputs=True, counters=False)
_MOMENTS = Setting(outputs=True, counters=False)


def lower_requirements(
    program: tree.Program, devices: Devices, words: Callable[[Span], Words]
) -> tuple[Requirement | Response, ...]:
    """The requirements of a program, in the order written, named N1, N2 and so on. One at fault is left out."""
    found: list[Requirement | Response] = []
    for node in (d for d in program.declarations if isinstance(d, tree.Requirement)):
        name, said = f"N{len(found) + 1}", words(node.span)
        match node:
            case tree.Whenever():
                lowered: Requirement | Response | None = _response(devices, node, name, said)
            case tree.Never() | tree.Always():
                lowered = _requirement(devices, node, name, said)
        found += [] if lowered is None else [lowered]
    return tuple(found)


def _requirement(devices: Devices, node: tree.Never | tree.Always, name: str, said: Words) -> Requirement | None:
    what = lower_condition(devices, node.what, _LASTING)
    meanwhile = () if node.while_ is None else (lower_condition(devices, node.while_, _LASTING),)
    if what is None or None in meanwhile:
        return None
    never = negated(what) if isinstance(node, tree.Always) else what
    return Requirement(name=name, never=both(never, *(c for c in meanwhile if c is not None)), words=said)


def _response(devices: Devices, node: tree.Whenever, name: str, said: Words) -> Response | None:
    cause = lower_condition(devices, node.cause, _MOMENTS)
    effect = lower_condition(devices, node.effect, _MOMENTS)
    time_us = devices.value(microseconds, node.within)
    if cause is None or effect is None or not time_us:
        return None
    return Response(name=name, whenever=cause, then=effect, within_us=time_us, words=said)
