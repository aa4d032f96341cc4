"""Kinds of lettering on a ladder sheet: how large each is and how much room a text of it takes."""

from __future__ import annotations

from functools import lru_cache

from targets.drawing.figure import cut_to_fit, text_width

__all__ = ["SIZES", "balanced", "fitting", "width", "wrapped"]

SIZES = {
    "device": 12.0,
    "device-small": 10.0,
    "device-least": 9.0,
    "small": 9.5,
    "wire-number": 9.5,
    "reference": 10.0,
    "apart": 12.0,
    "letter": 11.0,
    "number": 13.0,
    "comment": 12.0,
    "across": 11.0,
    "key": 9.5,
    "value": 13.0,
    "said": 11.0,
}
"""Heights of letters in pixels, by the class they have in the style sheet."""

_BOLD = frozenset({"device", "device-small", "device-least", "letter", "number", "value", "apart"})
_BOLDER = 0.06  # of its size is a bold letter of the usual sans-serif faces wider than the plain one, at most


def width(text: str, kind: str) -> float:
    """How wide a text is, with a little to spare."""
    size = SIZES[kind]
    return text_width(text, size=size) + (_BOLDER * size * len(text) if kind in _BOLD else 0)


def fitting(text: str, room: float, kind: str) -> str:
    """A text cut in its middle to fit."""
    return cut_to_fit(text, lambda shown: width(shown, kind) <= room)


@lru_cache(maxsize=256)
def balanced(text: str, room: float, kind: str, *, most: int = 100) -> tuple[str, ...]:
    """The same in lines of much the same length, no more of them."""
    lines = wrapped(text, room, kind, most=most)
    while len(lines) > 1 and room > 40:
        narrower = wrapped(text, room - 20, kind, most=most + 1)
        if len(narrower) > len(lines):
            break
        room -= 20
        lines = wrapped(text, room, kind, most=most)
    return tuple(lines)


def wrapped(text: str, room: float, kind: str, *, most: int = 100) -> list[str]:
    """A text in lines that fit; what does not fit the last of ``most`` lines is cut there."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".lstrip()
        if width(longer, kind) <= room or not lines[-1]:
            lines[-1] = longer
        else:
            lines.append(word)
    if len(lines) > most:
        lines[most - 1 :] = [f"{lines[most - 1]} …"]
    return [fitting(line, room, kind) for line in lines if line]
