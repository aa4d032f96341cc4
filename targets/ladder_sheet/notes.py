"""What a rung list says about itself under its title, as text at the head of the first sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from targets.drawing.figure import Item, Text
from targets.ladder_sheet.lettering import wrapped
from targets.target import CAUTION

__all__ = ["notes_block"]

_LINE = 15.0
_APART = 5.0
_POINT = "- "


def notes_block(notes: Sequence[str], width: float) -> tuple[tuple[Item, ...], float]:
    """Its items, from the first line's top on, and its height; the caution is left to the title block."""
    items: list[Item] = []
    y = 0.0
    for text in _paragraphs(notes):
        if text == CAUTION:
            continue
        point = text.startswith(_POINT)
        indent = 12.0 if point else 0.0
        if point:
            items.append(Text(0, y + 12, "-", "comment"))
        lines = wrapped(text.removeprefix(_POINT), width - indent, "comment")
        items += [Text(indent, y + 12 + _LINE * k, line, "comment") for k, line in enumerate(lines)]
        y += _LINE * len(lines) + (0.0 if point else _APART)
    return tuple(items), y + 12 if items else 0.0


def _paragraphs(notes: Sequence[str]) -> Iterator[str]:
    """Lines that follow one another are one text; each point of a list is one."""
    text = ""
    for line in (*notes, ""):
        if text and (not line.strip() or line.startswith(_POINT)):
            yield text
            text = ""
        text = f"{text} {line.strip()}".lstrip() if text else line.strip()
