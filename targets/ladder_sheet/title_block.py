"""The block at the foot of a sheet: what it shows of which machine, what was proved of it, how to read it, the
caution."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from targets.choices import Style
from targets.drawing.figure import Item, Line, Text
from targets.ladder_sheet.lettering import balanced, fitting
from targets.target import CAUTION

__all__ = ["Heading", "title_block"]

_KEY = (
    "Drawn without supply and with nothing actuated but the limit switches that the machine rests on. Wire 1 is the "
    "live rail, from the control supply behind its own switch and fuse, which are not drawn; wire 2 the common one. "
    "In brackets under a contact: the rung of its coil. Right of a coil: the rungs of its contacts, those that break "
    "underlined; /2.14 is rung 14 on sheet 2."
)
_ARROWS = "At an arrow a wire goes on where the next arrow begins, under the same number."
_APART = "[A] stands for what is drawn further down between [A] and [A]."
_REVISION = "The revision is a mark of the rung list: the same mark, the same rungs."
_COLUMNS = (0.0, 300.0, 560.0, 670.0, 780.0, 890.0)


@dataclass(frozen=True, slots=True)
class Heading:
    """What the title block says besides what is drawn. ``verdict``: what was proved of this circuit."""

    machine: str
    arrangement: str
    verdict: str = ""
    revision: str = ""


def title_block(
    heading: Heading, style: Style, *, rungs: str, sheet: str, width: float, on_it: Iterable[Item] | None = None
) -> tuple[tuple[Item, ...], float]:
    """Its items, from the rule above it on, and its height. It explains the marks that are ``on_it``, or any."""
    items: list[Item] = [Line(0, 0, width, 0, "rail")]
    cells = (
        ("machine", heading.machine or "Sequence"),
        ("arrangement", heading.arrangement),
        ("symbols", str(style)),
        ("revision", heading.revision or "not stated"),
        ("rungs", rungs),
        ("sheet", sheet),
    )
    for (key, value), x, end in zip(cells, _COLUMNS, (*_COLUMNS[1:], width), strict=True):
        items += [Text(x, 17, key, "key"), Text(x, 34, fitting(value, end - x - 12, "value"), "value")]
    y = 58.0
    for key, text, kind, apart, most in (
        ("verdict", heading.verdict or "not proved in this build", "said", 14.0, 3),
        ("", CAUTION, "said", 14.0, 3),
        ("", _key(on_it), "key", 12.0, 3),
    ):
        lines = balanced(text, width - (48 if key else 0), kind, most=most)
        items += [Text(0, y, key, "key")] if key else []
        items += [Text(48 if key else 0, y + apart * k, line, kind) for k, line in enumerate(lines)]
        y += apart * len(lines) + 6
    return tuple(items), y + 6


def _key(items: Iterable[Item] | None) -> str:
    """What the marks on a sheet mean, those that are on it."""
    if items is None:
        return " ".join((_KEY, _ARROWS, _APART, _REVISION))
    marks = {item.kind if isinstance(item, Text) else type(item).__name__ for item in items}
    arrows = (_ARROWS,) if "Up" in marks else ()
    apart = (_APART,) if "apart" in marks else ()
    return " ".join((_KEY, *arrows, *apart, _REVISION))
