"""A finished drawing measured: what stands where in its SVG, so that it can be cut into pages and pointed at.

It is read from the drawing as written, so that what is cut or pointed at is what the reader sees. It understands what
our templates write: lines, boxes, circles, corners and texts, in groups that are only shifted.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as Xml
from collections.abc import Iterator
from dataclasses import dataclass

from targets.drawing.figure import text_width

__all__ = ["Extent", "Measured", "Thing", "measured"]

_SPACE = "{http://www.w3.org/2000/svg}"
_SHIFT = re.compile(r"translate\(\s*(-?[\d.]+)[\s,]+(-?[\d.]+)\s*\)")
_SIZE = re.compile(r"([^{}]+)\{[^{}]*font-size:\s*([\d.]+)px")
_UNSEEN = {"title", "desc", "style", "metadata"}
# A text with letters from here on (CJK, emoji), which few fonts have, is set in another face, and so made to fit.
_RARE = 0x2E80
_USUAL = 12.0  # the size of a text where the style sheet states none


@dataclass(frozen=True, slots=True)
class Extent:
    """A box in pixels of the drawing, y downwards."""

    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Thing:
    """One element: its tag and class, how far it reaches (None where that is not known), what it says, its own markup
    inside the groups it stood in, and the ids of those and of its own (``within``), which the markup leaves out."""

    tag: str
    kind: str
    extent: Extent | None
    text: str
    markup: str
    within: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Measured:
    """A drawing: its size, its style sheet (the rules for paper, colours written out), the smallest text in it."""

    width: float
    height: float
    style: str
    smallest: float
    things: tuple[Thing, ...]


def measured(svg: str) -> Measured:
    """The measures of a drawing of ours. Raises ParseError where it is no XML."""
    root = Xml.fromstring(svg)
    for element in root.iter():
        element.tag = element.tag.removeprefix(_SPACE)
    style = "".join(element.text or "" for element in root.iter("style"))
    sizes = _sizes(style)
    things = tuple(_things(root, sizes, _Groups()))
    used = {_size(thing.kind, sizes) for thing in things if thing.tag == "text"}
    return Measured(
        float(root.attrib["width"]), float(root.attrib["height"]), _on_paper(style), min(used, default=_USUAL), things
    )


@dataclass(frozen=True, slots=True)
class _Groups:
    """The groups round an element: how far they shift it, their markup before and after it, their ids."""

    dx: float = 0.0
    dy: float = 0.0
    before: str = ""
    after: str = ""
    ids: tuple[str, ...] = ()

    def inner(self, group: Xml.Element) -> _Groups:
        """Those round what stands in a group among them."""
        dx, dy = _shift(group)
        own = {name: value for name, value in group.attrib.items() if name != "id"}  # cut apart, it would stand twice
        opening = Xml.tostring(Xml.Element("g", own), encoding="unicode", short_empty_elements=False)
        ids = (group.attrib["id"],) if "id" in group.attrib else ()
        return _Groups(
            self.dx + dx,
            self.dy + dy,
            self.before + opening.removesuffix("</g>"),
            f"</g>{self.after}",
            self.ids + ids,
        )


def _things(parent: Xml.Element, sizes: dict[str, float], groups: _Groups) -> Iterator[Thing]:
    for element in parent:
        if element.tag in _UNSEEN:
            continue
        if element.tag == "g":
            yield from _things(element, sizes, groups.inner(element))
            continue
        text = "".join(element.itertext())
        extent = _extent(element, sizes, text, (groups.dx, groups.dy))
        element.tail = None
        if extent and element.tag == "text" and max(map(ord, text), default=0) >= _RARE:
            element.attrib |= {"textLength": f"{extent.right - extent.left:.1f}", "lengthAdjust": "spacingAndGlyphs"}
        ids = groups.ids + ((element.attrib.pop("id"),) if "id" in element.attrib else ())
        markup = f"{groups.before}{Xml.tostring(element, encoding='unicode')}{groups.after}"
        yield Thing(element.tag, element.attrib.get("class", ""), extent, text, markup, ids)


def _shift(element: Xml.Element) -> tuple[float, float]:
    found = _SHIFT.search(element.attrib.get("transform", ""))
    return (float(found[1]), float(found[2])) if found else (0.0, 0.0)


def _extent(element: Xml.Element, sizes: dict[str, float], text: str, shift: tuple[float, float]) -> Extent | None:
    def at(name: str) -> float:
        return float(element.attrib.get(name, "0"))

    match element.tag:
        case "line":
            points = [(at("x1"), at("y1")), (at("x2"), at("y2"))]
        case "rect":
            points = [(at("x"), at("y")), (at("x") + at("width"), at("y") + at("height"))]
        case "circle":
            points = [(at("cx") - at("r"), at("cy") - at("r")), (at("cx") + at("r"), at("cy") + at("r"))]
        case "polyline" | "polygon":
            numbers = [float(n) for n in re.split(r"[\s,]+", element.attrib.get("points", "").strip()) if n]
            points = list(zip(numbers[::2], numbers[1::2], strict=True))
        case "text":
            size = _size(element.attrib.get("class", ""), sizes)
            wide = text_width(text, size=size)
            left = at("x") - {"middle": wide / 2, "end": wide}.get(element.attrib.get("text-anchor", ""), 0.0)
            points = [(left, at("y") - 0.8 * size), (left + wide, at("y") + 0.22 * size)]
        case _:
            points = []
    if not points:
        return None
    xs, ys = [x + shift[0] for x, _ in points], [y + shift[1] for _, y in points]
    return Extent(min(xs), min(ys), max(xs), max(ys))


def _sizes(style: str) -> dict[str, float]:
    """The size of text by class, and under "text" that of every other."""
    found: dict[str, float] = {}
    for names, size in _SIZE.findall(style):
        found |= {name.strip().lstrip(".").removeprefix("text."): float(size) for name in names.split(",")}
    return found


def _size(kind: str, sizes: dict[str, float]) -> float:
    return next((sizes[name] for name in kind.split() if name in sizes), sizes.get("text", _USUAL))


def _on_paper(style: str) -> str:
    """The rules without those for screens, and with every ``var(--name)`` written out, for printers of SVG."""
    rules = re.sub(r"@media[^{]*\{(?:[^{}]*\{[^{}]*\})*[^{}]*\}", "", style)
    rules = re.sub(r"[^{}]*:target[^{}]*\{[^{}]*\}", "", rules)  # paper is not linked to
    values = dict(re.findall(r"(--[\w-]+):\s*([^;}]+?)\s*(?=[;}])", rules))
    return re.sub(r"var\((--[\w-]+)\)", lambda found: values.get(found[1], "inherit"), rules)
