"""A chart on its page: title, drawing, notes and caution as one SVG, and places for labels that lie on no other."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise

from jinja2 import Template

from compiler.simulation.run import Run
from targets.anchors import moment_anchor
from targets.drawing.figure import Bent, Item, Line, Text, cut_to_fit, text_width
from targets.drawing.svg import Drawn, drawn, environment, number
from targets.target import CAUTION

__all__ = [
    "MARGIN",
    "SIZES",
    "TOP",
    "Labels",
    "Moments",
    "between",
    "extent",
    "lines_of",
    "page",
    "seconds",
    "shortened",
    "titled",
]

MARGIN = 24.0
TOP = 64.0
_LETTERS = 130  # in a line of notes at most: a wide chart is cut into pages beside them
SIZES = {"title": 15.0, "under": 12.0, "row": 12.0, "group": 11.0, "small": 10.0, "note": 11.0, "tick": 10.0}


@dataclass(frozen=True, slots=True)
class _Page:
    title: str
    summary: str
    width: str
    height: str
    moments: tuple[_Anchor, ...]
    layers: tuple[Drawn, ...]


@dataclass(frozen=True, slots=True)
class _Anchor:
    """Where a link to a moment leads: an upright line, seen only while it is linked to."""

    key: str
    x: str
    top: str
    bottom: str
    told: str


@dataclass(frozen=True, slots=True)
class Moments:
    """The moments of a run that a page may link to, where each stands, and from where to where it reaches;
    ``prefix`` goes before their names."""

    places: Mapping[int, float]
    top: float
    bottom: float
    prefix: str = ""


def page(
    heading: tuple[str, str],
    layers: Sequence[Iterable[Item]],
    *,
    width: float,
    height: float,
    notes: Sequence[str],
    moments: Moments | None = None,
) -> str:
    """The SVG: layers from back to front below the heading (what it is, and of what), the notes and the caution below
    ``height``."""
    letters = min(_LETTERS, int((width - 2 * MARGIN) / 5.6))
    lines = [line for note in (*notes, CAUTION) for line in textwrap.wrap(note, letters, break_on_hyphens=False)]
    words = [
        Text(MARGIN, y, shortened(said, width - 2 * MARGIN, kind=kind), kind)
        for said, y, kind in zip(heading, (MARGIN + 8, MARGIN + 25), ("title", "under"), strict=True)
    ]
    words += [Text(MARGIN, height + 20 + 15 * k, line, "note") for k, line in enumerate(lines)]
    laid = _Page(
        title=": ".join(heading),
        summary="; ".join(notes) or heading[0],
        width=number(width),
        height=number(height + 20 + 15 * len(lines)),
        moments=() if moments is None else tuple(_anchors(moments)),
        layers=(*map(drawn, layers), drawn(words)),
    )
    return _template().render(page=laid)


def _anchors(moments: Moments) -> Iterator[_Anchor]:
    top, bottom = number(moments.top), number(moments.bottom)
    for at_us, x in sorted(moments.places.items()):
        yield _Anchor(moment_anchor(at_us, moments.prefix), number(x), top, bottom, seconds(at_us))


def titled(run: Run, kind: str) -> tuple[str, str]:
    """What stands over a chart of a run: what it is, and of which run."""
    beside = f" beside {run.shadow}" if run.shadow else ""
    return f"{run.machine or 'Sequence'}, {kind}", f"{run.scenario.name} ({run.driver}{beside})"


Segment = tuple[float, float, float, float]
Rectangle = tuple[float, float, float, float]


@dataclass(slots=True)
class Labels:
    """Labels put one after the other where they lie on none put before and, where that can be, on no line, least of
    all on one of the ``heavy`` ones."""

    lines: tuple[Segment, ...] = ()
    heavy: tuple[Segment, ...] = ()
    texts: list[Text] = field(default_factory=list)
    _taken: list[Rectangle] = field(default_factory=list)

    def put(self, *places: Text, clear: bool = False) -> Text | None:
        """Put a label at the best of its places, the first of those as good; None where none is free of labels.
        ``clear``: rather not at all than upon a line."""
        best: tuple[int, Text, Rectangle] | None = None
        for text in places:
            box = extent(text)
            if any(_overlap(box, other) for other in self._taken):
                continue
            struck = any(_crosses(line, box) for line in self.lines)
            struck_through = any(_crosses(line, box) for line in self.heavy)
            if best is None or struck + 2 * struck_through < best[0]:
                best = struck + 2 * struck_through, text, box
            if best[0] == 0:
                break
        if best is None or (clear and best[0]):
            return None
        return self._keep(best[1], best[2])

    def _keep(self, text: Text, box: Rectangle) -> Text:
        self.texts.append(text)
        self._taken.append(box)
        return text


def lines_of(items: Iterable[Item], *kinds: str) -> tuple[Segment, ...]:
    """The straight pieces of lines of these kinds."""
    found: list[Segment] = []
    for item in items:
        match item:
            case Line(kind=kind) if kind in kinds:
                found.append((item.x1, item.y1, item.x2, item.y2))
            case Bent(kind=kind, solid=False) if kind in kinds:
                found += [(*one, *other) for one, other in pairwise(item.points)]
    return tuple(found)


def between(left: float, right: float, y: float, said: str, kind: str = "small") -> Iterator[Text]:
    """Places for a label between two points: the middle first, then ever further from it."""
    middle, room = (left + right) / 2, (right - left - text_width(said, size=SIZES[kind])) / 2
    for share in (0, 0.25, -0.25, 0.5, -0.5, 0.75, -0.75, 1, -1) if room > 0 else (0,):
        yield Text(middle + share * room, y, said, kind, "middle")


def extent(text: Text) -> Rectangle:
    """The left, top, right and bottom of a text as drawn."""
    size = SIZES[text.kind]
    width = text_width(text.text, size=size)
    left = text.x - {"start": 0.0, "middle": width / 2, "end": width}[text.anchor]
    return left, text.y - size * 0.8, left + width, text.y + size * 0.22


def _overlap(one: Rectangle, other: Rectangle) -> bool:
    return one[0] < other[2] + 3 and other[0] < one[2] + 3 and one[1] < other[3] and other[1] < one[3]


def _crosses(line: Segment, box: Rectangle) -> bool:
    """Whether a straight line runs through a box (clipped side by side: Liang and Barsky 1984)."""
    x1, y1, x2, y2 = line
    enter, leave = 0.0, 1.0
    for of, by, low, high in ((x1, x2 - x1, box[0] - 1, box[2] + 1), (y1, y2 - y1, box[1], box[3])):
        if by == 0:
            if not low < of < high:
                return False
            continue
        near, far = sorted(((low - of) / by, (high - of) / by))
        enter, leave = max(enter, near), min(leave, far)
    return enter < leave


def shortened(name: str, room: float, *, kind: str = "row") -> str:
    """A name cut in its middle so that it fits a width."""
    return cut_to_fit(name, lambda shown: text_width(shown, size=SIZES[kind]) <= room)


def seconds(us: int) -> str:
    """A time in seconds with its unit, to the millisecond."""
    return f"{round(us / 1_000_000, 3):.10g} s"


@cache
def _template() -> Template:
    return environment("targets.motion").get_template("chart.svg.j2")
