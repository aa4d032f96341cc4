"""A tree as text again, in one plain layout. Reading it back gives an equal tree."""

from __future__ import annotations

from collections.abc import Iterator

from grammar.structured_text.tree import (
    Assignment,
    Boolean,
    Call,
    CaseStatement,
    Chain,
    Declaration,
    Duration,
    Empty,
    Expression,
    Given,
    IfStatement,
    Integer,
    Label,
    Negation,
    Negative,
    Pin,
    PinAssignment,
    ReturnStatement,
    Section,
    Statement,
    Unit,
    Unread,
    Variable,
)

__all__ = ["expression", "write"]

_INDENT = "    "


def write(unit: Unit) -> str:
    """The text of a unit."""
    lines = [line for section in unit.shared for line in _section(section)]
    lines.append(f"{unit.kind} {unit.name.text}")
    for section in unit.sections:
        lines += _section(section)
    lines += _body(unit.body, "")
    lines.append(f"END_{unit.kind}")
    return "\n".join(lines) + "\n"


def _section(section: Section) -> Iterator[str]:
    yield " ".join((section.kind, *section.qualifiers))
    for one in section.declarations:
        yield f"{_INDENT}{_declaration(one)}"
    yield "END_VAR"


def _declaration(one: Declaration) -> str:
    initial = "" if one.initial is None else f" := {expression(one.initial)}"
    place = f" AT {one.address}" if one.address else ""
    return f"{', '.join(name.text for name in one.names)}{place} : {one.type.text}{initial};"


def _body(body: tuple[Statement, ...], indent: str) -> Iterator[str]:
    for statement in body:
        yield from _statement(statement, indent)


def _statement(statement: Statement, indent: str) -> Iterator[str]:
    match statement:
        case Empty():
            yield f"{indent};"
        case Assignment(target=target, value=value):
            yield f"{indent}{target.text} := {expression(value)};"
        case PinAssignment(pin=pin, value=value):
            yield f"{indent}{expression(pin)} := {expression(value)};"
        case ReturnStatement():
            yield f"{indent}RETURN;"
        case Call(block=block, arguments=arguments):
            given = (
                f"{a.pin.text} := {expression(a.value)}"
                if isinstance(a, Given)
                else f"{a.pin.text} => {a.target.text}"
                for a in arguments
            )
            yield f"{indent}{block.text}({', '.join(given)});"
        case IfStatement(branches=branches, otherwise=otherwise):
            for k, branch in enumerate(branches):
                yield f"{indent}{'ELSIF' if k else 'IF'} {expression(branch.condition)} THEN"
                yield from _body(branch.body, indent + _INDENT)
            yield from _else(otherwise, indent)
            yield f"{indent}END_IF;"
        case CaseStatement(selector=selector, entries=entries, otherwise=otherwise):
            yield f"{indent}CASE {expression(selector)} OF"
            for entry in entries:
                yield f"{indent}{', '.join(_label(label) for label in entry.labels)}:"
                yield from _body(entry.body, indent + _INDENT)
            yield from _else(otherwise, indent)
            yield f"{indent}END_CASE;"


def _else(otherwise: tuple[Statement, ...] | None, indent: str) -> Iterator[str]:
    if otherwise is not None:
        yield f"{indent}ELSE"
        yield from _body(otherwise, indent + _INDENT)


def _label(label: Label) -> str:
    first = expression(label.first)
    return first if label.last is None else f"{first}..{expression(label.last)}"


def expression(value: Expression) -> str:
    """An expression, with brackets round every chain inside another expression."""
    match value:
        case Boolean(value=true):
            return "TRUE" if true else "FALSE"
        case Integer(text=text) | Duration(text=text) | Unread(text=text):
            return text
        case Variable(name=name):
            return name.text
        case Pin(block=block, pin=pin):
            return f"{block.text}.{pin.text}"
        case Negation(of=of):
            return f"NOT {_operand(of)}"
        case Negative(of=of):
            return f"-{_operand(of)}" if not isinstance(of, Negative) else f"-({expression(of)})"
        case Chain(first=first, links=links):
            rest = (f" {link.operator} {_operand(link.operand)}" for link in links)
            return _operand(first) + "".join(rest)


def _operand(value: Expression) -> str:
    return f"({expression(value)})" if isinstance(value, Chain) else expression(value)
