"""What is enforced whatever the steps command: each interlock in words, and the two ways of every motor."""

from __future__ import annotations

from collections.abc import Callable

from compiler.chart import Interlock, Words
from compiler.condition import Signal, negated
from compiler.lowering.conditions import Setting, lower_condition
from compiler.lowering.devices import Devices
from compiler.lowering.named import find_device, kind_of, outputs_of
from grammar.sequence import tree
from grammar.source import Span

__all__ = ["lower_interlocks"]

_COMMANDED = Setting(moments=False, outputs=True)


def lower_interlocks(
    program: tree.Program, devices: Devices, words: Callable[[Span], Words]
) -> tuple[Interlock, ...]:
    """The interlocks of a program: those of its motors, then those it states, in the order written."""
    found: list[Interlock] = []
    for motor in devices.motors:
        span = devices.spans[motor.name]
        found += _exclusive((motor.forward,), (motor.reverse,), words(span))
    for node in (d for d in program.declarations if isinstance(d, tree.Interlock)):
        match node:
            case tree.OnlyWhile(load=name, condition=cond):
                outputs, condition = _driven(devices, name), lower_condition(devices, cond, _COMMANDED)
                if condition is not None:
                    found += [Interlock(output=o, only_while=condition, words=words(node.span)) for o in outputs]
            case tree.NeverWith(one=one, other=other):
                mine, others = _driven(devices, one), _driven(devices, other)
                if set(mine) & set(others):
                    devices.fault("RW232", f"{one.text} cannot exclude itself", node.span)
                else:
                    found += _exclusive(mine, others, words(node.span))
    return tuple(found)


def _exclusive(one: tuple[str, ...], other: tuple[str, ...], words: Words) -> list[Interlock]:
    """Neither comes on where both are commanded."""
    pairs = [(a, b) for a in one for b in other]
    return [
        Interlock(output=output, only_while=negated(Signal(device=against)), words=words)
        for a, b in pairs
        for output, against in ((a, b), (b, a))
    ]


def _driven(devices: Devices, name: tree.Name) -> tuple[str, ...]:
    """The outputs an interlock is about: a load, all solenoids of a cylinder, both ways of a motor."""
    device = find_device(devices, name)
    outputs = () if device is None else outputs_of(device)
    if device is not None and not outputs:
        expected = ", ".join(load.name for load in devices.loads) or "a load"
        devices.fault("RW203", f"{device.name} is a {kind_of(device)}, and is not switched", name.span,
                      expected=expected)  # fmt: skip
    return outputs
