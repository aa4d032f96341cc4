"""Where everything a program remembers stands in its state, one flat tuple."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from compiler.timers import TimerKind
from grammar.structured_text.blocks import Kind
from grammar.structured_text.constant import constant_integer
from grammar.structured_text.declared import Declared, declared, key, statements
from grammar.structured_text.tree import (
    Assignment,
    Call,
    CaseStatement,
    Chain,
    Expression,
    Given,
    IfStatement,
    Negation,
    Negative,
    Pin,
    Statement,
    Unit,
    Variable,
)

__all__ = ["TIMERS", "Layout", "Slot", "layout"]

TIMERS = {"TON": TimerKind.ON_DELAY, "TOF": TimerKind.OFF_DELAY, "TP": TimerKind.ONE_SHOT}

# What each block remembers, with its value before the first call; a timer's is its phase.
_MEMORY: dict[str, tuple[tuple[str, bool | int], ...]] = {
    "TON": (("phase", 0),),
    "TOF": (("phase", 0),),
    "TP": (("phase", 0),),
    "R_TRIG": (("M", False), ("Q", False)),
    "F_TRIG": (("M", False), ("Q", False)),
    "SR": (("Q1", False),),
    "RS": (("Q1", False),),
    "CTU": (("M", False), ("Q", False), ("CV", 0)),
    "CTD": (("M", False), ("Q", False), ("CV", 0)),
}


@dataclass(frozen=True)
class Slot:
    """One remembered value. ``field`` is empty for a variable; for a block it names what of it is remembered."""

    key: str
    field: str
    name: str
    initial: bool | int


@dataclass(frozen=True)
class Layout:
    """The slots of the state, and the variables that need none because every scan writes them before it reads."""

    names: dict[str, Declared]
    slots: tuple[Slot, ...]
    passing: frozenset[str]

    @property
    def start(self) -> tuple[bool | int, ...]:
        """The state before the first scan."""
        return tuple(slot.initial for slot in self.slots)

    def index(self, key: str, field: str = "") -> int | None:
        """The place of a slot in the state, or None when there is no such slot."""
        for k, slot in enumerate(self.slots):
            if slot.key == key and slot.field == field:
                return k
        return None


def layout(unit: Unit) -> Layout:
    """The layout of a sound unit."""
    names = declared(unit)
    passing = _passing(unit, names)
    return Layout(names, tuple(_slots(unit, names, passing)), passing)


def _slots(unit: Unit, names: dict[str, Declared], passing: frozenset[str]) -> Iterator[Slot]:
    kept = _kept_pins(unit, names)
    for where, one in names.items():
        if one.block is not None:
            for field, initial in _MEMORY[one.type]:
                yield Slot(where, field, one.name.text, initial)
            for pin in kept.get(where, ()):
                yield Slot(where, f"pin {pin}", one.name.text, 0 if one.block.inputs[pin] is Kind.INT else False)
        elif one.kind is not Kind.TIME and one.section != "VAR_INPUT" and where not in passing:
            number = 0 if one.initial is None else constant_integer(one.initial) or 0
            yield Slot(where, "", one.name.text, bool(number) if one.kind is Kind.BOOL else number)


def _kept_pins(unit: Unit, names: dict[str, Declared]) -> dict[str, tuple[str, ...]]:
    """Input pins that some call leaves out: they keep the value given last (IEC 61131-3: inputs of an instance)."""
    kept: dict[str, set[str]] = {}
    for call in statements(unit.body):
        if isinstance(call, Call):
            block = names[key(call.block)].block
            assert block is not None
            given = {a.pin.text.upper() for a in call.arguments if isinstance(a, Given)}
            kept.setdefault(key(call.block), set()).update(set(block.inputs) - given - {"PT"})
    return {where: tuple(sorted(pins)) for where, pins in kept.items()}


def _passing(unit: Unit, names: dict[str, Declared]) -> frozenset[str]:
    touched: set[str] = set()
    passing: set[str] = set()
    for statement in unit.body:
        touched.update(_read_by(statement))
        if isinstance(statement, Assignment):
            target = key(statement.target)
            if target not in touched and names[target].section == "VAR":
                passing.add(target)
            touched.add(target)
        else:
            touched.update(_written_by(statement))
    return frozenset(passing)


def _written_by(statement: Statement) -> Iterator[str]:
    for inner in statements((statement,)):
        match inner:
            case Assignment(target=target):
                yield key(target)
            case Call(arguments=arguments):
                yield from (key(a.target) for a in arguments if not isinstance(a, Given))
            case _:
                pass


def _read_by(statement: Statement) -> Iterator[str]:
    for inner in statements((statement,)):
        match inner:
            case Assignment(value=value):
                yield from _variables(value)
            case Call(arguments=arguments):
                for argument in arguments:
                    if isinstance(argument, Given):
                        yield from _variables(argument.value)
            case IfStatement(branches=branches):
                for branch in branches:
                    yield from _variables(branch.condition)
            case CaseStatement(selector=selector):
                yield from _variables(selector)
            case _:
                pass


def _variables(value: Expression) -> Iterator[str]:
    match value:
        case Variable(name=name):
            yield key(name)
        case Pin(block=block):
            yield key(block)
        case Negation(of=of) | Negative(of=of):
            yield from _variables(of)
        case Chain(first=first, links=links):
            yield from _variables(first)
            for link in links:
                yield from _variables(link.operand)
        case _:
            pass
