"""The two ways of drawing devices, and what they share: cells that a wire runs through from left to right.

A cell is ``CELL`` wide with the wire at height 0. Names stand above the symbol, terminals under its ends.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from grammar.rungs.tree import Device, Form, Kind, Terminal
from targets.choices import Style
from targets.drawing.figure import Item, Line, Text, text_width
from targets.ladder_sheet.iec import coil as iec_coil
from targets.ladder_sheet.iec import contact as iec_contact
from targets.ladder_sheet.north_american import coil as north_american_coil
from targets.ladder_sheet.north_american import contact as north_american_contact

__all__ = ["CELL", "coil", "contact"]

CELL = 84.0
_FITS = 13  # letters of a name that fit over a cell


@dataclass(frozen=True, slots=True)
class _Symbols:
    contact: Callable[[Kind, Form, bool], tuple[Item, ...]]
    coil: Callable[[Kind, Terminal, str], tuple[Item, ...]]


_STYLES = {
    Style.NORTH_AMERICAN: _Symbols(north_american_contact, north_american_coil),
    Style.IEC: _Symbols(iec_contact, iec_coil),
}


def contact(device: Device, form: Form, *, held: bool, terminals: tuple[str, str], style: Style) -> tuple[Item, ...]:
    """A contact's cell. ``held``: the machine rests on the device, so its contact is drawn operated."""
    symbol = _STYLES[style].contact(device.kind, form, held)
    return (*_moved(symbol), *_leads(), *_said(device.name.text, terminals))


def coil(device: Device, terminal: Terminal, *, terminals: tuple[str, str], style: Style) -> tuple[Item, ...]:
    """A coil's or a load's cell, with what a timer or a counter is set to under it."""
    symbol = _STYLES[style].coil(device.kind, terminal, _function(device))
    name = device.name.text if terminal in (Terminal.COIL, Terminal.LATCH) else f"{device.name.text} {terminal}"
    items = (*_moved(symbol), *_leads(), *_said(name, terminals))
    if device.preset is None or terminal in (Terminal.SUPPLY, Terminal.RESET):
        return items
    what, time = str(device.function or "preset"), f"{device.preset.number} {device.preset.unit}".strip()
    short = text_width(f"{what} {time}", size=9.5) < CELL - 8
    rows = (f"{what} {time}",) if short else (what.replace("retriggerable", "retrig."), time)
    return (*items, *(Text(CELL / 2, 26 + 10 * k, text, "small", "middle") for k, text in enumerate(rows)))


def _function(device: Device) -> str:
    return str(device.function or "")


def _moved(symbol: tuple[Item, ...]) -> tuple[Item, ...]:
    """Symbols are drawn round their middle."""
    return tuple(item.moved(CELL / 2, 0) for item in symbol)


def _leads() -> tuple[Item, ...]:
    """The wire up to the symbol and on from it; the symbol itself takes 32 in the middle."""
    half = CELL / 2
    return Line(0, 0, half - 16, 0, "wire"), Line(half + 16, 0, CELL, 0, "wire")


def _said(name: str, terminals: tuple[str, str]) -> tuple[Item, ...]:
    shown = name if len(name) <= _FITS else f"{name[: _FITS - 1]}…"
    half = CELL / 2
    return (
        Text(half, -17, shown, "device", "middle"),
        Text(half - 18, 14, terminals[0], "small", "end"),
        Text(half + 18, 14, terminals[1], "small", "start"),
    )
