"""Whether a program means something: names declared once, kinds that fit, labels apart, presets constant."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from grammar.diagnostic import Diagnostic, nearest
from grammar.source import Span
from grammar.structured_text.blocks import BLOCKS, Kind
from grammar.structured_text.constant import constant_duration, constant_integer
from grammar.structured_text.declared import VALUES, Declared, declarations, declared, key, written
from grammar.structured_text.expression import Expressions
from grammar.structured_text.faults import fault
from grammar.structured_text.reserved import is_keyword
from grammar.structured_text.tree import (
    Assignment,
    Call,
    CaseStatement,
    Given,
    IfStatement,
    Label,
    Name,
    Statement,
    Taken,
    Unit,
)

__all__ = ["check"]

_NAME = re.compile(r"_?[A-Za-z0-9]+(?:_[A-Za-z0-9]+)*")


def check(unit: Unit) -> list[Diagnostic]:
    """Every fault of meaning in a unit, in the order met."""
    run = _Check(unit, declared(unit), written(unit))
    run.name(unit.name)
    run.declarations()
    run.body(unit.body)
    return run.told


@dataclass
class _Check:
    unit: Unit
    names: dict[str, Declared]
    written: frozenset[str]
    told: list[Diagnostic] = field(default_factory=list)
    expressions: Expressions = field(init=False)

    def __post_init__(self) -> None:
        self.expressions = Expressions(self.names, self.told)

    def tell(self, code: str, message: str, span: Span, *, expected: str = "", cure: str = "") -> None:
        self.told.append(fault(code, message, span, expected=expected, cure=cure))

    # --- declarations -------------------------------------------------------------------------------------

    def name(self, name: Name) -> None:
        if not _NAME.fullmatch(name.text) or name.text[0].isdigit():
            cure = "begin with a letter, use single underscores inside and none at the end"
            self.tell("RW506", f"{name.text} is not a name", name.span, cure=cure)
        elif is_keyword(name.text):
            cure = f"call it {name.text}_1 or the like"
            self.tell("RW507", f"{name.text} is a reserved word", name.span, cure=cure)

    def declarations(self) -> None:
        first: dict[str, Name] = {}
        for one in declarations(self.unit):
            self.name(one.name)
            before = first.setdefault(key(one.name), one.name)
            if before is not one.name:
                what = "" if before.text == one.name.text else f" as {before.text}: letter case does not count"
                self.tell(
                    "RW508", f"{one.name.text} is declared already{what}", one.name.span, cure="rename one of them"
                )
        for section in self.unit.sections:
            for declaration in section.declarations:
                self.type(declaration.type)
        for one in self.names.values():
            self.declaration(one)

    def type(self, name: Name) -> None:
        word = name.text.upper()
        if word in VALUES or word in BLOCKS:
            return
        expected = "BOOL, INT, TIME or a standard block"
        if is_keyword(word):
            self.tell("RW503", f"{word} is outside the structured text read here", name.span, expected=expected)
        else:
            near = nearest(word, [*VALUES, *BLOCKS])
            cure = f"did you mean {near}?" if near else ""
            self.tell("RW509", f"there is no type {name.text}", name.span, expected=expected, cure=cure)

    def declaration(self, one: Declared) -> None:
        if one.block is not None:
            if one.section != "VAR":
                self.tell("RW514", f"the block {one.name.text} is declared under VAR", one.name.span)
            if one.initial is not None:
                cure = "give the pins where it is called"
                self.tell("RW514", "a block has no initial value here", one.initial.span, cure=cure)
            return
        if one.initial is None or one.kind is None:
            return
        self.expressions.wants(one.initial, one.kind)
        if one.kind is Kind.TIME:
            known = constant_duration(one.initial) is not None
        else:
            known = constant_integer(one.initial) is not None
        if not known and not self.told:
            self.tell("RW516", "an initial value is a plain constant", one.initial.span, expected="a literal")

    # --- statements ---------------------------------------------------------------------------------------

    def body(self, body: tuple[Statement, ...]) -> None:
        for statement in body:
            self.statement(statement)

    def statement(self, statement: Statement) -> None:
        match statement:
            case Assignment(target=target, value=value):
                kind = self.target(target)
                self.expressions.wants(value, kind)
            case Call():
                self.call(statement)
            case IfStatement(branches=branches, otherwise=otherwise):
                for branch in branches:
                    self.expressions.wants(branch.condition, Kind.BOOL)
                    self.body(branch.body)
                self.body(otherwise or ())
            case CaseStatement(selector=selector, entries=entries, otherwise=otherwise):
                self.expressions.wants(selector, Kind.INT)
                self.labels([label for entry in entries for label in entry.labels])
                for entry in entries:
                    self.body(entry.body)
                self.body(otherwise or ())
            case _:
                pass

    def target(self, name: Name) -> Kind:
        one = self.expressions.look_up(name)
        if one is None:
            return Kind.UNKNOWN
        reason = ""
        if one.block is not None:
            reason = "a block is called, not assigned"
        elif one.section == "VAR_INPUT":
            reason = "inputs come from the machine"
        elif one.constant:
            reason = "it is a constant"
        elif one.kind is Kind.TIME:
            reason = "times stay as declared here, so that they can be checked"
        if reason:
            self.tell("RW515", f"{name.text} can't be written to: {reason}", name.span)
            return Kind.UNKNOWN
        return one.kind or Kind.UNKNOWN

    def labels(self, labels: list[Label]) -> None:
        taken: list[tuple[int, int]] = []
        for label in labels:
            self.expressions.wants(label.first, Kind.INT)
            if label.last is not None:
                self.expressions.wants(label.last, Kind.INT)
            first = constant_integer(label.first)
            last = first if label.last is None else constant_integer(label.last)
            if first is None or last is None:
                continue
            if first > last:
                self.tell("RW513", "a range goes from the smaller to the greater number", label.span)
            elif any(first <= b and a <= last for a, b in taken):
                self.tell("RW513", "an earlier label covers this one already", label.span, cure="take it out of one")
            taken.append((first, last))

    # --- calls --------------------------------------------------------------------------------------------

    def call(self, call: Call) -> None:
        one = self.expressions.look_up(call.block)
        if one is None:
            self.arguments_only(call)
            return
        if one.block is None:
            self.tell("RW514", f"{call.block.text} is not a block", call.block.span)
            self.arguments_only(call)
            return
        seen: set[str] = set()
        for argument in call.arguments:
            pin = argument.pin.text.upper()
            if pin in seen:
                self.tell("RW514", f"{pin} is given twice", argument.pin.span)
            seen.add(pin)
            pins = one.block.inputs if isinstance(argument, Given) else one.block.outputs
            if pin in one.block.unread:
                self.tell("RW503", f"{pin} is outside the structured text read here", argument.pin.span)
            elif pin not in pins:
                way = "inputs, with :=" if isinstance(argument, Given) else "outputs, with =>"
                expected = f"one of its {way}: {', '.join(pins)}"
                self.tell(
                    "RW514",
                    f"{one.type} has no such pin as {argument.pin.text}",
                    argument.pin.span,
                    expected=expected,
                )
            elif isinstance(argument, Given):
                self.expressions.wants(argument.value, pins[pin])
                if pin == "PT":
                    self.preset(argument)
            else:
                self.taken(argument, pins[pin])

    def arguments_only(self, call: Call) -> None:
        for argument in call.arguments:
            if isinstance(argument, Given):
                self.expressions.kind(argument.value)
            else:
                self.target(argument.target)

    def taken(self, taken: Taken, kind: Kind) -> None:
        target = self.target(taken.target)
        if not kind.fits(target):
            message = f"{taken.pin.text} is {kind} and {taken.target.text} is {target}"
            self.tell("RW510", message, taken.target.span)

    def preset(self, given: Given) -> None:
        time_us = constant_duration(given.value, self.names, self.written)
        if time_us is None:
            if self.expressions.kind_quietly(given.value) is Kind.TIME:
                self.tell("RW516", "a preset is a constant time", given.value.span, expected="a time such as T#5s")
        elif time_us <= 0:
            self.tell("RW516", "a preset is more than zero", given.value.span)
