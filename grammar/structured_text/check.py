"""Whether a program means something: names declared once, kinds that fit, labels apart, presets constant."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from grammar.diagnostic import Diagnostic, nearest
from grammar.source import Span
from grammar.structured_text.blocks import BLOCKS, Kind
from grammar.structured_text.constant import constant_duration, constant_integer, initial_value
from grammar.structured_text.declared import (
    VALUES,
    Declared,
    Role,
    declarations,
    declared,
    key,
    shared,
    written,
)
from grammar.structured_text.expression import Expressions
from grammar.structured_text.faults import fault, notice
from grammar.structured_text.reserved import is_keyword
from grammar.structured_text.tree import (
    Assignment,
    Call,
    CaseStatement,
    Declaration,
    Expression,
    Given,
    IfStatement,
    Label,
    Name,
    Pin,
    PinAssignment,
    Section,
    Statement,
    Taken,
    Unit,
)

__all__ = ["check"]

_NAME = re.compile(r"_?[A-Za-z0-9]+(?:_[A-Za-z0-9]+)*")
_ADDRESS = re.compile(r"%[IQM](?:\*|[XBWDL]?\d+(?:\.\d+)*)")
# What to declare instead of a type that is not read here.
_INSTEAD = {
    "SINT DINT LINT USINT UINT UDINT ULINT": "declare it INT",
    "BYTE WORD DWORD LWORD": "declare a BOOL for each bit",
    "REAL LREAL": "leave measuring to the controller, and read a BOOL that tells the limit",
    "STRING WSTRING CHAR WCHAR": "leave texts to the display",
    "LTIME": "declare it TIME",
}


def check(unit: Unit, lost: frozenset[str] = frozenset()) -> list[Diagnostic]:
    """Every fault of meaning in a unit, in the order met; ``lost`` are names whose declaration could not be read."""
    run = _Check(unit, declared(unit), written(unit), lost)
    run.name(unit.name)
    run.declarations()
    run.body(unit.body)
    return run.told


@dataclass
class _Check:
    unit: Unit
    names: dict[str, Declared]
    written: frozenset[str]
    lost: frozenset[str]
    told: list[Diagnostic] = field(default_factory=list)
    expressions: Expressions = field(init=False)

    def __post_init__(self) -> None:
        self.expressions = Expressions(self.names, self.told, self.lost)

    def tell(self, code: str, message: str, span: Span, *, expected: str = "", cure: str = "") -> None:
        self.told.append(fault(code, message, span, expected=expected, cure=cure))

    # --- declarations -------------------------------------------------------------------------------------

    def name(self, name: Name) -> None:
        if "." in name.text or " " in name.text:
            return  # given by a reader, such as the flag of a step: no text can declare it
        if not _NAME.fullmatch(name.text) or name.text[0].isdigit():
            cure = "begin with a letter, use single underscores inside and none at the end"
            self.tell("RW506", f"{name.text} is not a name", name.span, cure=cure)
        elif is_keyword(name.text):
            cure = f"call it {name.text}_1 or the like"
            self.tell("RW507", f"{name.text} is a reserved word", name.span, cure=cure)

    def declarations(self) -> None:
        for section in self.unit.shared:
            self.section(section, alone=True)
        for section in self.unit.sections:
            self.section(section, alone=False)
        self.once(name for section in self.unit.shared for d in section.declarations for name in d.names)
        self.once(one.name for one in declarations(self.unit))
        globals_ = shared(self.unit)
        for one in declarations(self.unit):
            other = globals_.get(key(one.name))
            if one.section == "VAR_EXTERNAL" and other is not None and other.type != one.type:
                message = f"{one.name.text} is {one.type} here and {other.type} under VAR_GLOBAL"
                self.tell("RW510", message, one.name.span, expected=other.type)
        for one in self.names.values():
            self.declaration(one)

    def once(self, names: Iterable[Name]) -> None:
        first: dict[str, Name] = {}
        for name in names:
            self.name(name)
            before = first.setdefault(key(name), name)
            if before is not name:
                what = "" if before.text == name.text else f" as {before.text}: letter case does not count"
                self.tell("RW508", f"{name.text} is declared already{what}", name.span, cure="rename one of them")

    def section(self, section: Section, *, alone: bool) -> None:
        if alone and section.kind != "VAR_GLOBAL":
            expected = "FUNCTION_BLOCK or PROGRAM and its name first"
            self.tell("RW501", f"{section.kind} belongs inside a unit", _head(section), expected=expected)
        elif not alone and section.kind == "VAR_GLOBAL":
            cure = f"put it before {self.unit.kind}"
            self.tell("RW501", "VAR_GLOBAL belongs outside a unit", _head(section), cure=cure)
        if "RETAIN" in section.qualifiers:
            message = "RETAIN is not looked at: as the supply comes on, every variable begins anew here"
            self.told.append(notice("RW519", message, _head(section)))
        for one in section.declarations:
            self.type(one.type)
            if one.address:
                self.address(section, one)

    def type(self, name: Name) -> None:
        word = name.text.upper()
        if word in VALUES or word in BLOCKS:
            return
        expected = "BOOL, INT, TIME or a standard block"
        if is_keyword(word):
            cure = next((cure for types, cure in _INSTEAD.items() if word in types.split()), "")
            self.tell(
                "RW503", f"{word} is outside the structured text read here", name.span, expected=expected, cure=cure
            )
        else:
            near = nearest(word, [*VALUES, *BLOCKS])
            cure = f"did you mean {near}?" if near else "types and blocks of one's own are not read here"
            self.tell("RW509", f"there is no type {name.text}", name.span, expected=expected, cure=cure)

    def address(self, section: Section, one: Declaration) -> None:
        span = one.names[-1].span
        if len(one.names) > 1:
            self.tell("RW518", f"{one.address} is one address for several names", span, cure="declare each by itself")
        elif not _ADDRESS.fullmatch(one.address):
            expected = "%I, %Q or %M, then X, B, W, D or L or nothing, and numbers with points: %IX0.3"
            self.tell("RW518", f"{one.address} is not an address", span, expected=expected)
        elif (section.kind, one.address[1]) in (("VAR_INPUT", "Q"), ("VAR_OUTPUT", "I")):
            way = "an input at an output's" if section.kind == "VAR_INPUT" else "an output at an input's"
            message = f"{one.names[0].text} is {way} address {one.address}"
            self.tell("RW518", message, span, cure="correct one of them")

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
        before = len(self.told)
        self.expressions.wants(one.initial, one.kind)
        if initial_value(one, self.names) is None and len(self.told) == before:
            expected = "a literal, or a name declared before under VAR CONSTANT"
            self.tell("RW516", "an initial value is a plain constant", one.initial.span, expected=expected)

    # --- statements ---------------------------------------------------------------------------------------

    def body(self, body: tuple[Statement, ...]) -> None:
        for statement in body:
            self.statement(statement)

    def statement(self, statement: Statement) -> None:
        match statement:
            case Assignment(target=target, value=value):
                kind = self.target(target)
                self.expressions.wants(value, kind)
            case PinAssignment(pin=pin, value=value):
                self.pin(pin, value)
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
        elif one.role is Role.INPUT:
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
            ends = [label.first] if label.last is None else [label.first, label.last]
            first, *more = (self.label(end) for end in ends)
            last = more[0] if more else first
            if first is None or last is None:
                continue
            if first > last:
                self.tell("RW513", "a range goes from the smaller to the greater number", label.span)
            elif any(first <= b and a <= last for a, b in taken):
                self.tell("RW513", "an earlier label covers this one already", label.span, cure="take it out of one")
            taken.append((first, last))

    def label(self, end: Expression) -> int | None:
        before = len(self.told)
        self.expressions.wants(end, Kind.INT)
        value = constant_integer(end, self.names)
        if value is None and len(self.told) == before and self.expressions.kind_quietly(end) is not Kind.UNKNOWN:
            cure = "declare it under VAR CONSTANT, with its number"
            self.tell("RW516", "a label of CASE is a constant", end.span, cure=cure)
        return value

    # --- calls --------------------------------------------------------------------------------------------

    def call(self, call: Call) -> None:
        one = self.expressions.look_up(call.block)
        if one is None or one.block is None:
            if one is not None and one.kind is not None:
                self.tell("RW514", f"{call.block.text} is not a block", call.block.span)
            self.arguments_only(call)
            return
        seen: set[str] = set()
        for argument in call.arguments:
            pin = argument.pin.text.upper()
            if pin in seen:
                self.tell("RW514", f"{pin} is given twice", argument.pin.span)
            seen.add(pin)
            if isinstance(argument, Given):
                self.given(one, argument.pin, argument.value)
            elif pin in one.block.outputs:
                self.taken(argument, one.block.outputs[pin])
            else:
                self.no_pin(one, argument.pin, f"outputs, with =>: {', '.join(one.block.outputs)}")

    def pin(self, pin: Pin, value: Expression) -> None:
        one = self.expressions.look_up(pin.block)
        if one is None or one.block is None:
            if one is not None and one.kind is not None:
                self.tell("RW514", f"{pin.block.text} is not a block and has no pins", pin.span)
            self.expressions.kind(value)
        else:
            self.given(one, pin.pin, value)

    def given(self, one: Declared, name: Name, value: Expression) -> None:
        assert one.block is not None
        pin = name.text.upper()
        if pin in one.block.inputs:
            self.expressions.wants(value, one.block.inputs[pin])
            if pin == "PT":
                self.preset(value)
        else:
            self.no_pin(one, name, f"inputs, with :=: {', '.join(one.block.inputs)}")

    def no_pin(self, one: Declared, name: Name, pins: str) -> None:
        assert one.block is not None
        if name.text.upper() in one.block.unread:
            self.expressions.unread(name)
            return
        message = f"{one.type} has no such pin as {name.text}"
        self.tell("RW514", message, name.span, expected=f"one of its {pins}")

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

    def preset(self, value: Expression) -> None:
        time_us = constant_duration(value, self.names, self.written)
        if time_us is None:
            if self.expressions.kind_quietly(value) is Kind.TIME:
                expected = "a time such as T#5s, or a TIME variable that is never written"
                self.tell("RW516", "a preset is a constant time", value.span, expected=expected)
        elif time_us <= 0:
            self.tell("RW516", "a preset is more than zero", value.span)


def _head(section: Section) -> Span:
    return Span(section.span.start, section.span.start + len(section.kind))
