"""Words whose meaning hangs on what a name is: ``stop PUMP`` turns a load off, ``stop WINCH`` halts what moves."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TypeVar, cast

from grammar.sequence import tree
from grammar.sequence.judge import every
from grammar.sequence.names import Names

__all__ = ["settle"]

T = TypeVar("T")


def settle(program: tree.Program) -> tree.Program:
    """The program with each ``stop`` and each ``run`` that says no direction read as its device has it."""
    doubtful = (
        n for n in every(program) if isinstance(n, tree.Halt) or (isinstance(n, tree.Run) and not n.direction)
    )
    if next(doubtful, None) is None:
        return program
    names = Names.of(program)
    motors = frozenset(d.name.text.casefold() for d in program.declarations if isinstance(d, tree.MotorDevice))
    return _settled(program, names, motors)


def _settled(node: T, names: Names, motors: frozenset[str]) -> T:
    if isinstance(node, tuple):
        parts = tuple(_settled(n, names, motors) for n in node)
        return node if all(new is old for new, old in zip(parts, node, strict=True)) else cast(T, parts)
    match node:
        case tree.Halt() if names.is_load(node.what):
            return cast(T, tree.Turn(False, node.what, span=node.span))
        case tree.Run(direction="") if node.motor.text.casefold() not in motors:
            return cast(T, tree.Turn(True, node.motor, span=node.span))
        case tree.Name() | tree.Text() | tree.Quantity():
            return node
        case tree.Node():
            old = {f.name: getattr(node, f.name) for f in fields(node) if f.name not in ("span", "comments")}
            new = {k: _settled(v, names, motors) for k, v in old.items()}
            changed = {k: v for k, v in new.items() if v is not old[k]}
            return replace(node, **changed) if changed else node
        case _:
            return node
