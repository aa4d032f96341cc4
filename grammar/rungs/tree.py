"""The tree of a rung list: frozen nodes, each with its span; no behaviour but equality and printing.

Spans take no part in equality; comments do, because a rung list is kept with what it says about itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from grammar.source import Span

__all__ = [
    "INPUTS",
    "LOADS",
    "Circuit",
    "Comments",
    "Contact",
    "Device",
    "Feed",
    "Form",
    "Kind",
    "Name",
    "Network",
    "Node",
    "Parallel",
    "Preset",
    "Rung",
    "Series",
    "Terminal",
    "TimerFunction",
    "contacts",
]


class Kind(StrEnum):
    """What a device of the circuit is, in the words that declare it."""

    PUSHBUTTON = "pushbutton"
    SELECTOR = "selector"
    SENSOR = "sensor"
    LIMIT_SWITCH = "limit switch"
    PRESSURE_SWITCH = "pressure switch"
    RELAY = "relay"
    TIMER = "timer"
    SOLENOID = "solenoid"
    LAMP = "lamp"
    HORN = "horn"
    MOTOR = "motor"


INPUTS = frozenset({Kind.PUSHBUTTON, Kind.SELECTOR, Kind.SENSOR, Kind.LIMIT_SWITCH, Kind.PRESSURE_SWITCH})
LOADS = frozenset({Kind.SOLENOID, Kind.LAMP, Kind.HORN, Kind.MOTOR})


class Form(StrEnum):
    """A contact's form. NO and NC follow the device at once (on a one-shot timer: they follow its pulse); NOTC and
    NCTO are timed when an on-delay timer picks up, NOTO and NCTC when an off-delay timer drops out."""

    NO = "NO"
    NC = "NC"
    NOTC = "NOTC"
    NCTO = "NCTO"
    NOTO = "NOTO"
    NCTC = "NCTC"


class TimerFunction(StrEnum):
    """What a timer does with its input."""

    ON_DELAY = "on-delay"
    OFF_DELAY = "off-delay"
    ONE_SHOT = "one-shot"
    RETRIGGERABLE = "retriggerable one-shot"


class Terminal(StrEnum):
    """Which terminal of a device a rung feeds: its coil, or one of the two inputs of a timer that has them apart."""

    COIL = ""
    SUPPLY = "supply"
    CONTROL = "control"


def _span() -> Span:
    return Span(0, 0)


@dataclass(frozen=True, slots=True)
class Comments:
    """Comment lines above a node and the comment at the end of its line, each without its ``#``."""

    above: tuple[str, ...] = ()
    beside: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    span: Span = field(default_factory=_span, compare=False)


@dataclass(frozen=True, slots=True)
class Name(Node):
    """A device name, in the spelling of its declaration. Names are looked up ignoring letter case."""

    text: str


@dataclass(frozen=True, slots=True)
class Preset(Node):
    """A timer's time as written; the unit is one of ``us ms s min h``."""

    number: str
    unit: str


@dataclass(frozen=True, slots=True)
class Device(Node):
    """``limit switch LS1``; ``timer TR1, on-delay 30 s`` has a function and a preset, any other device neither."""

    kind: Kind
    name: Name
    function: TimerFunction | None = None
    preset: Preset | None = None
    comments: Comments = Comments()


@dataclass(frozen=True, slots=True)
class Contact(Node):
    """``STOP NC``."""

    name: Name
    form: Form = Form.NO


@dataclass(frozen=True, slots=True)
class Series(Node):
    """Two or more networks one after another; none is a plain wire (only as the whole network of a rung)."""

    parts: tuple[Network, ...] = ()


@dataclass(frozen=True, slots=True)
class Parallel(Node):
    """Two or more networks side by side."""

    parts: tuple[Network, ...]


Network = Contact | Series | Parallel


@dataclass(frozen=True, slots=True)
class Feed(Node):
    """``feeds CR1``, ``feeds TR1 control``."""

    name: Name
    terminal: Terminal = Terminal.COIL


@dataclass(frozen=True, slots=True)
class Rung(Node):
    """A numbered rung: a network of contacts, and what it feeds, side by side."""

    number: int
    network: Network
    feeds: tuple[Feed, ...]
    comments: Comments = Comments()


@dataclass(frozen=True, slots=True)
class Circuit(Node):
    """A whole rung list. ``notes`` are the comment lines straight under the title; ``comments_below`` come last."""

    title: str = ""
    notes: tuple[str, ...] = ()
    devices: tuple[Device, ...] = ()
    rungs: tuple[Rung, ...] = ()
    comments_below: tuple[str, ...] = ()

    def device(self, name: str) -> Device | None:
        """The device of that name, letter case ignored, or None."""
        folded = name.casefold()
        return next((d for d in self.devices if d.name.text.casefold() == folded), None)


def contacts(network: Network) -> tuple[Contact, ...]:
    """Every contact of a network, in reading order."""
    match network:
        case Contact():
            return (network,)
        case Series(parts=parts) | Parallel(parts=parts):
            return tuple(c for part in parts for c in contacts(part))
