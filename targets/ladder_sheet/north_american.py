"""North American symbols (names and list: JIC/NMTBA EGP1-1967; geometry from memory of NEMA ICS 19 practice).

A push acts upward: a blade under the right terminal closes when pushed, one on top of it opens (common practice).
Symbols are drawn round (0, 0), 32 wide, the wire at height 0, upward negative.
"""

from __future__ import annotations

from grammar.rungs.tree import Form, Kind, Terminal
from targets.drawing.figure import Bent, Circle, Item, Line, Text

__all__ = ["coil", "contact"]

_TIMED = (Form.NOTC, Form.NCTO, Form.NOTO, Form.NCTC)
_NORMALLY_OPEN = (Form.NO, Form.NOTC, Form.NOTO)
_END = 3.0  # radius of a switch's terminals


def contact(kind: Kind, form: Form, held: bool) -> tuple[Item, ...]:
    """The symbol of a contact, its device not actuated unless the machine rests on it."""
    if form in _TIMED:
        return (*_blade(form in _NORMALLY_OPEN, False), *_delay(form))
    match kind:
        case Kind.PUSHBUTTON:
            return _button(form is Form.NO)
        case Kind.LIMIT_SWITCH:
            return (*_blade(form is Form.NO, held), *_wedge(form is Form.NO, held))
        case Kind.SELECTOR:
            return (*_blade(form is Form.NO, False), Line(0, _middle(form), 0, 14), Line(-5, 14, 5, 14))
        case Kind.PRESSURE_SWITCH:
            dome = tuple((x, 14 - (25 - x * x) ** 0.5) for x in (-5, -4, -3, -1, 0, 1, 3, 4, 5))
            return (*_blade(form is Form.NO, held), Line(0, _middle(form), 0, 9), Bent((*dome, (-5, 14))))
        case Kind.SENSOR:
            diamond = ((0.0, 6.0), (5.0, 11.0), (0.0, 16.0), (-5.0, 11.0), (0.0, 6.0))
            return (*_blade(form is Form.NO, held), Line(0, _middle(form), 0, 6), Bent(diamond))
        case _:
            return _relay_contact(form is Form.NO)


def coil(kind: Kind, terminal: Terminal, function: str) -> tuple[Item, ...]:
    """The symbol of a coil or a load."""
    letter = {
        Terminal.LATCH: "L", Terminal.UNLATCH: "U", Terminal.COUNT: "C", Terminal.RESET: "R"
    }.get(terminal, "")  # fmt: skip
    match kind:
        case Kind.SOLENOID:
            peaks = tuple((-16 + 4.0 * k, -7.0 if k % 2 else 7.0) for k in range(1, 8))
            return (Bent(((-16.0, 0.0), *peaks, (16.0, 0.0))),)
        case Kind.LAMP:
            rays = tuple(Line(8.5 * x, 8.5 * y, 13 * x, 13 * y) for x in (-1, 1) for y in (-1, 1))
            return (Circle(0, 0, 12), *_sides(12), *rays)
        case Kind.HORN:
            return (Bent(((-16.0, 0.0), (-8.0, 0.0))), Bent(((-8.0, -5.0), (0.0, -5.0), (9.0, -11.0), (9.0, 11.0),
                    (0.0, 5.0), (-8.0, 5.0), (-8.0, -5.0))), Bent(((9.0, 0.0), (16.0, 0.0))))  # fmt: skip
        case Kind.TIMER:
            letter = "T"
        case Kind.MOTOR:
            letter = "M"
        case _:
            pass
    label = (Text(0, 4, letter, "letter", "middle"),) if letter else ()
    return (Circle(0, 0, 12), *_sides(12), *label)


def _sides(radius: float) -> tuple[Item, ...]:
    return Line(-16, 0, -radius, 0, "wire"), Line(radius, 0, 16, 0, "wire")


def _relay_contact(open_: bool) -> tuple[Item, ...]:
    bars = (Line(-5, -10, -5, 10, "bar"), Line(5, -10, 5, 10, "bar"), *_sides(5))
    return bars if open_ else (*bars, Line(-10, 10, 10, -10))


def _ends() -> tuple[Item, ...]:
    return Circle(-13, 0, _END), Circle(13, 0, _END)


def _blade(open_: bool, held: bool) -> tuple[Item, ...]:
    """A blade from the left terminal: under the right one, on it, or held where a push has brought it."""
    end = {(True, False): 9.0, (True, True): _END + 0.5, (False, False): -_END - 0.5, (False, True): -10.0}
    return (*_ends(), Line(-10.5, 0, 13, end[open_, held]))


def _middle(form: Form) -> float:
    """The height of the blade in the middle."""
    return 4.0 if form in _NORMALLY_OPEN else -1.5


def _wedge(open_: bool, held: bool) -> tuple[Item, ...]:
    """The roller's wedge under the blade of a limit switch."""
    y = {(True, False): 4.5, (True, True): 2.0, (False, False): -1.0, (False, True): -4.5}[open_, held]
    return (Bent(((-3.0, y), (7.0, y + (2.0 if open_ else -1.0)), (2.0, y + 8.0), (-3.0, y)), solid=True),)


def _button(open_: bool) -> tuple[Item, ...]:
    """A pushbutton: a bar over both terminals, apart from them or touching them from beneath."""
    y = -8.0 if open_ else _END + 0.5
    return (*_ends(), Line(-15, y, 15, y), Line(0, y, 0, -13))


def _delay(form: Form) -> tuple[Item, ...]:
    """The arrow of a timed contact: up for a delay after the coil is energised, down after it is de-energised."""
    y = _middle(form)
    tip, tail = (y + 1, 15.0) if form in (Form.NOTC, Form.NCTO) else (16.0, y)
    back = 5.0 if tip < tail else -5.0
    stem = Line(0, y, 0, 15)
    return stem, Bent(((-4.0, tip + back), (0.0, tip), (4.0, tip + back)))
