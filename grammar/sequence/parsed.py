"""What a rule of the grammar found in a clause: the nodes inside it, the words kept, and its place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from grammar.layout import Clause
from grammar.sequence import tree
from grammar.source import Span

if TYPE_CHECKING:
    from lark import Token

__all__ = ["Parsed", "a", "cond"]

N = TypeVar("N")


@dataclass(frozen=True, slots=True)
class Parsed:
    """One rule of a clause. A token is a string that knows its type and its place in the clause."""

    rule: str
    inner: list[tree.Node]
    tokens: list[Token]
    clause: Clause
    span: Span

    @property
    def kinds(self) -> list[str]:
        """The terminals of the words kept."""
        return [t.type for t in self.tokens]

    @property
    def names(self) -> list[tree.Name]:
        """The names inside, in the order written."""
        return self.every(tree.Name)

    @property
    def amounts(self) -> list[tree.Quantity]:
        """The quantities inside, in the order written."""
        return self.every(tree.Quantity)

    def every(self, kind: type[N]) -> list[N]:
        """The nodes of one kind inside."""
        return [n for n in self.inner if isinstance(n, kind)]

    def first(self, kind: type[N]) -> N | None:
        """The first node of a kind inside, if there is one."""
        return next(iter(self.every(kind)), None)

    def place(self, token: Token) -> Span:
        """Where a word kept stands in the source."""
        return self.clause.span(token.start_pos or 0, token.end_pos)


def a(kind: type[N], node: object) -> N:
    """The node as the kind the grammar promises."""
    assert isinstance(node, kind), f"the grammar promises a {kind.__name__} here, not {node!r}"
    return node


def cond(node: object) -> tree.Cond:
    """The node as the condition the grammar promises."""
    assert isinstance(node, tree.Cond), f"the grammar promises a condition here, not {node!r}"
    return node
