"""Cascade groups: a sequence of moves cut so that no cylinder moves twice in one group, and what needs the cutting.

The rule: go through the moves in order and begin a new group just before a letter would come twice in the present
one (Simmons and Dennis, Manual of Engineering Drawing, ch. 27). Counted in a line from START, the first move begins
the first group; round the cycle, the last group and the first may be one if no letter comes twice in it (common
practice).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

__all__ = ["Group", "Move", "Stage", "in_line", "opening", "overlap", "roman", "round_the_cycle", "told"]


@dataclass(frozen=True, slots=True)
class Move:
    """A cylinder, by its letter or name, goes out or comes back."""

    letter: str
    out: bool

    def __str__(self) -> str:
        return f"{self.letter}{'+' if self.out else '-'}"

    @property
    def opposite(self) -> Move:
        """The same cylinder the other way."""
        return Move(self.letter, not self.out)


Stage = tuple[Move, ...]
"""Moves that begin together and are waited for together; none is a hold."""

Group = tuple[Stage, ...]


def in_line(stages: Sequence[Stage]) -> tuple[Group, ...]:
    """The groups of a sequence that begins with its first move: the least number of them there can be."""
    groups: list[list[Stage]] = [[]]
    letters: set[str] = set()
    for stage in stages:
        coming = {move.letter for move in stage}
        if coming & letters:
            groups.append([])
            letters = set()
        groups[-1].append(stage)
        letters |= coming
    return tuple(tuple(group) for group in groups)


def round_the_cycle(stages: Sequence[Stage]) -> tuple[Group, ...]:
    """The fewest groups where the cycle may be entered in the middle of one; it begins with the first such group."""
    turned = (in_line((*stages[k:], *stages[:k])) for k in range(max(1, len(stages))) if not k or stages[k])
    return min(turned, key=len)


def overlap(stages: Sequence[Stage]) -> tuple[Move, ...]:
    """The moves blocked in direct wiring, where each is commanded by the switches of the moves just before it.

    A memory valve obeys only where the opposite command is gone: a move is blocked when some command for the opposite
    one still stands, all its switches being made at the moment the move is due. The first move waits for the last.
    """
    moved = [stage for stage in stages if stage]
    starters: dict[Move, list[Stage]] = {}
    for k, stage in enumerate(moved):
        for move in stage:
            starters.setdefault(move, []).append(moved[k - 1])
    made = {move.letter: not move.out for stage in reversed(moved) for move in stage}  # where each one starts
    blocked: list[Move] = []
    for stage in moved:
        for move in stage:
            opposing = starters.get(move.opposite, [])
            if any(all(made[m.letter] is m.out for m in starter) for starter in opposing):
                blocked.append(move)
        made |= {move.letter: move.out for move in stage}
    return tuple(blocked)


def opening(stages: Sequence[Stage]) -> str:
    """Where the cycle does not close, in words; empty where it does.

    It closes when every letter goes out and comes back by turns and ends where it began.
    """
    last: dict[str, bool] = {}
    first: dict[str, bool] = {}
    for stage in stages:
        letters = [move.letter for move in stage]
        for move in stage:
            way = "out" if move.out else "back"
            if letters.count(move.letter) > 1:
                return f"{move.letter} moves twice at once"
            if last.get(move.letter) is move.out:
                return f"{move.letter} is sent {way} twice in a row"
            first.setdefault(move.letter, move.out)
            last[move.letter] = move.out
    for letter, out in last.items():
        if first[letter] is out:
            return f"{letter} does not end the cycle where it began it"
    return ""


def told(groups: Iterable[Iterable[Stage]]) -> str:
    """``A+ B+ / (B- C+) A-``: groups apart by strokes, moves that begin together in brackets, holds left out.
    A group without a move is a ``wait``."""
    return " / ".join(" ".join(_stage(stage) for stage in group if stage) or "wait" for group in groups)


def _stage(stage: Stage) -> str:
    moves = " ".join(map(str, stage))
    return moves if len(stage) == 1 else f"({moves})"


def roman(number: int) -> str:
    """The number of a group, as groups are numbered: ``IV``. For 1 to 3999."""
    signs = zip((1000, 900, 500, 400, 100, 90, 50, 40, 10, 9, 5, 4, 1),
                ("M", "CM", "D", "CD", "C", "XC", "L", "XL", "X", "IX", "V", "IV", "I"), strict=True)  # fmt: skip
    text = ""
    for value, sign in signs:
        text += sign * (number // value)
        number %= value
    return text
