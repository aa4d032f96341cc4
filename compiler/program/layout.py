"""Where everything a program works with stands: remembered in its state, passing within a scan, or fixed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from compiler.program.flow import MEMORY, Place, flow
from grammar.structured_text.blocks import Kind
from grammar.structured_text.constant import initial_value
from grammar.structured_text.declared import Declared, Role, declared, key, statements
from grammar.structured_text.tree import Call, Given, PinAssignment, Unit

__all__ = ["Layout", "Slot", "layout"]


@dataclass(frozen=True)
class Slot:
    """One remembered value. ``field`` is empty for a variable; for a block it names what of it is remembered."""

    key: str
    field: str
    name: str
    initial: bool | int


@dataclass(frozen=True)
class Layout:
    """``slots`` make up the state: first the phases of the ``timers`` that are called, then all else that one scan
    leaves to the next. ``passing`` is written in every scan before it is read; ``fixed`` is never written."""

    names: dict[str, Declared]
    timers: tuple[str, ...]
    slots: tuple[Slot, ...]
    passing: tuple[Slot, ...]
    fixed: Mapping[Place, bool | int]

    @property
    def start(self) -> tuple[bool | int, ...]:
        """The state before the first scan."""
        return tuple(slot.initial for slot in self.slots)


def layout(unit: Unit) -> Layout:
    """The layout of a sound unit."""
    names = declared(unit)
    kept = _kept(unit, names)
    known = flow(unit.body, names, kept)
    slots = list(_slots(names, kept))
    placed = {(slot.key, slot.field): slot for slot in slots}
    carried = [slot for place, slot in placed.items() if place in known.carried]
    return Layout(
        names,
        tuple(slot.key for slot in carried if slot.field == "phase"),
        tuple(sorted(carried, key=lambda slot: slot.field != "phase")),
        tuple(slot for place, slot in placed.items() if place in known.written - known.carried),
        {place: slot.initial for place, slot in placed.items() if place not in known.written},
    )


def _slots(names: dict[str, Declared], kept: frozenset[Place]) -> Iterator[Slot]:
    """Everything that has a value, whether it needs to be remembered or not."""
    for where, one in names.items():
        if one.block is not None:
            for field, initial in MEMORY[one.type].items():
                yield Slot(where, field, one.name.text, initial)
            for pin, kind in one.block.inputs.items():
                if (where, f"pin {pin}") in kept:
                    yield Slot(where, f"pin {pin}", one.name.text, 0 if kind is Kind.INT else False)
        elif one.kind is not Kind.TIME and one.role is not Role.INPUT:
            number = initial_value(one, names) or 0
            yield Slot(where, "", one.name.text, bool(number) if one.kind is Kind.BOOL else number)


def _kept(unit: Unit, names: dict[str, Declared]) -> frozenset[Place]:
    """Input pins that some call leaves out, or that are given apart from calls: they keep the value given last
    (IEC 61131-3: inputs of an instance)."""
    kept: set[Place] = set()
    for statement in statements(unit.body):
        match statement:
            case PinAssignment(pin=pin):
                kept.add((key(pin.block), f"pin {pin.pin.text.upper()}"))
            case Call(block=block, arguments=arguments):
                own = names[key(block)].block
                assert own is not None
                given = {a.pin.text.upper() for a in arguments if isinstance(a, Given)}
                kept.update((key(block), f"pin {pin}") for pin in own.inputs if pin not in given)
            case _:
                pass
    return frozenset(place for place in kept if place[1] != "pin PT")
