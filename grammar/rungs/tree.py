"""The tree of a rung list: frozen nodes, each with its span; no behaviour but equality and printing.

Spans take no part in equality; comments do, because a rung list is kept with what it says about itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import takewhile

from grammar.source import Span

__all__ = [
    "INPUTS",
    "LOADS",
    "TERMINALS",
    "Circuit",
    "Comments",
    "Contact",
    "Device",
    "Feed",
    "Form",
    "Kind",
    "Master",
    "Name",
    "Network",
    "Node",
    "Parallel",
    "Preset",
    "Rung",
    "Series",
    "Terminal",
    "TimerFunction",
    "behind",
    "contacts",
    "shared",
    "wired",
]


class Kind(StrEnum):
    """What a device of the circuit is, in the words that declare it."""

    PUSHBUTTON = "pushbutton"
    SELECTOR = "selector"
    SENSOR = "sensor"
    LIMIT_SWITCH = "limit switch"
    PRESSURE_SWITCH = "pressure switch"
    RELAY = "relay"
    LATCHING_RELAY = "latching relay"
    TIMER = "timer"
    COUNTER = "counter"
    SOLENOID = "solenoid"
    LAMP = "lamp"
    HORN = "horn"
    MOTOR = "motor"
    CONTACTOR = "contactor"


INPUTS = frozenset({Kind.PUSHBUTTON, Kind.SELECTOR, Kind.SENSOR, Kind.LIMIT_SWITCH, Kind.PRESSURE_SWITCH})
LOADS = frozenset({Kind.SOLENOID, Kind.LAMP, Kind.HORN, Kind.MOTOR, Kind.CONTACTOR})


class Form(StrEnum):
    """A contact's form. NO and NC follow the device at once (on a one-shot timer: they follow its pulse; on a
    counter: they operate when the count is reached); NOTC and NCTO are timed when an on-delay timer picks up, NOTO
    and NCTC when an off-delay timer drops out."""

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
    """Which terminal of a device a rung feeds: its only coil, or one of two.

    A timer may have supply and control apart; a latching relay has a coil that latches it and one that unlatches it;
    a counter counts each time its count coil is energised and goes back to nought with its reset coil.
    """

    COIL = ""
    SUPPLY = "supply"
    CONTROL = "control"
    LATCH = "latch"
    UNLATCH = "unlatch"
    COUNT = "count"
    RESET = "reset"


TERMINALS = dict.fromkeys(Kind, (Terminal.COIL,)) | {
    Kind.LATCHING_RELAY: (Terminal.LATCH, Terminal.UNLATCH),
    Kind.TIMER: (Terminal.COIL, Terminal.SUPPLY, Terminal.CONTROL),
    Kind.COUNTER: (Terminal.COUNT, Terminal.RESET),
}


@dataclass(frozen=True, slots=True)
class Comments:
    """Comment lines above a node and the comment at the end of its line, each without its ``#``."""

    above: tuple[str, ...] = ()
    beside: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    span: Span = field(default=Span(0, 0), compare=False)


@dataclass(frozen=True, slots=True)
class Name(Node):
    """A device name, in the spelling of its declaration. Names are looked up ignoring letter case."""

    text: str


@dataclass(frozen=True, slots=True)
class Preset(Node):
    """A timer's time as written, its unit one of ``us ms s min h``; or a counter's count, which has no unit."""

    number: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Device(Node):
    """``limit switch LS1``; ``timer TR1, on-delay 30 s`` has a function and a preset, ``counter CT1, preset 5`` a
    preset, any other device neither. An ``implied`` device is not written: the machine has it, or its coils tell
    what it is."""

    kind: Kind
    name: Name
    function: TimerFunction | None = None
    preset: Preset | None = None
    comments: Comments = Comments()
    implied: bool = False


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
class Master(Node):
    """``master MCR:`` ... ``end master``: contacts through which a group of rungs is fed (master control).

    ``ending`` are the comments of the line that ends the group.
    """

    network: Network
    comments: Comments = Comments()
    ending: Comments = Comments()


@dataclass(frozen=True, slots=True)
class Rung(Node):
    """A numbered rung: a network of contacts, and what it feeds, side by side.

    ``network`` is all that the current goes through, the contacts of the ``masters`` (outermost first) included.
    """

    number: int
    network: Network
    feeds: tuple[Feed, ...]
    comments: Comments = Comments()
    masters: tuple[Master, ...] = ()

    @property
    def own(self) -> Network:
        """The contacts written in the rung itself. Raises ValueError when its network does not start with those of
        its masters."""
        ahead = [part for master in self.masters for part in _series_parts(master.network)]
        parts = _series_parts(self.network)
        if list(parts[: len(ahead)]) != ahead:
            raise ValueError(f"rung {self.number} does not start with the contacts of its masters")
        return _series(parts[len(ahead) :], self.network.span)


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


def behind(masters: tuple[Master, ...], rung: Rung) -> Rung:
    """A rung that is written inside the groups of these masters, outermost first."""
    if not masters:
        return rung
    parts = [part for net in (*(m.network for m in masters), rung.network) for part in _series_parts(net)]
    return replace(rung, network=_series(tuple(parts), rung.network.span), masters=masters)


def shared(one: tuple[Master, ...], other: tuple[Master, ...]) -> int:
    """How many masters, from the outermost on, are the same for two rungs that follow one another."""
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False)))


def _series_parts(network: Network) -> tuple[Network, ...]:
    return network.parts if isinstance(network, Series) else (network,)


def _series(parts: tuple[Network, ...], span: Span) -> Network:
    return parts[0] if len(parts) == 1 else Series(parts, span=span)


def contacts(network: Network) -> tuple[Contact, ...]:
    """Every contact of a network, in reading order."""
    match network:
        case Contact():
            return (network,)
        case Series(parts=parts) | Parallel(parts=parts):
            return tuple(c for part in parts for c in contacts(part))


def wired(circuit: Circuit) -> tuple[Contact, ...]:
    """Every contact that must be wired, in reading order: those of a master once for all the rungs behind it."""
    found: list[Contact] = []
    inside: tuple[Master, ...] = ()
    for rung in circuit.rungs:
        for master in rung.masters[shared(inside, rung.masters) :]:
            found += contacts(master.network)
        inside = rung.masters
        found += contacts(rung.own)
    return tuple(found)
