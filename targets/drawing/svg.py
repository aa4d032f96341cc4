"""Items as what an SVG template lays out: numbers ready to print, a class for each kind of line and text."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

from targets.drawing.figure import Bent, Box, Circle, Item, Line, Text, Up

__all__ = ["Drawn", "Shape", "drawn", "environment", "number"]


@dataclass(frozen=True, slots=True)
class Shape:
    """One thing to draw: its class in the style sheet and its numbers, what a text says, the number of a wire."""

    kind: str
    at: tuple[str, ...]
    text: str = ""
    anchor: str = ""
    wire: int = 0


@dataclass(frozen=True, slots=True)
class Drawn:
    """Everything of a drawing, by element."""

    lines: tuple[Shape, ...]
    boxes: tuple[Shape, ...]
    circles: tuple[Shape, ...]
    bent: tuple[Shape, ...]
    solid: tuple[Shape, ...]
    texts: tuple[Shape, ...]


def drawn(items: Iterable[Item]) -> Drawn:
    """The items sorted by element, in their order."""
    everything = list(items)
    return Drawn(
        lines=tuple(
            Shape(i.kind, _all(i.x1, i.y1, i.x2, i.y2), wire=i.wire) for i in everything if isinstance(i, Line)
        ),
        boxes=tuple(Shape(i.kind, _all(i.x, i.y, i.width, i.height)) for i in everything if isinstance(i, Box)),
        circles=tuple(Shape(i.kind, _all(i.x, i.y, i.radius)) for i in everything if isinstance(i, Circle)),
        bent=tuple(Shape(i.kind, (_points(i.points),)) for i in everything if isinstance(i, Bent) and not i.solid),
        solid=tuple(
            Shape(
                i.kind if isinstance(i, Bent) else "arrow", (_points(i.points if isinstance(i, Bent) else _head(i)),)
            )
            for i in everything
            if isinstance(i, Up) or (isinstance(i, Bent) and i.solid)
        ),
        texts=tuple(Shape(i.kind, _all(i.x, i.y), i.text, i.anchor) for i in everything if isinstance(i, Text)),
    )


def environment(package: str) -> Environment:
    """Where the templates of a package are, and beside them ``shapes.svg.j2``. Everything is escaped."""
    return Environment(
        loader=ChoiceLoader([PackageLoader(package), PackageLoader("targets.drawing")]),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def number(value: float) -> str:
    """A number as short as it can be, to a tenth."""
    return f"{round(value, 1):.10g}"


def _all(*values: float) -> tuple[str, ...]:
    return tuple(map(number, values))


def _points(points: Iterable[tuple[float, float]]) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)


def _head(arrow: Up) -> tuple[tuple[float, float], ...]:
    """The corners of an arrow head."""
    x, y = arrow.x, arrow.y
    return {
        "up": ((x, y), (x - 5, y + 10), (x + 5, y + 10)),
        "down": ((x, y), (x - 5, y - 10), (x + 5, y - 10)),
        "right": ((x, y), (x - 10, y - 5), (x - 10, y + 5)),
    }[arrow.way]
