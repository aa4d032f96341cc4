"""Which variable of a program is which device of the machine, and what does not fit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from compiler.machine import Machine
from grammar.diagnostic import Diagnostic, nearest
from grammar.structured_text.blocks import Kind
from grammar.structured_text.declared import Declared, Role, key, written
from grammar.structured_text.faults import fault, notice
from grammar.structured_text.tree import Unit

__all__ = ["Binding", "bind"]


@dataclass(frozen=True)
class Binding:
    """``wires`` gives the number of the input device behind an input variable, ``outputs`` the variable behind each
    load, None where the load is never driven. An input device without a variable is not looked at, which is fine."""

    wires: Mapping[str, int]
    outputs: tuple[str | None, ...]
    faults: tuple[Diagnostic, ...] = ()
    notices: tuple[Diagnostic, ...] = ()


def bind(unit: Unit, names: Mapping[str, Declared], machine: Machine, variables: Mapping[str, str]) -> Binding:
    """The binding of a sound unit. ``variables`` gives for every device the name it would have in the program."""
    devices = {variables[device.name].casefold(): k for k, device in enumerate(machine.inputs)}
    loads = [variables[load.name].casefold() for load in machine.loads]
    wires = {where: k for where, k in devices.items() if where in names}
    outputs = tuple(where if where in names else None for where in loads)
    faults = [
        *(_unfit(one, machine.inputs[k].name, Role.INPUT) for where, k in wires.items() for one in [names[where]]),
        *(_unfit(names[w], load.name, Role.OUTPUT) for w, load in zip(outputs, machine.loads, strict=True) if w),
        *_written_inputs(unit, names, wires),
        *_unfed(names, {*wires, *loads}, variables),
    ]
    notices = tuple(
        notice(
            "RW551",
            f"{unit.name.text} never drives {load.name}, which stays off",
            unit.name.span,
            cure=f"declare {variables[load.name]} : BOOL; under VAR_OUTPUT and assign it",
        )
        for load, where in zip(machine.loads, outputs, strict=True)
        if where is None
    )
    told = sorted((one for one in faults if one is not None), key=lambda one: one.span.start if one.span else 0)
    return Binding(wires, outputs, tuple(told), notices)


def _unfit(one: Declared, device: str, role: Role) -> Diagnostic | None:
    """What keeps a variable with a device's name from standing for it."""
    way, where = ("an input", "VAR_INPUT or at %I") if role is Role.INPUT else ("an output", "VAR_OUTPUT or at %Q")
    if one.role not in (role, Role.EXTERNAL) or one.block is not None:
        message = f"{device} is {way} of the machine, and not one of the program"
        return fault("RW554", message, one.name.span, expected=f"{one.name.text} : BOOL; declared under {where}")
    if one.kind is not Kind.BOOL:
        message = f"{device} is on or off, and {one.name.text} is {one.type}"
        return fault("RW553", message, one.name.span, expected="BOOL")
    return None


def _written_inputs(unit: Unit, names: Mapping[str, Declared], wires: Mapping[str, int]) -> Iterator[Diagnostic]:
    changed = written(unit)
    for where in wires:
        if where in changed and names[where].role is Role.EXTERNAL:
            one = names[where]
            message = f"{one.name.text} is an input of the machine and can't be written to"
            yield fault("RW554", message, one.name.span, cure="give the variable that is written a name of its own")


def _unfed(names: Mapping[str, Declared], bound: set[str], variables: Mapping[str, str]) -> Iterator[Diagnostic]:
    for one in names.values():
        if key(one.name) in bound:
            continue
        near = nearest(one.name.text, list(variables.values()))
        if one.role is Role.INPUT:
            cure = f"did you mean {near}?" if near else "take it out; a setting is declared under VAR CONSTANT"
            yield fault("RW552", f"no device of the machine feeds {one.name.text}", one.name.span, cure=cure)
        elif one.role is Role.EXTERNAL:
            cure = f"did you mean {near}?" if near else "declare it under VAR_GLOBAL before the unit, or under VAR"
            message = f"{one.name.text} is declared elsewhere, and is no device of the machine"
            yield fault("RW552", message, one.name.span, cure=cure)
