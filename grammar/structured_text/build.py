"""From the parser's tree to ours. Nothing is judged here: what was read is only put into its place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from grammar.source import Span
from grammar.structured_text.tree import (
    Argument,
    Assignment,
    Boolean,
    Branch,
    Call,
    CaseStatement,
    Chain,
    Declaration,
    Duration,
    Empty,
    Entry,
    Expression,
    Given,
    IfStatement,
    Integer,
    Label,
    Link,
    Name,
    Negation,
    Negative,
    Pin,
    PinAssignment,
    ReturnStatement,
    Section,
    Statement,
    Taken,
    Unit,
    Unread,
    Variable,
)

if TYPE_CHECKING:
    from lark import Token, Tree

    Read = Tree[Token]
    Part = Read | Token | None

__all__ = ["unit"]


def _span(read: Read) -> Span:
    return Span(0, 0) if read.meta.empty else Span(read.meta.start_pos, read.meta.end_pos)


def _rule(part: Part) -> str:
    """The rule a part was read by; empty for a single word and for an optional part that is not there."""
    return str(getattr(part, "data", ""))


def _trees(read: Read, *rules: str) -> list[Read]:
    return [child for child in read.children if _rule(child) in rules]  # type: ignore[misc]  # _rule tells trees


def _words(read: Read) -> list[Token]:
    return [child for child in read.children if child is not None and not _rule(child)]  # type: ignore[misc]  # as above


def unit(read: Read) -> Unit:
    """The unit that ``start`` holds."""
    whole = _trees(read, "unit")[0]
    return Unit(
        _words(whole)[0].upper(),
        _name(_trees(whole, "name")[0]),
        tuple(_section(part) for part in _trees(whole, "section")),
        _body(_trees(whole, "body")[0]),
        tuple(_section(part) for part in _trees(read, "section")),
        span=_span(whole),
    )


def _name(read: Read) -> Name:
    return Name(str(_words(read)[0]), span=_span(read))


def _section(read: Read) -> Section:
    kind, *qualifiers, _ = (word.upper() for word in _words(read))
    declarations = tuple(_declaration(part) for part in _trees(read, "declaration"))
    return Section(kind, tuple(qualifiers), declarations, span=_span(read))


def _declaration(read: Read) -> Declaration:
    *names, kind = (_name(part) for part in _trees(read, "name"))
    last = read.children[-1]
    initial = None if last is None else _expression(last)
    address = next((str(word).upper() for word in _words(read) if word.type == "ADDRESS"), "")
    return Declaration(tuple(names), kind, initial, address, span=_span(read))


# --- statements -----------------------------------------------------------------------------------------------


def _body(read: Read) -> tuple[Statement, ...]:
    return tuple(_statement(part) for part in _trees(read, *_STATEMENTS))


_STATEMENTS = (
    "empty", "assignment", "pin_assignment", "call", "if_statement", "case_statement", "return_statement",
)  # fmt: skip


def _statement(read: Read) -> Statement:
    span = _span(read)
    match _rule(read):
        case "assignment":
            target, value = read.children
            return Assignment(_name(_tree(target)), _expression(value), span=span)
        case "pin_assignment":
            pin, given = (_expression(part) for part in read.children)
            assert isinstance(pin, Pin)
            return PinAssignment(pin, given, span=span)
        case "return_statement":
            return ReturnStatement(span=span)
        case "call":
            arguments = tuple(_argument(part) for part in _trees(read, "given", "taken"))
            return Call(_name(_trees(read, "name")[0]), arguments, span=span)
        case "if_statement":
            return IfStatement(tuple(_branch(part) for part in _trees(read, "branch")), _otherwise(read), span=span)
        case "case_statement":
            entries = tuple(_entry(part) for part in _trees(read, "entry"))
            return CaseStatement(_expression(read.children[1]), entries, _otherwise(read), span=span)
        case _:
            return Empty(span=span)


def _tree(part: Part) -> Read:
    assert _rule(part)
    return part  # type: ignore[return-value]  # it has a rule, so it is a tree


def _otherwise(read: Read) -> tuple[Statement, ...] | None:
    bodies = _trees(read, "body")
    return _body(bodies[0]) if bodies else None


def _argument(read: Read) -> Argument:
    pin, value = (_tree(part) for part in read.children)
    if _rule(read) == "given":
        return Given(_name(pin), _expression(value), span=_span(read))
    return Taken(_name(pin), _name(value), span=_span(read))


def _branch(read: Read) -> Branch:
    condition, _, body = read.children
    return Branch(_expression(condition), _body(_tree(body)), span=_span(read))


def _entry(read: Read) -> Entry:
    labels = tuple(_label(part) for part in _trees(read, "label"))
    return Entry(labels, _body(_trees(read, "body")[0]), span=_span(read))


def _label(read: Read) -> Label:
    ends = [_expression(part) for part in _trees(read, "integer", "negative", "variable")]
    bounds = [end for end in ends if isinstance(end, Integer | Negative | Variable)]
    return Label(bounds[0], bounds[1] if len(bounds) > 1 else None, span=_span(read))


# --- expressions ----------------------------------------------------------------------------------------------


def _expression(part: Part) -> Expression:
    read = _tree(part)
    span = _span(read)
    match _rule(read):
        case "chain":
            first, *rest = read.children
            links = tuple(
                Link(_operator(str(operator)), _expression(operand))
                for operator, operand in zip(rest[::2], rest[1::2], strict=True)
            )
            return Chain(_expression(first), links, span=span)
        case "negation":
            return Negation(_expression(read.children[-1]), span=span)
        case "negative":
            return Negative(_expression(read.children[-1]), span=span)
        case "variable":
            return Variable(_name(_tree(read.children[0])), span=span)
        case "pin":
            block, pin = (_name(_tree(child)) for child in read.children)
            return Pin(block, pin, span=span)
        case "boolean":
            return Boolean(str(_words(read)[0]).upper() == "TRUE", span=span)
        case "integer":
            return Integer(str(_words(read)[0]), span=span)
        case "duration":
            return Duration(str(_words(read)[0]), span=span)
        case _:
            return Unread(str(_words(read)[0]), span=span)


def _operator(word: str) -> str:
    return "AND" if word == "&" else word.upper()
