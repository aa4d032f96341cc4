"""Parts of two logics that always have the same value: classes, of which one part speaks for all.

A step and the flag, the relay or the variable that stands for it are alike, and need not be kept in mind one by one.

Source: C. A. J. van Eijk, "Sequential equivalence checking based on structural similarities", IEEE TCAD 19(7), 2000
(from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from compiler.proof.induction.together import Seen

__all__ = ["alike_of", "parted"]


def alike_of(seen: Seen) -> list[list[int]]:
    """The parts, by their places, in classes that had the same value whenever they were seen."""
    classes: dict[frozenset[tuple[int, int]], list[int]] = {}
    for part, moments in enumerate(seen):
        classes.setdefault(frozenset((value, f) for value, f in moments.items() if f), []).append(part)
    return list(classes.values())


def parted(members: Sequence[int], same: Callable[[int, int], bool]) -> list[list[int]]:
    """The members in classes that are the same; the first member is in the first of them."""
    groups: list[list[int]] = []
    for member in members:
        for group in groups:
            if same(group[0], member):
                group.append(member)
                break
        else:
            groups.append([member])
    return groups
