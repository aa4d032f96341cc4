"""Figures: lines, boxes and texts round an axis, and how they are put together. Lengths in pixels, y downwards."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Self

__all__ = [
    "LINE_HEIGHT",
    "Bent",
    "Box",
    "Circle",
    "Figure",
    "Item",
    "Line",
    "Spot",
    "Text",
    "Up",
    "cut_to_fit",
    "extent",
    "joined",
    "text_block",
    "text_width",
]

LINE_HEIGHT = 15
# Widths of letters in thousandths of an em, as in the usual sans-serif faces (Helvetica and its metric equals).
_WIDTHS = {letter: width for width, letters in {
    222: "ijl'", 278: " ft.,:;!|/I[]", 333: "r()-“”", 500: "ckvxyzJs", 556: "abdeghnopqu0123456789_?L",
    584: "+<>=", 667: "ABEKPSVXY&", 722: "CDHNRUw", 778: "GOQ", 833: "mM", 944: "W", 1000: "—…→↑↓@%",
}.items() for letter in letters}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _At:
    """Something at a point."""

    x: float
    y: float

    def moved(self, dx: float, dy: float) -> Self:
        """The same, shifted."""
        return replace(self, x=self.x + dx, y=self.y + dy)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight link, or a ``bar`` (a transition), or one of the two lines of parallel work (``double``); a wire has
    its number."""

    x1: float
    y1: float
    x2: float
    y2: float
    kind: str = "link"
    wire: int = 0

    def moved(self, dx: float, dy: float) -> Line:
        return Line(self.x1 + dx, self.y1 + dy, self.x2 + dx, self.y2 + dy, self.kind, self.wire)


@dataclass(frozen=True, slots=True)
class Box(_At):
    """A frame: ``step``, ``inner`` (the second frame of an initial step), ``action`` or ``fault``."""

    width: float
    height: float
    kind: str


@dataclass(frozen=True, slots=True)
class Text(_At):
    """One line of text, its baseline at ``y``."""

    text: str
    kind: str
    anchor: str = "start"

    def moved(self, dx: float, dy: float) -> Text:
        """The same, shifted; written out, as there are many."""
        return Text(self.x + dx, self.y + dy, self.text, self.kind, self.anchor)


@dataclass(frozen=True, slots=True)
class Up(_At):
    """An arrow head with its tip at a point: ``up``, ``down`` or ``right``."""

    way: str


@dataclass(frozen=True, slots=True)
class Circle(_At):
    """A circle round a point."""

    radius: float
    kind: str = "symbol"


@dataclass(frozen=True, slots=True)
class Bent:
    """Lines from point to point, such as a sawtooth or a wedge; ``solid`` is filled."""

    points: tuple[tuple[float, float], ...]
    kind: str = "symbol"
    solid: bool = False

    def moved(self, dx: float, dy: float) -> Bent:
        return replace(self, points=tuple((x + dx, y + dy) for x, y in self.points))


@dataclass(frozen=True, slots=True)
class Spot(_At):
    """The place of something that is drawn there, by its name; nothing of it is to be seen."""

    name: tuple[str, ...]

    def moved(self, dx: float, dy: float) -> Spot:
        """The same, shifted; written out, as there are many."""
        return Spot(self.x + dx, self.y + dy, self.name)


Item = Line | Box | Text | Up | Circle | Bent | Spot


@dataclass(frozen=True, slots=True)
class Figure:
    """Items round an axis that enters at (0, 0) and leaves at (0, ``height``), so far to its left and right."""

    items: tuple[Item, ...]
    left: float
    right: float
    height: float

    def moved(self, dx: float, dy: float) -> tuple[Item, ...]:
        """Its items, shifted."""
        return tuple(item.moved(dx, dy) for item in self.items)


def joined(figures: Iterable[tuple[Figure, float, float]], height: float, *more: Item) -> Figure:
    """Figures at places of one larger one, and items besides."""
    placed = list(figures)
    items = tuple(item for figure, dx, dy in placed for item in figure.moved(dx, dy))
    left = max((figure.left - dx for figure, dx, _ in placed), default=0.0)
    right = max((figure.right + dx for figure, dx, _ in placed), default=0.0)
    for item in more:
        x1, x2 = _span(item)
        left, right = max(left, -x1), max(right, x2)
    return Figure((*items, *more), left, right, height)


@lru_cache(maxsize=8192)
def text_width(text: str, *, size: float = 12) -> float:
    """How wide a text is in a common sans-serif face, with a little to spare for a wider one."""
    return sum(_WIDTHS.get(c, 611 if ord(c) < 0x2E80 else 1050) for c in text) * size * 1.06 / 1000


def cut_to_fit(text: str, fits: Callable[[str], bool]) -> str:
    """A text cut in its middle until it fits: names that differ mostly do so at one of their ends."""
    if fits(text):
        return text
    cut = (f"{text[: (kept + 1) // 2]}…{text[len(text) - kept // 2 :]}" for kept in range(len(text) - 1, 1, -1))
    return next((shown for shown in cut if fits(shown)), "…")


def text_block(
    text: str, x: float, middle: float, kind: str, *, letters: int, lines: int = 6
) -> tuple[tuple[Text, ...], float, float]:
    """A text in lines of so many letters, centred on a height; with it, its width and its height."""
    wrapped = textwrap.wrap(text, letters, max_lines=lines, placeholder=" …", break_on_hyphens=False) or [""]
    top = middle - LINE_HEIGHT * len(wrapped) / 2
    block = tuple(Text(x, top + LINE_HEIGHT * (k + 0.75), line, kind) for k, line in enumerate(wrapped))
    return block, max(text_width(line) for line in wrapped), LINE_HEIGHT * len(wrapped)


def extent(item: Item) -> tuple[tuple[float, float], tuple[float, float]]:
    """How far an item reaches across and down: from, to. A text is taken to be in letters of the usual size."""
    match item:
        case Line(y1=y1, y2=y2):
            down = (min(y1, y2), max(y1, y2))
        case Bent(points=points):
            down = (min(y for _, y in points), max(y for _, y in points))
        case Box(y=y, height=height):
            down = (y, y + height)
        case Text(y=y):
            down = (y - 9, y + 3)
        case Circle(y=y, radius=radius):
            down = (y - radius, y + radius)
        case Up(y=y) | Spot(y=y):
            down = (y - 10, y + 10)
    return _span(item), down


def _span(item: Item) -> tuple[float, float]:
    match item:
        case Line(x1=x1, x2=x2):
            return min(x1, x2), max(x1, x2)
        case Box(x=x, width=width):
            return x, x + width
        case Text(x=x, text=text, anchor=anchor):
            width = text_width(text)
            return (x, x + width) if anchor == "start" else (x - width / 2, x + width / 2)
        case Up(x=x):
            return x - 5, x + 5
        case Circle(x=x, radius=radius):
            return x - radius, x + radius
        case Spot(x=x):
            return x, x
        case Bent(points=points):
            return min(x for x, _ in points), max(x for x, _ in points)
