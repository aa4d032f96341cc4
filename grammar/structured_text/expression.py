"""What kind of value an expression has, and what is wrong inside it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from grammar.diagnostic import Diagnostic, nearest
from grammar.source import Span
from grammar.structured_text.blocks import Kind
from grammar.structured_text.declared import Declared, key
from grammar.structured_text.faults import fault
from grammar.structured_text.literals import INT_GREATEST, INT_LEAST, duration_us, integer_value
from grammar.structured_text.tree import (
    Boolean,
    Chain,
    Duration,
    Expression,
    Integer,
    Name,
    Negation,
    Negative,
    Pin,
    Unread,
    Variable,
)

__all__ = ["Expressions"]

_LOGICAL = frozenset({"AND", "OR", "XOR"})
_EQUALITY = frozenset({"=", "<>"})
_ORDERING = frozenset({"<", ">", "<=", ">="})
_LIKE_A_TIME = re.compile(r"([0-9]+(d|h|ms|m|s|us|ns))+", re.IGNORECASE)
_CURES = {
    (Kind.INT, Kind.BOOL): "compare it with a number",
    (Kind.INT, Kind.TIME): "write a time with its unit, for example T#5s",
}
"""What is done about a value of the first kind where one of the second is wanted."""


@dataclass
class Expressions:
    """Judges expressions over the declared ``names``; faults go to ``told``. Of names that are ``lost`` nothing is
    known, and nothing said."""

    names: Mapping[str, Declared]
    told: list[Diagnostic]
    lost: frozenset[str] = frozenset()

    def wants(self, value: Expression, kind: Kind) -> None:
        """Judge an expression that must be of a kind."""
        found = self.kind(value)
        if not found.fits(kind):
            cure = _CURES.get((found, kind), "")
            self._tell("RW510", f"this is {found}", value.span, expected=str(kind), cure=cure)

    def kind_quietly(self, value: Expression) -> Kind:
        """The kind of an expression, without telling its faults."""
        return Expressions(self.names, [], self.lost).kind(value)

    def look_up(self, name: Name) -> Declared | None:
        """What a name was declared as; None when it was not, with its fault told unless its declaration is lost."""
        one = self.names.get(key(name))
        if one is None and key(name) not in self.lost:
            near = nearest(name.text, [known.name.text for known in self.names.values()])
            cure = f"did you mean {near}?" if near else "declare it between VAR and END_VAR"
            if _LIKE_A_TIME.fullmatch(name.text):
                cure = f"write a time as T#{name.text}"
            self._tell("RW509", f"{name.text} is not declared", name.span, cure=cure)
        return one

    def kind(self, value: Expression) -> Kind:
        """The kind of an expression; UNKNOWN where a fault was told."""
        match value:
            case Boolean():
                return Kind.BOOL
            case Integer():
                return self._integer(value, least=0)
            case Negative(of=Integer() as number):
                return Kind.INT if self._integer(number, least=1) is not Kind.UNKNOWN else Kind.UNKNOWN
            case Duration(text=text):
                time = duration_us(text)
                if isinstance(time, str):
                    self._tell("RW511", f"{text} is faulty: {time}", value.span)
                    return Kind.UNKNOWN
                return Kind.TIME
            case Unread(text=text):
                self._tell(
                    "RW503", f"{text} is outside the structured text read here", value.span, expected="BOOL or INT"
                )
                return Kind.UNKNOWN
            case Variable(name=name):
                return self._variable(name)
            case Pin():
                return self._pin(value)
            case Negation(of=of):
                self.wants(of, Kind.BOOL)
                return Kind.BOOL
            case Negative(of=of):
                self.wants(of, Kind.INT)
                return Kind.INT
            case Chain():
                return self._chain(value)

    def _integer(self, number: Integer, *, least: int) -> Kind:
        """``least`` is 1 under a minus sign: there one more is allowed, and 0 and 1 are no BOOL."""
        value = integer_value(number.text)
        if isinstance(value, str):
            self._tell("RW512", f"{number.text} is faulty: {value}", number.span)
            return Kind.UNKNOWN
        if not INT_LEAST <= value <= INT_GREATEST + least:
            message = f"{number.text} does not fit INT"
            self._tell("RW512", message, number.span, expected=f"{INT_LEAST} to {INT_GREATEST}")
            return Kind.UNKNOWN
        if number.text.upper().startswith("BOOL#"):
            return Kind.BOOL
        return Kind.EITHER if value in (0, 1) and "INT#" not in number.text.upper() else Kind.INT

    def _variable(self, name: Name) -> Kind:
        one = self.look_up(name)
        if one is None:
            return Kind.UNKNOWN
        if one.block is not None:
            pins = ", ".join(f"{one.name.text}.{pin}" for pin in one.block.outputs)
            self._tell("RW514", f"{name.text} is a block, not a value", name.span, expected=pins)
            return Kind.UNKNOWN
        return one.kind or Kind.UNKNOWN

    def _pin(self, value: Pin) -> Kind:
        one = self.look_up(value.block)
        if one is None:
            return Kind.UNKNOWN
        pin = value.pin.text.upper()
        if one.block is None:
            if one.kind is not None:
                self._tell("RW514", f"{value.block.text} is not a block and has no pins", value.span)
        elif pin in one.block.unread:
            self.unread(value.pin)
        elif pin not in one.block.outputs:
            expected = "one of its outputs: " + ", ".join(one.block.outputs)
            self._tell("RW514", f"{one.type} has no output {value.pin.text}", value.pin.span, expected=expected)
        else:
            return one.block.outputs[pin]
        return Kind.UNKNOWN

    def unread(self, pin: Name) -> None:
        """Tell that a pin of the standard is not read here: the time a timer has run."""
        message = f"{pin.text.upper()} is outside the structured text read here: it needs a clock"
        self._tell("RW503", message, pin.span, cure="use Q, and a timer of its own for each time that matters")

    def _chain(self, chain: Chain) -> Kind:
        kind = self.kind(chain.first)
        left_span = chain.first.span
        for link in chain.links:
            right = self.kind(link.operand)
            kind = self._operation(link.operator, kind, right, left_span, link.operand.span)
            left_span = left_span.to(link.operand.span)
        return kind

    def _operation(self, operator: str, left: Kind, right: Kind, left_span: Span, right_span: Span) -> Kind:
        if operator == "**":
            self._tell("RW503", "** works on REAL numbers, which are not read here", left_span.to(right_span))
            return Kind.UNKNOWN
        if operator in _EQUALITY:
            if Kind.TIME in (left, right) and Kind.UNKNOWN not in (left, right):
                self._times(left_span.to(right_span))
            elif not left.fits(right):
                self._tell("RW510", f"{left} can't be compared with {right}", left_span.to(right_span))
            return Kind.BOOL
        wanted = Kind.BOOL if operator in _LOGICAL else Kind.INT
        if Kind.TIME in (left, right) and wanted is Kind.INT:
            if Kind.UNKNOWN not in (left, right):
                self._times(left_span.to(right_span))
            return Kind.BOOL if operator in _ORDERING else Kind.UNKNOWN
        for kind, span in ((left, left_span), (right, right_span)):
            if not kind.fits(wanted):
                cure = "put brackets round the comparison" if wanted is Kind.INT and kind is Kind.BOOL else ""
                self._tell("RW510", f"this is {kind}, and {operator} works on {wanted}", span, cure=cure)
        return Kind.BOOL if operator in _LOGICAL | _ORDERING else Kind.INT

    def _times(self, span: Span) -> None:
        cure = "use Q, and a timer of its own for each time that matters"
        self._tell("RW503", "times are not reckoned with or compared here", span, cure=cure)

    def _tell(self, code: str, message: str, span: Span, *, expected: str = "", cure: str = "") -> None:
        self.told.append(fault(code, message, span, expected=expected, cure=cure))
