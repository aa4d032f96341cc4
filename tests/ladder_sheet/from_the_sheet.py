"""What somebody reads off a printed ladder sheet: every symbol's name, its terminals, and the wires at its two sides.

It reads the SVG alone, by where things stand on it, as an eye does: terminal numbers under a symbol's ends, its name
over it, the wire that ends at it from the left and the one that goes on to the right.
"""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree import ElementTree

__all__ = ["Symbol", "symbols_of"]

_SVG = "{http://www.w3.org/2000/svg}"
Symbol = tuple[str, tuple[str, str], int, int]
"""Name, terminals, wire to the left, wire to the right."""


def symbols_of(sheet: str) -> Iterator[Symbol]:
    """Every symbol on a sheet."""
    for rung in ElementTree.fromstring(sheet).iter(f"{_SVG}g"):
        texts = [(t.attrib, t.text or "") for t in rung.iter(f"{_SVG}text")]
        wires = [line.attrib for line in rung.iter(f"{_SVG}line") if line.attrib["class"] == "wire"]
        level = [
            (float(w["x1"]), float(w["x2"]), float(w["y1"]), w["data-wire"]) for w in wires if w["y1"] == w["y2"]
        ]
        for at, first in texts:
            if at["class"] != "small" or at["text-anchor"] != "end":
                continue
            middle, height = float(at["x"]) + 18, float(at["y"]) - 14
            second = next(t for a, t in texts if a["class"] == "small" and _at(a, middle + 18, height + 14))
            (name,) = (t for a, t in texts if a["class"].startswith("device") and _near(a, middle, height - 17))
            (left,) = (wire for _, end, y, wire in level if y == height and middle - 17 < end < middle)
            (right,) = (wire for start, _, y, wire in level if y == height and middle < start < middle + 17)
            yield name, (first, second), int(left), int(right)


def _at(text: dict[str, str], x: float, y: float) -> bool:
    return (float(text["x"]), float(text["y"])) == (x, y)


def _near(text: dict[str, str], x: float, y: float) -> bool:
    return abs(float(text["x"]) - x) < 42 and float(text["y"]) == y
