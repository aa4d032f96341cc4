"""Where a line of contacts ends and another carries its wire on: an arrow at either end, under the wire's number."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from targets.drawing.figure import Item, Line, Text, Up

__all__ = ["ON", "comes_in", "ends", "goes_on"]

ON = 22.0  # how far an arrow reaches beyond its line
_STUB = 8.0


def comes_in(wire: int) -> Iterator[Item]:
    """Before a line that begins at (0, 0), the wire that it carries on."""
    yield Line(-_STUB, 0, 0, 0, "wire", wire)
    yield Up(-_STUB, 0, "right")
    yield Text(-2, -8, str(wire), "wire-number", "end")


def ends(x: float, line: Sequence[Item], wire: int) -> Iterator[Item]:
    """After a ``line`` that is so long its wire, with its number unless that stands over its last contact."""
    yield Line(x, 0, x + _STUB + 2, 0, "wire", wire)
    if not any(isinstance(i, Text) and i.kind == "wire-number" and i.text == str(wire) and i.y == -5 for i in line):
        yield Text(x + 2, -8, str(wire), "wire-number")


def goes_on(x: float, line: Sequence[Item], wire: int) -> Iterator[Item]:
    """After a line that is so long, that its wire goes on in the next one."""
    yield from ends(x, line, wire)
    yield Up(x + _STUB + 12, 0, "right")
