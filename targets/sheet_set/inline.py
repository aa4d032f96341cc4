"""Drawings as part of a page: their words can be searched, selected and linked to.

What kinds of drawings have in common, their style sheet, stands in the page once, each rule of it held to the
drawings of that kind. A sheet drawn in several styles of symbols is there once as well: what all of them show, and in
each part of it (such as a rung) what only one does, in a group of that style's class. Names by which the page links
to a part go before all that it shows.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as Xml
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from markupsafe import Markup

__all__ = ["Inline", "inline", "style_kinds", "style_sheet"]

_SPACE = "{http://www.w3.org/2000/svg}"
_LEFT_OUT = {"style", "title", "desc"}  # what it shows is said by a label: a title would show under every pointer
_WIDE = 900.0  # pixels: what is wider would be small on an upright page
_LEAST = 0.75  # of its size: so small is a drawing shown at least where the window is narrower than it
_RULE = re.compile(r"\s*(@media[^{]*)\{((?:[^{}]*\{[^{}]*\})*)\s*\}|\s*([^{}@]+)\{([^{}]*)\}")


@dataclass(frozen=True, slots=True)
class Inline:
    """A drawing to stand in a page: what it shows, its markup (escaped where it was made), the names in it that links
    lead to. ``wide`` ones are printed on pages that lie on their long side."""

    shows: str
    markup: Markup
    wide: bool
    names: frozenset[str]


# --- style sheets ------------------------------------------------------------------------------------------------


def style_kinds(drawings: Iterable[str]) -> dict[str, str]:
    """A class for each different style sheet that drawings have."""
    styles = dict.fromkeys(_style(Xml.fromstring(svg)) for svg in drawings)
    return {style: f"drawn-{k}" for k, style in enumerate(styles, 1)}


def style_sheet(kinds: Mapping[str, str]) -> str:
    """These style sheets as one: no rule of a drawing touches one of another kind, or the page round it."""
    return "\n".join(rule for style, kind in kinds.items() for rule in _held_to(style, kind))


def _style(root: Xml.Element) -> str:
    return "".join(element.text or "" for element in root.iter(f"{_SPACE}style"))


def _held_to(style: str, kind: str) -> Iterator[str]:
    """The rules of a style sheet, for what stands in an element of a class. ``svg`` is that element itself."""
    at = 0
    while found := _RULE.match(style, at):
        at = found.end()
        media, inside, selectors, declarations = found.groups()
        if media:
            yield f"{media.strip()} {{ {' '.join(_held_to(inside, kind))} }}"
        else:
            places = (one.strip() for one in selectors.split(","))
            held = ", ".join(f".{kind}" if one == "svg" else f".{kind} {one}" for one in places)
            yield f"{held} {{ {declarations.strip()} }}"
    if style[at:].strip():
        raise ValueError(f"a rule of a style sheet is not understood: {style[at:].strip()[:80]}")


# --- shapes ------------------------------------------------------------------------------------------------------


def inline(drawings: Sequence[tuple[str, str]], shows: str, kinds: Mapping[str, str], *, prefix: str = "") -> Inline:
    """One thing drawn in one or several styles: each an SVG and its class, "" where there is but one. ``shows`` says
    what it is to whoever cannot see it; ``prefix`` goes before its names, without one it has none."""
    roots = [(Xml.fromstring(svg), style) for svg, style in drawings]
    wide, high = (max(float(root.attrib[side]) for root, _ in roots) for side in ("width", "height"))
    names = {element.attrib["id"] for root, _ in roots for element in root.iter() if "id" in element.attrib}
    alone = roots[0][1] if len(roots) == 1 else ""
    said = {
        "class": f"{kinds[_style(roots[0][0])]} {alone}".strip(),
        "role": "img",
        "aria-label": shows,
        "width": f"{wide:g}",
        "height": f"{high:g}",
        "viewBox": f"0 0 {wide:g} {high:g}",
        "style": f"min-width: {_LEAST * wide:.0f}px",
        "preserveAspectRatio": "xMinYMin",
    }
    markup = f"{_start('svg', said)}>{''.join(_together(roots, prefix))}</svg>"
    named = frozenset(prefix + name for name in names if prefix)
    return Inline(shows, Markup(markup), _WIDE < wide > high, named)


def _together(parents: Sequence[tuple[Xml.Element, str]], prefix: str) -> Iterator[str]:
    """What stands in one element of each style: what all show, what only one does, then the named groups in them."""
    plain = [Counter(_written(one, prefix) for one in parent if not _named(one)) for parent, _ in parents]
    shared = plain[0].copy()
    for other in plain[1:]:
        shared &= other
    yield from shared.elements()
    for (_, style), own in zip(parents, plain, strict=True):
        if only := "".join((own - shared).elements()):
            yield f'<g class="{style}">{only}</g>'
    groups = [({one.attrib["id"]: one for one in parent if _named(one)}, style) for parent, style in parents]
    for name, first in {name: one for named, _ in reversed(groups) for name, one in named.items()}.items():
        same = [(named.get(name, Xml.Element("g")), style) for named, style in groups]
        yield f"{_start('g', _kept(first, prefix))}>{''.join(_together(same, prefix))}</g>"


def _named(element: Xml.Element) -> bool:
    return element.tag == f"{_SPACE}g" and "id" in element.attrib


def _written(element: Xml.Element, prefix: str) -> str:
    """An element with all in it as HTML, which has its own way with ends of elements but not with these."""
    tag = element.tag.removeprefix(_SPACE)
    if tag in _LEFT_OUT:
        return ""
    inside = escape(element.text or "") + "".join(_written(one, prefix) + escape(one.tail or "") for one in element)
    start = _start(tag, _kept(element, prefix))
    return f"{start}>{inside}</{tag}>" if inside else f"{start}/>"


def _kept(element: Xml.Element, prefix: str) -> dict[str, str]:
    """The attributes of an element that mean something in a page."""
    kept = {name: value for name, value in element.attrib.items() if name not in ("id", "data-wire")}
    return kept | ({"id": prefix + element.attrib["id"]} if prefix and "id" in element.attrib else {})


def _start(tag: str, attributes: Mapping[str, str]) -> str:
    """A start tag, not yet closed."""
    return f"<{tag}" + "".join(f' {name}="{escape(value)}"' for name, value in attributes.items())
