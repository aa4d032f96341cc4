"""The two ways of drawing devices, and what they share: cells that a wire runs through from left to right.

A cell is ``CELL`` wide with the wire at height 0. Names stand above the symbol, terminals under its ends.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from grammar.rungs.tree import Device, Form, Kind, Terminal
from targets.choices import Style
from targets.drawing.figure import Item, Line, Text
from targets.ladder_sheet.iec import coil as iec_coil
from targets.ladder_sheet.iec import contact as iec_contact
from targets.ladder_sheet.lettering import fitting, width
from targets.ladder_sheet.north_american import coil as north_american_coil
from targets.ladder_sheet.north_american import contact as north_american_contact

__all__ = ["CELL", "Look", "coil", "contact", "lettering_of", "set_to"]

CELL = 84.0
_ROOM = CELL - 4  # for a name
_GAP = 2.0  # between a name and a word beside it, besides what widths have to spare


@dataclass(frozen=True, slots=True)
class _Symbols:
    contact: Callable[[Kind, Form, bool], tuple[Item, ...]]
    coil: Callable[[Kind, Terminal, str], tuple[Item, ...]]


_STYLES = {
    Style.NORTH_AMERICAN: _Symbols(north_american_contact, north_american_coil),
    Style.IEC: _Symbols(iec_contact, iec_coil),
}


@dataclass(frozen=True, slots=True)
class Look:
    """Whose symbols devices are drawn with, and the kind of lettering of their names."""

    style: Style
    lettering: str = "device"


def lettering_of(devices: Iterable[Device]) -> str:
    """One kind of lettering for the names of all devices, the larger if every one of them fits its cell."""
    fit = all(width(device.name.text, "device") <= _ROOM for device in devices)
    return "device" if fit else "device-small"


def contact(
    device: Device, form: Form, *, held: bool, terminals: tuple[str, str], wires: tuple[int, int], look: Look
) -> tuple[Item, ...]:
    """A contact's cell. ``held``: the machine rests on the device, so its contact is drawn operated."""
    symbol = _STYLES[look.style].contact(device.kind, form, held)
    return (*_placed(symbol, wires), *_said(device.name.text, look.lettering, terminals))


def coil(
    device: Device, terminal: Terminal, *, terminals: tuple[str, str], wires: tuple[int, int], look: Look
) -> tuple[Item, ...]:
    """A coil's or a load's cell, with what a timer or a counter is set to under it."""
    symbol = _STYLES[look.style].coil(device.kind, terminal, str(device.function or ""))
    word = "" if terminal is Terminal.LATCH else str(terminal)
    said = (Text(CELL / 2, 28 + 11 * k, text, "small", "middle") for k, text in enumerate(set_to(device, terminal)))
    return (*_placed(symbol, wires), *_said(device.name.text, look.lettering, terminals, word), *said)


def set_to(device: Device, terminal: Terminal) -> tuple[str, ...]:
    """What a timer or a counter is set to, in one line or in two; nothing at its supply or reset."""
    if device.preset is None or terminal in (Terminal.SUPPLY, Terminal.RESET):
        return ()
    what, amount = str(device.function or "preset"), f"{device.preset.number} {device.preset.unit}".strip()
    whole = f"{what} {amount}"
    return (whole,) if width(whole, "small") <= CELL - 6 else (what.replace("retriggerable", "retrig."), amount)


def _placed(symbol: tuple[Item, ...], wires: tuple[int, int]) -> Iterator[Item]:
    """The symbol, which is drawn round its middle, and the wires up to it and on; it takes 32 in the middle."""
    half = CELL / 2
    yield Line(0, 0, half - 16, 0, "wire", wires[0])
    yield Line(half + 16, 0, CELL, 0, "wire", wires[1])
    for item in symbol:
        moved = item.moved(half, 0)
        if isinstance(moved, Line) and moved.kind == "wire":
            wire = wires[0] if moved.x1 < half else wires[1]
            moved = Line(moved.x1, moved.y1, moved.x2, moved.y2, moved.kind, wire)
        yield moved


def _said(name: str, lettering: str, terminals: tuple[str, str], word: str = "") -> Iterator[Item]:
    """Over a symbol the name of its device, and which of its terminals that is; under it the terminals' numbers."""
    half = CELL / 2
    beside = _GAP + width(word, "small") if word else 0.0
    room = _ROOM - beside
    kind = lettering if width(name, lettering) <= room else "device-least"
    shown = fitting(name, room, kind)
    yield Text(half - beside / 2, -17, shown, kind, "middle")
    if word:
        yield Text(half - beside / 2 + width(shown, kind) / 2 + _GAP, -17, word, "small")
    yield Text(half - 18, 14, terminals[0], "small", "end")
    yield Text(half + 18, 14, terminals[1], "small", "start")
