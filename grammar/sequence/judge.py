"""Passes over a finished program: what the grammar lets through but no program may say."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import fields
from functools import cache

from grammar.characters import skeleton
from grammar.diagnostic import Diagnostic, Severity
from grammar.sequence import tree
from grammar.sequence.words import NUMBER, UNITS, reserved

__all__ = ["LONGEST_NAME", "every", "has_blocks", "judge"]

LONGEST_NAME = 40
"""The most characters a name may have: it must fit a drawing and a terminal label."""
_QUANTITY = re.compile(NUMBER + "(?:" + "|".join(map(re.escape, UNITS)) + ")", re.IGNORECASE)


def judge(program: tree.Program) -> list[Diagnostic]:
    """Everything at fault in names, steps and texts of a program."""
    nodes = list(every(program))
    names = [n for n in nodes if isinstance(n, tree.Name)]
    found: list[Diagnostic] = []
    for name in names:
        found += _bad_name(name)
    found += _lookalikes(names)
    for node in nodes:
        match node:
            case tree.CycleStep():
                found += _bad_step(node)
            case tree.Run(direction=""):
                cure = f"run {node.motor.text} forward, or run {node.motor.text} in reverse"
                message = f"which way {node.motor.text} runs is not said"
                found.append(Diagnostic("RW164", Severity.FAULT, message, node.span, cure=cure))
            case tree.Repeat(times=0):
                message, cure = "what is repeated 0 times is never done", "say how often, or leave it out"
                found.append(Diagnostic("RW165", Severity.FAULT, message, node.span, cure=cure))
            case tree.HasReached(number=0):
                message, cure = "every counter has reached 0 from the start", "name a number from 1 on"
                found.append(Diagnostic("RW165", Severity.FAULT, message, node.span, cure=cure))
            case tree.Letters():
                found += _moved_twice(node)
            case tree.Text() if not node.text:
                cure = "say what a person at the machine should know"
                found.append(Diagnostic("RW133", Severity.FAULT, "this text is empty", node.span, cure=cure))
            case _:
                pass
    return found


def every(node: object) -> Iterator[tree.Node]:
    """A node and every node in it, in the order written."""
    waiting = [node]
    while waiting:
        this = waiting.pop()
        if isinstance(this, tuple):
            waiting.extend(reversed(this))
        elif isinstance(this, tree.Node):
            yield this
            inside = _inside(type(this))  # type: ignore[arg-type]  # the hash of the class, not of its nodes
            waiting.extend(getattr(this, name) for name in inside)


@cache
def _inside(kind: type[tree.Node]) -> tuple[str, ...]:
    """The fields of a node that may hold nodes, the last first."""
    return tuple(f.name for f in reversed(fields(kind)) if f.name not in ("span", "comments"))


def _bad_name(name: tree.Name) -> Iterator[Diagnostic]:
    word = name.text
    if word.casefold() in reserved():
        message = f"'{word}' is a word of the language; no device can be called that"
        cure = f"call it {word}1, say"
        if word.casefold() in ("on", "off"):
            cure = f"to switch it, say: turn {word.casefold()} and its name"
        yield Diagnostic("RW130", Severity.FAULT, message, name.span, cure=cure)
    if _QUANTITY.fullmatch(word):
        message = f"'{word}' reads as a quantity; no device can be called that"
        yield Diagnostic("RW130", Severity.FAULT, message, name.span, cure=f"call it M{word}, say")
    odd = next((c for c in word if unicodedata.category(c)[0] not in "LMN" and c not in "_-"), None)
    if odd is not None:
        told = unicodedata.name(odd, "").lower() or f"U+{ord(odd):04X}"
        message = f"the name '{word}' has a character no name can have: '{odd}' ({told})"
        yield Diagnostic("RW131", Severity.FAULT, message, name.span, expected="letters, digits, _ and -")
    if len(word) > LONGEST_NAME:
        message = f"this name has {len(word)} characters; a name has at most {LONGEST_NAME}"
        yield Diagnostic("RW132", Severity.FAULT, message, name.span, cure="shorten it")


def _lookalikes(names: list[tree.Name]) -> Iterator[Diagnostic]:
    """Two names that differ only in letters nobody can tell apart."""
    first: dict[str, str] = {}
    for name in names:
        if not name.text:
            continue
        look = skeleton(name.text)
        known = first.setdefault(look, name.text)
        if known.casefold() != name.text.casefold():
            message = f"'{name.text}' looks like '{known}' elsewhere, but is spelt with other letters"
            yield Diagnostic("RW134", Severity.FAULT, message, name.span, cure="type both with the same letters")


def has_blocks(program: tree.Program) -> bool:
    """Whether what belongs to what is said by indentation anywhere."""
    return any(isinstance(n, tree.Together | tree.Choice | tree.Repeat) for n in every(program))


def _moved_twice(letters: tree.Letters) -> Iterator[Diagnostic]:
    """A rod can't make two moves at the same time."""
    for group in letters.moves:
        moved: set[str] = set()
        for move in group:
            name = move.actuator.text
            if name.casefold() in moved:
                message = f"{name} moves twice in one bracket, and what is in one bracket moves together"
                yield Diagnostic("RW166", Severity.FAULT, message, move.span, cure="put it after the bracket")
            moved.add(name.casefold())


def _bad_step(step: tree.CycleStep) -> Iterator[Diagnostic]:
    waits = [c for c in step.commands if isinstance(c, tree.Wait)]
    if len(waits) > 1:
        yield Diagnostic("RW136", Severity.FAULT, "this step waits twice", waits[1].span, cure="say it once")
