"""The text of a logic read as functions of its parts: the same Python that runs, run for all values at once.

A value is the cases it may be: each Python value, and when. Operators and tables are applied case by case, so nothing
need be known of them; ``if`` goes both ways and joins what it finds. The text is that of ``written``: assignments,
``if``, ``return`` and expressions. Whatever else it holds is not understood, and nothing is proved of it.

A text is looked at again and again while little of it moves, so what an expression came to is remembered until a name
it reads has another value.
"""

from __future__ import annotations

import ast
import operator
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

__all__ = ["Algebra", "Cases", "NotUnderstood", "Reader", "Text", "text_of"]

Cases = dict[Hashable, int]
"""The values something may have, and for each the function that says when. No two hold together."""

_ARITHMETIC: Mapping[type, Callable[[Any, Any], Any]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.BitAnd: operator.and_,
    ast.BitOr: operator.or_,
    ast.RShift: operator.rshift,
    ast.Eq: operator.eq,
    ast.NotEq: operator.ne,
    ast.Lt: operator.lt,
    ast.LtE: operator.le,
    ast.Gt: operator.gt,
    ast.GtE: operator.ge,
    ast.In: lambda a, b: a in b,
}
_MOST_CASES = 400


class Algebra(Protocol):
    """What functions are made of: decision diagrams, or patterns of many runs at once."""

    true: int
    false: int

    def no(self, f: int) -> int: ...
    def both(self, f: int, g: int) -> int: ...
    def either(self, f: int, g: int) -> int: ...
    def choose(self, condition: int, f: int, g: int) -> int: ...
    def all(self, functions: Iterable[int]) -> int: ...
    def any(self, functions: Iterable[int]) -> int: ...


class NotUnderstood(Exception):
    """The text holds something that this does not know."""


@dataclass(frozen=True, slots=True)
class Text:
    """A function, and the names that each of its expressions reads which may be remembered."""

    function: ast.FunctionDef
    reads: Mapping[ast.expr, tuple[str, ...]]


def text_of(text: str) -> Text:
    """The one function of a text. Raises NotUnderstood where it holds anything else."""
    (found,) = ast.parse(text).body
    if not isinstance(found, ast.FunctionDef):
        raise NotUnderstood(text)
    parameters = {parameter.arg for parameter in found.args.args}
    reads = {whole: _names(whole) for statement in ast.walk(found) for whole in _wholes(statement)}
    # What is given to the function is different in every run.
    return Text(found, {whole: names for whole, names in reads.items() if parameters.isdisjoint(names)})


def _wholes(node: ast.AST) -> Iterator[ast.expr]:
    """The expressions that a statement works out, each as a whole, but for those that are only a name."""
    match node:
        case ast.Tuple(elts=items):
            for item in items:
                yield from _wholes(item)
        case ast.Name() | ast.Constant():
            return
        case ast.expr():
            yield node
        case (
            ast.Assign(value=value)
            | ast.AugAssign(value=value)
            | ast.If(test=value)
            | ast.Return(value=ast.expr() as value)
        ):
            yield from _wholes(value)


def _names(value: ast.expr) -> tuple[str, ...]:
    return tuple({node.id: None for node in ast.walk(value) if isinstance(node, ast.Name)})


@dataclass(frozen=True, slots=True)
class _Remembered:
    """What an expression came to with these values of the names it reads, and how many expressions that took."""

    read: list[Cases | None]
    found: Cases
    work: int


