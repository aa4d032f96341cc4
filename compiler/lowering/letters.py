"""Letter notation: moves in order, those in brackets together; and whether a cycle of them closes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from compiler.lowering.devices import Devices
from compiler.machine import Actuator, End
from grammar.sequence import tree

__all__ = ["as_steps", "check_letters"]


def as_steps(letters: tree.Letters) -> list[tree.CycleStep]:
    """The steps that some letters stand for: each move, or bracket of moves, is a step that ends at its switches."""
    return [
        tree.CycleStep(
            tuple(tree.Stroke("extend" if m.out else "retract", m.actuator, span=m.span) for m in group),
            span=group[0].span.to(group[-1].span),
        )
        for group in letters.moves
        if group
    ]


def check_letters(devices: Devices, statements: Sequence[tree.Statement]) -> None:
    """A cycle in letters alone must close: each cylinder goes out and back by turns, and ends where it rests."""
    lines = [s for s in statements if isinstance(s, tree.Letters)]
    if len(lines) != len(statements):
        return
    moves = [move for line in lines for group in line.moves for move in group]
    for name in dict.fromkeys(move.actuator.text.casefold() for move in moves):
        actuator = devices.find(name)
        if isinstance(actuator, Actuator):
            _check_cylinder(devices, actuator, (m for m in moves if m.actuator.text.casefold() == name))


def _check_cylinder(devices: Devices, actuator: Actuator, moves: Iterable[tree.Move]) -> None:
    out = actuator.rest is End.END
    place = {True: "out", False: "home"}
    last: tree.Move | None = None
    for move in moves:
        letter = f"{move.actuator.text}{'+' if move.out else '-'}"
        if move.out is out:
            already = "already" if last is not None else "at the start"
            message = f"the cycle does not close: {letter} is written, and {actuator.name} is {already} {place[out]}"
            turn = f"{move.actuator.text}{'-' if move.out else '+'}"
            cure = f"Write {turn} before it, or leave {letter} out."
            if last is None:
                cure += f" A cylinder that starts out is declared normally extended, or begins with {turn}."
            devices.fault("RW224", message, move.span, cure=cure)
            return
        last, out = move, move.out
    if last is not None and out is not (actuator.rest is End.END):
        back = f"{last.actuator.text}{'-' if out else '+'}"
        message = f"the cycle does not close: {actuator.name} is left {place[out]}, and never returns"
        devices.fault("RW224", message, last.span, cure=f"Add {back}.")
