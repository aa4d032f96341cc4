"""Expressions of structured text as Python expressions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from grammar.structured_text.blocks import Kind
from grammar.structured_text.constant import constant_integer
from grammar.structured_text.declared import Declared, key
from grammar.structured_text.expression import Expressions
from grammar.structured_text.tree import (
    Boolean,
    Chain,
    Expression,
    Integer,
    Link,
    Negation,
    Negative,
    Pin,
    Variable,
)

__all__ = ["Values", "quotient", "remainder", "wrapped"]

_COMPARISONS = {"=": "==", "<>": "!=", "<": "<", ">": ">", "<=": "<=", ">=": ">="}
_LOGICAL = {"AND": "and", "OR": "or", "XOR": "!="}


def wrapped(value: int) -> int:
    """A number as INT holds it: 16 bits, two's complement. What overflow does is left to the implementer."""
    return (value + 32768 & 65535) - 32768


def quotient(left: int, right: int) -> int:
    """Division towards zero; by zero it gives 0 (an error in the standard, whose outcome is the implementer's)."""
    size = abs(left) // abs(right) if right else 0
    return wrapped(size if (left < 0) == (right < 0) else -size)


def remainder(left: int, right: int) -> int:
    """MOD: takes the sign of the left side; ``x MOD 0`` is 0 (IEC 61131-3:2013 Table 29, from memory)."""
    size = abs(left) % abs(right) if right else 0
    return -size if left < 0 else size


@dataclass(frozen=True)
class Values:
    """Writes expressions over ``locals``: the Python name of every variable and block field in a scan."""

    names: Mapping[str, Declared]
    locals: Mapping[tuple[str, str], str]

    def boolean(self, value: Expression) -> str:
        """A BOOL expression; a bare 0 or 1 is FALSE or TRUE. The Python value is always a bool."""
        match value:
            case Boolean() | Integer():
                return str(bool(constant_integer(value)))
            case Negation(of=of):
                return f"(not {self.boolean(of)})"
            case _:
                return self._other(value)

    def integer(self, value: Expression) -> str:
        """An INT expression."""
        match value:
            case Integer():
                return f"({constant_integer(value)})"
            case Negative(of=of):
                return f"wrapped(-{self.integer(of)})"
            case _:
                return self._other(value)

    def of_kind(self, value: Expression, kind: Kind | None) -> str:
        """An expression wanted as BOOL or INT."""
        return self.boolean(value) if kind is Kind.BOOL else self.integer(value)

    def _other(self, value: Expression) -> str:
        match value:
            case Variable(name=name):
                return self.locals[key(name), ""]
            case Pin(block=block, pin=pin):
                return self.output(key(block), pin.text.upper())
            case Chain():
                return self._chain(value)
            case _:
                raise AssertionError(value)  # kinds were judged by the reader

    def output(self, block: str, pin: str) -> str:
        """An output pin of a block as it was left by its last call."""
        match self.names[block].type:
            case "TON":
                return f"({self.locals[block, 'phase']} == 3)"  # see Phase, and OVERDUE in scan.py
            case "TOF":
                return f"({self.locals[block, 'phase']} != 0)"
            case "TP":
                return f"({self.locals[block, 'phase']} in (1, 4))"
            case _:
                return self.locals[block, pin]

    def _gathered(self, parts: list[Expression]) -> list[str]:
        """The tests of an OR, with ``n = 1 OR n = 5 OR ...`` made one look into a set: the usual way to say in which
        steps something is on."""
        numbers: dict[str, list[int]] = {}
        others: list[str] = []
        for part in parts:
            match part:
                case Chain(first=Variable(name=name), links=(Link("=", operand),)) if (
                    self.names[key(name)].kind is Kind.INT
                    and (number := constant_integer(operand, self.names)) is not None
                ):
                    numbers.setdefault(self.locals[key(name), ""], []).append(number)
                case _:
                    others.append(self.boolean(part))
        return [f"({name} in {{{', '.join(map(str, known))}}})" for name, known in numbers.items()] + others

    def _kind(self, value: Expression) -> Kind:
        return Expressions(self.names, []).kind(value)

    def _chain(self, chain: Chain) -> str:
        operators = {link.operator for link in chain.links}
        if operators <= {"AND"} or operators <= {"OR"}:  # by far the most: one flat Python expression
            word = _LOGICAL[chain.links[0].operator]
            parts = [chain.first, *(link.operand for link in chain.links)]
            tests = self._gathered(parts) if word == "or" else [self.boolean(part) for part in parts]
            return f"({f' {word} '.join(tests)})"
        kind, so_far = self._kind(chain.first), ""
        for link in chain.links:
            right_kind = self._kind(link.operand)
            as_bool = link.operator in _LOGICAL or Kind.BOOL in (kind, right_kind)
            wanted = Kind.BOOL if as_bool else Kind.INT
            left = so_far or self.of_kind(chain.first, wanted)
            so_far = _operation(link.operator, left, self.of_kind(link.operand, wanted))
            kind = Kind.BOOL if link.operator in _LOGICAL or link.operator in _COMPARISONS else Kind.INT
        return so_far


def _operation(operator: str, left: str, right: str) -> str:
    match operator:
        case "/":
            return f"quotient({left}, {right})"
        case "MOD":
            return f"remainder({left}, {right})"
        case "+" | "-" | "*":
            return f"wrapped({left} {operator} {right})"
        case _:
            return f"({left} {_LOGICAL.get(operator) or _COMPARISONS[operator]} {right})"
