"""Conditions as text. Brackets stand only where they change what is meant."""

from __future__ import annotations

from grammar.sequence import tree
from grammar.sequence.names import Names

__all__ = ["amount", "condition_text"]

# How tightly each form holds together: a part that holds less tightly than its place needs takes brackets.
_OR, _AND, _NOT, _FOR, _ATOM = range(5)


def amount(quantity: tree.Quantity) -> str:
    """A quantity as written."""
    return f"{quantity.number} {quantity.unit}"


def condition_text(node: tree.Cond, names: Names) -> str:
    """The canonical words of a condition."""
    return _text(node, names)[0]


def _text(node: tree.Cond, names: Names) -> tuple[str, int]:
    match node:
        case tree.AnyOf():
            return " or ".join(_inside(p, _AND, names) for p in node.parts), _OR
        case tree.AllOf():
            return " and ".join(_inside(p, _NOT, names) for p in node.parts), _AND
        case tree.NotCond(tree.HasReached(counter, number)):
            return f"{names.spelt(counter)} has not reached {number}", _ATOM
        case tree.NotCond(tree.AtRest(station)):
            return f"{names.spelt(station)} is not at rest", _ATOM
        case tree.NotCond():
            return f"not {_inside(node.of, _NOT, names)}", _NOT
        case tree.Sustained():
            return f"{_inside(node.of, _ATOM, names)} for {amount(node.time)}", _FOR
        case tree.After():
            return f"after {amount(node.time)}", _ATOM
        case tree.HasReached():
            return f"{names.spelt(node.counter)} has reached {node.number}", _ATOM
        case tree.AtRest():
            return f"{names.spelt(node.station)} is at rest", _ATOM
        case tree.PlaceIs():
            return _place(node, names), _ATOM
        case tree.StateIs():
            name = names.spelt(node.device)
            if node.word == tree.StateWord.MADE and names.is_load(node.device):
                return name, _ATOM
            return f"{name} is {node.word}", _ATOM


def _place(node: tree.PlaceIs, names: Names) -> str:
    negation = "not " if node.negated else ""
    if node.actuator is None:
        return f"{negation}{node.word}"
    return f"{names.spelt(node.actuator)} is {negation}{node.word}"


def _inside(node: tree.Cond, needs: int, names: Names) -> str:
    text, holds = _text(node, names)
    return f"({text})" if holds < needs else text
