"""IEC 60617 symbols (geometry from memory), for a current path drawn from left to right: actuation moves a blade
upward, so a make contact hangs open under the wire and a break contact lies over it against a tick.

Symbols are drawn round (0, 0), 32 wide, the wire at height 0, upward negative.
"""

from __future__ import annotations

from grammar.rungs.tree import Form, Kind, Terminal
from targets.drawing.figure import Bent, Box, Circle, Item, Line, Text

__all__ = ["coil", "contact"]

_TIMED = (Form.NOTC, Form.NCTO, Form.NOTO, Form.NCTC)
_NORMALLY_OPEN = (Form.NO, Form.NOTC, Form.NOTO)


def contact(kind: Kind, form: Form, held: bool) -> tuple[Item, ...]:
    """The symbol of a contact, its device not actuated unless the machine rests on it."""
    make = form in _NORMALLY_OPEN
    blade = _blade(make, held and kind is Kind.LIMIT_SWITCH)
    if form in _TIMED:
        return (*blade, *_delay(form, make))
    match kind:
        case Kind.PUSHBUTTON:
            return (*blade, *_link(make, 17), Bent(((-4.0, 14.0), (-4.0, 17.0), (4.0, 17.0), (4.0, 14.0))))
        case Kind.SELECTOR:
            return (*blade, *_link(make, 13), Bent(((-5.0, 13.0), (0.0, 13.0), (0.0, 17.0), (5.0, 17.0))))
        case Kind.LIMIT_SWITCH:
            return (*blade, _roller(blade[-1], make))
        case Kind.PRESSURE_SWITCH:
            return (*blade, *_link(make, 12), Box(-6, 12, 12, 12, "symbol"), Text(0, 20.5, "p", "letter", "middle"))
        case Kind.SENSOR:
            diamond = ((0.0, 11.0), (6.0, 16.0), (0.0, 21.0), (-6.0, 16.0), (0.0, 11.0))
            return (*blade, *_link(make, 11), Bent(diamond))
        case _:
            return blade


def coil(kind: Kind, terminal: Terminal, function: str) -> tuple[Item, ...]:
    """The symbol of a coil or a load."""
    match kind:
        case Kind.LAMP:
            cross = (Line(-8.5, -8.5, 8.5, 8.5), Line(-8.5, 8.5, 8.5, -8.5))
            return (Circle(0, 0, 12), *_sides(12), *cross)
        case Kind.MOTOR:
            return (Circle(0, 0, 12), *_sides(12), Text(0, 4, "M", "letter", "middle"))
        case Kind.HORN:
            mouth = ((-8.0, -5.0), (0.0, -5.0), (9.0, -11.0), (9.0, 11.0), (0.0, 5.0), (-8.0, 5.0), (-8.0, -5.0))
            return (Bent(mouth), Line(-16, 0, -8, 0, "wire"), Line(9, 0, 16, 0, "wire"))
        case Kind.SOLENOID:
            valve = (Bent(((-6.0, 12.0), (6.0, 20.0), (6.0, 12.0), (-6.0, 20.0), (-6.0, 12.0))), Line(0, 10, 0, 16))
            return (*_frame(), *valve)
        case Kind.TIMER:
            return (*_frame(), *(_delayed(function) if terminal is not Terminal.CONTROL else ()))
        case _:
            letter = {Terminal.LATCH: "L", Terminal.UNLATCH: "U", Terminal.COUNT: "C", Terminal.RESET: "R"}.get(
                terminal
            )
            return (*_frame(), Text(0, 4, letter, "letter", "middle")) if letter else _frame()


def _frame() -> tuple[Item, ...]:
    return Box(-8, -10, 16, 20, "symbol"), *_sides(8)


def _sides(half: float) -> tuple[Item, ...]:
    return Line(-16, 0, -half, 0, "wire"), Line(half, 0, 16, 0, "wire")


def _delayed(function: str) -> tuple[Item, ...]:
    """The small box beside a slow coil: crossed when it is slow to operate, filled when slow to release. A timer that
    gives a pulse is neither."""
    if "one-shot" in function:
        return (Bent(((-5.0, 4.0), (-2.5, 4.0), (-2.5, -4.0), (2.5, -4.0), (2.5, 4.0), (5.0, 4.0))),)
    corners = ((-8.0, 10.0), (8.0, 10.0), (8.0, 16.0), (-8.0, 16.0), (-8.0, 10.0))
    if function == "off-delay":
        return (Bent(corners, solid=True),)
    return Bent(corners), Line(-8, 10, 8, 16), Line(-8, 16, 8, 10)


def _blade(make: bool, held: bool) -> tuple[Item, ...]:
    """Leads with a gap, the blade last; it turns about the right one. Held, it has been moved upward."""
    leads = (Line(-16, 0, -10, 0, "wire"), Line(10, 0, 16, 0, "wire"))
    if make:
        return (*leads, Line(10, 0, -10, 0 if held else 9))
    tick = Line(-10, 0, -10, -6.5)
    return (*leads, tick, Line(10, 0, -13, -12 if held else -7))


def _roller(blade: Item, make: bool) -> Item:
    """The triangle of a position switch on the outer side of its blade, away from the wire."""
    assert isinstance(blade, Line)
    near, far = ((blade.x1 + t * (blade.x2 - blade.x1), blade.y1 + t * (blade.y2 - blade.y1)) for t in (0.3, 0.65))
    tip = (far[0], far[1] + 8) if make else (near[0], near[1] - 6)
    return Bent((near, far, tip, near))


def _link(make: bool, end: int) -> tuple[Item, ...]:
    """The broken line from the blade to what works it, so far under the wire."""
    start = 4.5 if make else -3.0
    dashes = round((end - start) / 4.5)
    step = (end - start) / (dashes - 0.35)
    return tuple(Line(0, start + step * k, 0, start + step * (k + 0.65)) for k in range(dashes))


def _delay(form: Form, make: bool) -> tuple[Item, ...]:
    """The arc on a double link: movement towards its middle is slowed."""
    start = 4.5 if make else -3.0
    bulge = 3.5 if form in (Form.NOTC, Form.NCTO) else -3.5
    link = tuple(Line(x, start, x, 12 + bulge * (1 - (x / 7) ** 2)) for x in (-1.5, 1.5))
    arc = tuple((float(x), 12 + bulge * (1 - (x / 7) ** 2)) for x in range(-7, 8))
    return (*link, Bent(arc))
