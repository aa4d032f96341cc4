"""Every answer a logic has in a state, whatever its inputs are, found by watching which inputs it looks at.

The inputs are given as bits that nobody has looked at yet. Running the logic shows which it looks at, in which order;
then it is run again with the last one the other way, and so on, until every way through is known. There are as many
ways as make a difference, which are few, where all values of all inputs would be many.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from typing import Any, TypeVar

__all__ = ["Look", "TooMany", "plain", "ways"]

Answer = TypeVar("Answer")


class TooMany(Exception):
    """There are more ways through than anybody wants to see."""


class Look:
    """An input that notes when it is looked at, or its opposite. It stands wherever a bool may stand."""

    __slots__ = ("_opposite", "_place", "_seen")

    def __init__(self, seen: dict[int, bool], place: int, *, opposite: bool = False) -> None:
        self._seen = seen
        self._place = place
        self._opposite = opposite

    def __bool__(self) -> bool:
        return self._seen.setdefault(self._place, False) is not self._opposite

    def __index__(self) -> int:
        return int(bool(self))

    def __add__(self, other: int) -> int:
        return bool(self) + other

    def __mul__(self, other: int) -> int:
        return bool(self) * other

    __radd__, __rmul__ = __add__, __mul__

    def __hash__(self) -> int:
        return hash(bool(self))

    def __eq__(self, other: object) -> Any:
        """Beside a plain bool it goes on unseen, as a wire that is normally closed does."""
        if isinstance(other, bool):
            return self if other else self._turned()
        return bool(self) == other

    def __ne__(self, other: object) -> Any:
        if isinstance(other, bool):
            return self._turned() if other else self
        return bool(self) != other

    def _turned(self) -> Look:
        return Look(self._seen, self._place, opposite=not self._opposite)


def plain(value: Hashable) -> Hashable:
    """A state without inputs in it: each that was kept has been looked at."""
    if isinstance(value, Look):
        return bool(value)
    if isinstance(value, tuple):
        parts: list[Any] = [plain(part) for part in value]
        return type(value)(*parts) if hasattr(value, "_fields") else tuple(parts)
    return value


def ways(run: Callable[[dict[int, bool]], Answer], *, most: int) -> Iterator[Answer]:
    """What ``run`` answers on every way through; it makes its inputs of the values it is given. Raises TooMany."""
    values: dict[int, bool] = {}
    for _ in range(most):
        yield run(values)
        # Back to the last input that can still go the other way; those after it are forgotten.
        while values:
            place, value = values.popitem()
            if not value:
                values[place] = True
                break
        else:
            return
    raise TooMany
