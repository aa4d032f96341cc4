"""What a rung list says about itself under its title, as text at the head of the first sheets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from targets.drawing.figure import Item, Text
from targets.ladder_sheet.lettering import wrapped
from targets.target import CAUTION

__all__ = ["notes_blocks"]

_LINE = 15.0
_APART = 5.0
_UNDER = 12.0
_POINT = "- "


def notes_blocks(notes: Sequence[str], width: float, room: float) -> list[tuple[tuple[Item, ...], float]]:
    """One block or, where there is more to say than there is room for on a sheet, one for each sheet it takes: its
    items, from the first line's top on, and its height. The caution is left to the title block."""
    blocks: list[tuple[tuple[Item, ...], float]] = []
    items: list[Item] = []
    y = 0.0
    for text in _paragraphs(notes):
        if text == CAUTION:
            continue
        point = text.startswith(_POINT)
        indent = 12.0 if point else 0.0
        for k, line in enumerate(wrapped(text.removeprefix(_POINT), width - indent, "comment")):
            if y + _LINE + _UNDER > room:
                blocks.append((tuple(items), y + _UNDER))
                items, y = [], 0.0
            if point and not k:
                items.append(Text(0, y + 12, "-", "comment"))
            items.append(Text(indent, y + 12, line, "comment"))
            y += _LINE
        y += 0.0 if point else _APART
    return [*blocks, (tuple(items), y + _UNDER if items else 0.0)]


def _paragraphs(notes: Sequence[str]) -> Iterator[str]:
    """Lines that follow one another are one text; each point of a list is one."""
    text = ""
    for line in (*notes, ""):
        if text and (not line.strip() or line.startswith(_POINT)):
            yield text
            text = ""
        text = f"{text} {line.strip()}".lstrip() if text else line.strip()
