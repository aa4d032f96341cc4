"""A second, slow way to run a program: the tree walked statement by statement, everything remembered in one
dictionary. It shares no code with ``compiler.program`` and knows no shortcut. No timers: they need a clock."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

from grammar.structured_text import tree as t

__all__ = ["Memory", "first_memory", "scan"]

Memory = dict[str, bool | int]
"""By names in small letters; ``block.pin`` for what a block keeps and gives."""

_WORKED: dict[str, Callable[[int, int], int]] = {
    "=": lambda a, b: a == b,
    "<>": lambda a, b: a != b,
    "<": lambda a, b: a < b,
    ">": lambda a, b: a > b,
    "<=": lambda a, b: a <= b,
    ">=": lambda a, b: a >= b,
    "AND": lambda a, b: bool(a) and bool(b),
    "OR": lambda a, b: bool(a) or bool(b),
    "XOR": lambda a, b: bool(a) != bool(b),
    "+": lambda a, b: _int16(a + b),
    "-": lambda a, b: _int16(a - b),
    "*": lambda a, b: _int16(a * b),
    "/": lambda a, b: _int16(_towards_zero(a, b)),
    "MOD": lambda a, b: a - b * _towards_zero(a, b) if b else 0,
}


def _int16(value: int) -> int:
    while value > 32767:
        value -= 65536
    while value < -32768:
        value += 65536
    return value


def _towards_zero(a: int, b: int) -> int:
    return 0 if b == 0 else int(a / b)


class _Return(Exception):
    pass


def first_memory(unit: t.Unit) -> Memory:
    """What is remembered before the first scan."""
    memory: Memory = {}
    for section in (*unit.shared, *unit.sections):
        for one in section.declarations:
            for name in one.names:
                start = 0 if one.initial is None else _value(one.initial, memory)
                memory.setdefault(name.text.lower(), start)
    return memory


def scan(unit: t.Unit, memory: Memory, kinds: dict[str, str]) -> None:
    """One scan. ``kinds`` gives the type of each block."""
    for section in unit.sections:
        if section.kind == "VAR_TEMP":
            for one in section.declarations:
                for name in one.names:
                    memory[name.text.lower()] = 0 if one.initial is None else _value(one.initial, memory)
    with suppress(_Return):
        _body(unit.body, memory, kinds)


def _body(body: tuple[t.Statement, ...], memory: Memory, kinds: dict[str, str]) -> None:
    for one in body:
        match one:
            case t.Assignment():
                memory[one.target.text.lower()] = _value(one.value, memory)
            case t.PinAssignment():
                memory[f"{one.pin.block.text}.{one.pin.pin.text}".lower()] = _value(one.value, memory)
            case t.Call():
                _call(one, memory, kinds)
            case t.IfStatement():
                _body(next((b.body for b in one.branches if _value(b.condition, memory)), one.otherwise or ()),
                      memory, kinds)  # fmt: skip
            case t.CaseStatement():
                number = _value(one.selector, memory)
                bodies = (e.body for e in one.entries if any(_within(label, number, memory) for label in e.labels))
                _body(next(bodies, one.otherwise or ()), memory, kinds)
            case t.ReturnStatement():
                raise _Return


def _within(label: t.Label, number: int, memory: Memory) -> bool:
    first = _value(label.first, memory)
    return first <= number <= (first if label.last is None else _value(label.last, memory))


def _call(call: t.Call, memory: Memory, kinds: dict[str, str]) -> None:
    block = call.block.text.lower()
    for one in call.arguments:
        if isinstance(one, t.Given):
            memory[f"{block}.{one.pin.text}".lower()] = _value(one.value, memory)

    def pin(name: str) -> int:
        return memory.get(f"{block}.{name}", 0)

    def put(name: str, value: bool | int) -> None:
        memory[f"{block}.{name}"] = value

    def rose(name: str) -> bool:
        before = pin(f"{name} before")
        put(f"{name} before", pin(name))
        return bool(pin(name) and not before)

    match kinds[block]:
        case "R_TRIG":
            put("q", rose("clk"))
        case "F_TRIG":
            put("q", not pin("clk") and not pin("m"))
            put("m", not pin("clk"))
        case "SR":
            put("q1", bool(pin("s1") or (not pin("r") and pin("q1"))))
        case "RS":
            put("q1", bool(not pin("r1") and (pin("s") or pin("q1"))))
        case "CTU" | "CTD" | "CTUD":
            up, down = rose("cu"), rose("cd")
            if pin("r"):
                put("cv", 0)
            elif pin("ld"):
                put("cv", pin("pv"))
            elif up != down:
                put("cv", min(32767, max(-32768, pin("cv") + (1 if up else -1))))
            put("qu", pin("cv") >= pin("pv"))
            put("qd", pin("cv") <= 0)
            put("q", pin("qd" if kinds[block] == "CTD" else "qu"))
    for one in call.arguments:
        if isinstance(one, t.Taken):
            memory[one.target.text.lower()] = pin(one.pin.text.lower())


def _value(value: t.Expression, memory: Memory) -> int:
    match value:
        case t.Boolean():
            return value.value
        case t.Integer():
            *_, body = value.text.rpartition("#")
            base = value.text.split("#")[0] if "#" in value.text else "10"
            return int(body.replace("_", ""), int(base) if base.isdigit() else 10)
        case t.Variable():
            return memory[value.name.text.lower()]
        case t.Pin():
            return memory.get(f"{value.block.text}.{value.pin.text}".lower(), 0)
        case t.Negation():
            return not _value(value.of, memory)
        case t.Negative():
            return _int16(-_value(value.of, memory))
        case t.Chain():
            so_far = _value(value.first, memory)
            for link in value.links:
                so_far = _WORKED[link.operator](so_far, _value(link.operand, memory))
            return so_far
        case _:
            return 0