@dataclass
class Reader:
    """Reads functions in some algebra. ``tables`` are the names that the text uses and does not set; ``care`` is
    where the outcome matters: what is said of elsewhere may be anything."""

    algebra: Algebra
    tables: Mapping[str, Hashable]
    care: int
    started: dict[Hashable, int] = field(default_factory=dict)
    work: int = 0  # expressions read, which is what takes the time
    values: dict[str, Cases] = field(default_factory=dict)
    arguments: dict[str, tuple[Cases, ...]] = field(default_factory=dict)
    returned: list[tuple[int, Any]] = field(default_factory=list)
    reads: Mapping[ast.expr, tuple[str, ...]] = field(default_factory=dict)
    remembered: dict[ast.expr, _Remembered] = field(default_factory=dict)

    def run(self, text: Text, arguments: Mapping[str, Cases | tuple[Cases, ...]]) -> Any:
        """What the function returns, as nested tuples of cases. Adds to ``started`` what it starts, and when. An
        argument may be a tuple, item by item."""
        self.arguments = {name: given for name, given in arguments.items() if isinstance(given, tuple)}
        self.values = {name: given for name, given in arguments.items() if not isinstance(given, tuple)}
        self.returned, self.reads = [], text.reads
        left = self._body(text.function.body, self.algebra.true)
        if left != self.algebra.false or not self.returned:
            raise NotUnderstood("a way through that returns nothing")
        (_, found), *others = self.returned
        for path, other in others:
            found = self._joined(path, other, found)
        return found

    def _joined(self, path: int, there: Any, elsewhere: Any) -> Any:
        if isinstance(there, tuple):
            return tuple(self._joined(path, a, b) for a, b in zip(there, elsewhere, strict=True))
        return self.chosen(path, there, elsewhere)

    # --- statements: each gives the part of its path that goes on after it ----------------------------------

    def _body(self, body: Sequence[ast.stmt], path: int) -> int:
        for statement in body:
            if path == self.algebra.false:
                break
            path = self._statement(statement, path)
        return path

    def _statement(self, statement: ast.stmt, path: int) -> int:
        match statement:
            case ast.Assign(targets=[ast.Name(id=name)], value=value):
                self.values[name] = self._known(value)
            case ast.Assign(targets=[ast.Tuple(elts=targets)], value=value):
                whole = self._tree(value)
                for k, target in enumerate(targets):
                    assert isinstance(target, ast.Name)
                    part = whole[k] if isinstance(whole, tuple) else self._mapped(operator.itemgetter(k), whole)
                    self.values[target.id] = part
            case ast.AugAssign(target=ast.Name(id=name), op=op, value=value):
                self.values[name] = self._paired(_ARITHMETIC[type(op)], self.values[name], self._known(value))
            case ast.If(test=test, body=body, orelse=orelse):
                return self._if(self.when(self._known(test)), body, orelse, path)
            case ast.Return(value=ast.Tuple(elts=items)):
                self.returned.append((path, tuple(self._tree(item) for item in items)))
                return self.algebra.false
            case ast.Expr(value=ast.Call(func=ast.Attribute(value=ast.Name(id="started")), args=[number])):
                (which,) = self._value(number)
                self.started[which] = self.algebra.either(self.started.get(which, self.algebra.false), path)
            case ast.Pass():
                pass
            case _:
                raise NotUnderstood(ast.unparse(statement))
        return path

    def _tree(self, value: ast.expr) -> Any:
        """A value; of a tuple that is written out, or was given as an argument, its items."""
        match value:
            case ast.Tuple(elts=items):
                return tuple(self._tree(item) for item in items)
            case ast.Name(id=name) if name in self.arguments:
                return self.arguments[name]
            case _:
                return self._known(value)

    def _if(self, test: int, body: list[ast.stmt], orelse: list[ast.stmt], path: int) -> int:
        so = self.algebra.both(path, test)
        if so == path:
            return self._body(body, path)
        if so == self.algebra.false:
            return self._body(orelse, path)
        before = dict(self.values)
        so_left = self._body(body, so)
        first, self.values = self.values, before
        other_left = self._body(orelse, self.algebra.both(path, self.algebra.no(test)))
        if other_left == self.algebra.false:
            self.values = first
        elif so_left != self.algebra.false:
            for name, value in first.items():
                other = self.values.get(name)
                if other is None:
                    self.values[name] = value  # set on one way only, and so not looked at after the other
                elif other is not value:
                    self.values[name] = self.chosen(test, value, other)
        return self.algebra.either(so_left, other_left)

    # --- expressions ----------------------------------------------------------------------------------------

    def _known(self, value: ast.expr) -> Cases:
        """A whole expression: as it was, where all that it reads is. The work counts as done, so that what is given
        up for being too much does not hang on what was remembered."""
        names = self.reads.get(value)
        if names is None:
            return self._value(value)
        read, before = [self.values.get(name) for name in names], self.remembered.get(value)
        if before is not None and before.read == read:
            self.work += before.work
            return before.found
        done = self.work
        found = self._value(value)
        self.remembered[value] = _Remembered(read, found, self.work - done)
        return found

    def _value(self, value: ast.expr) -> Cases:
        self.work += 1
        match value:
            case ast.Name(id=name):
                known = self.values.get(name)
                return {self._table(name): self.algebra.true} if known is None else known
            case ast.BoolOp(op=op, values=parts):
                return self._logical(isinstance(op, ast.And), parts)
            case ast.UnaryOp(op=ast.Not(), operand=operand):
                f = self.when(self._value(operand))
                return self.cases(self.algebra.no(f))
            case ast.Constant(value=constant):
                if not isinstance(constant, int):
                    raise NotUnderstood(ast.unparse(value))
                return {constant: self.algebra.true}
            case ast.Tuple(elts=items):
                return {tuple(self._constant(item) for item in items): self.algebra.true}
            case ast.Set(elts=items):
                return {frozenset(self._constant(item) for item in items): self.algebra.true}
            case ast.UnaryOp(op=ast.USub(), operand=operand):
                return self._mapped(operator.neg, self._value(operand))
            case ast.BinOp(left=left, op=op, right=right) | ast.Compare(left=left, ops=[op], comparators=[right]):
                known_as = _ARITHMETIC.get(type(op))
                if known_as is None:
                    raise NotUnderstood(ast.unparse(value))
                return self._paired(known_as, self._value(left), self._value(right))
            case ast.IfExp(test=test, body=body, orelse=orelse):
                f = self.when(self._value(test))
                if f in (self.algebra.true, self.algebra.false):
                    return self._value(body if f == self.algebra.true else orelse)
                return self.chosen(f, self._value(body), self._value(orelse))
            case ast.Subscript(value=ast.Name(id=name), slice=ast.Constant(value=int(k))) if name in self.arguments:
                return self.arguments[name][k]
            case ast.Subscript(value=table, slice=index):
                return self._paired(lambda a, b: a[b], self._value(table), self._value(index))
            case ast.Call(func=ast.Name(id=name), args=arguments):
                return self._call(self._table(name), [self._value(one) for one in arguments])
            case _:
                raise NotUnderstood(ast.unparse(value))

    def _table(self, name: str) -> Hashable:
        if name not in self.tables:
            raise NotUnderstood(name)
        return self.tables[name]

    def _constant(self, value: ast.expr) -> Hashable:
        (only,) = self._value(value)
        return only

    def _logical(self, is_and: bool, parts: list[ast.expr]) -> Cases:
        """``and`` and ``or``, whose value is that of the part which decides. Later parts are not looked at where the
        outcome is certain."""
        found = self._value(parts[0])
        for part in parts[1:]:
            so = self.when(found)
            if so == (self.algebra.false if is_and else self.algebra.true):
                return found
            other = self._value(part)
            if found.keys() <= _BOOLS and other.keys() <= _BOOLS:
                g = self.when(other)
                found = self.cases(self.algebra.both(so, g) if is_and else self.algebra.either(so, g))
            else:
                found = self.chosen(so, other, found) if is_and else self.chosen(so, found, other)
        return found

    def _call(self, function: Hashable, arguments: list[Cases]) -> Cases:
        if not callable(function):
            raise NotUnderstood(str(function))
        match arguments:
            case [one]:
                return self._mapped(function, one)
            case [one, other]:
                return self._paired(function, one, other)
            case _:
                raise NotUnderstood(str(function))

    # --- cases ----------------------------------------------------------------------------------------------

    def cases(self, f: int) -> Cases:
        """A function as True and False."""
        if f in (self.algebra.true, self.algebra.false):
            return {f == self.algebra.true: self.algebra.true}
        return {True: f, False: self.algebra.no(f)}

    def when(self, cases: Cases) -> int:
        """When it counts as true."""
        if cases.keys() == _BOOLS:
            return cases[True]
        return self.algebra.any(f for value, f in cases.items() if value)

    def chosen(self, condition: int, there: Cases, elsewhere: Cases) -> Cases:
        """One where a condition holds, the other elsewhere."""
        if condition in (self.algebra.true, self.algebra.false):
            return there if condition == self.algebra.true else elsewhere
        if there.keys() <= _BOOLS and elsewhere.keys() <= _BOOLS:
            return self.cases(self.algebra.choose(condition, self.when(there), self.when(elsewhere)))
        return self._sifted(
            [
                *((value, self.algebra.both(condition, f)) for value, f in there.items()),
                *((value, self.algebra.both(self.algebra.no(condition), f)) for value, f in elsewhere.items()),
            ]
        )

    def same(self, some: Sequence[Cases], others: Sequence[Cases]) -> int:
        """When each of them has the value of its fellow."""
        return self.algebra.all(
            self.when(self._paired(operator.eq, one, other))
            for one, other in zip(some, others, strict=True)
            if one is not other
        )

    def _mapped(self, function: Callable[[Any], Any], one: Cases) -> Cases:
        return self._brought([((value,), f) for value, f in one.items()], function)

    def _paired(self, function: Callable[[Any, Any], Any], one: Cases, other: Cases) -> Cases:
        if len(one) * len(other) > _MOST_CASES:
            raise NotUnderstood("too many cases")
        if function in (operator.eq, operator.ne) and one.keys() <= _BOOLS and other.keys() <= _BOOLS:
            f, g = self.when(one), self.when(other)
            h = self.algebra.no(g)
            return self.cases(self.algebra.choose(f, *((g, h) if function is operator.eq else (h, g))))
        both = self.algebra.both
        return self._brought([((a, b), both(f, g)) for a, f in one.items() for b, g in other.items()], function)

    def _brought(self, cases: Sequence[tuple[tuple[Any, ...], int]], function: Callable[..., Any]) -> Cases:
        """What a function makes of values, the same brought together."""
        try:
            return self._sifted([(function(*values), f) for values, f in cases if f != self.algebra.false])
        except (ArithmeticError, LookupError, TypeError) as error:
            raise NotUnderstood(str(error)) from error

    def _sifted(self, cases: Sequence[tuple[Hashable, int]]) -> Cases:
        found: Cases = {}
        for value, f in cases:
            if f != self.algebra.false:
                found[value] = self.algebra.either(found[value], f) if value in found else f
        if found.keys() == _BOOLS:
            return self.cases(found[True])
        return found


_BOOLS = frozenset({False, True})
