"""Wire numbers and terminals of a circuit: every contact and coil with the two points it stands between.

A wire number belongs to all that is electrically one point; it changes at every contact, coil or other device, not at
a terminal (common practice in the trade; opentextbc "Basic Motor Control", numbering system). Wire 1 is the live
rail, wire 2 the common one; the coil's common terminal goes straight to it (IEC 60204-1:2016 9.4.3, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import TypeVar

from grammar.rungs.tree import (
    Circuit,
    Contact,
    Device,
    Feed,
    Master,
    Network,
    Parallel,
    Rung,
    Series,
    Terminal,
    shared,
)
from targets.wiring.terminals import Terminals

__all__ = ["COMMON", "LIVE", "WiredCircuit", "WiredCoil", "WiredContact", "wired"]

LIVE = 1
COMMON = 2

One = TypeVar("One")
Key = TypeVar("Key", bound=Hashable)


@dataclass(frozen=True, slots=True)
class WiredContact:
    """A contact, once for each place it has in the circuit: the wires at its two sides and its terminals.

    ``rung`` is the rung it stands in; of a master's contact, the first rung of its group.
    """

    contact: Contact
    rung: int
    left: int
    right: int
    terminals: tuple[str, str]

    @property
    def device(self) -> str:
        """The name of the device whose contact it is."""
        return self.contact.name.text


@dataclass(frozen=True, slots=True)
class WiredCoil:
    """A coil or a load between its rung's last wire and the common one."""

    feed: Feed
    rung: int
    left: int
    right: int
    terminals: tuple[str, str]

    @property
    def device(self) -> str:
        """The name of what is fed."""
        return self.feed.name.text


@dataclass(frozen=True)
class WiredCircuit:
    """Contacts and coils in reading order. ``rails`` are the wires that each rung behind masters is fed from, by its
    number, the outermost first. It has no slots, to keep what it has looked up."""

    circuit: Circuit
    contacts: tuple[WiredContact, ...]
    coils: tuple[WiredCoil, ...]
    rails: Mapping[int, tuple[int, ...]]

    def device(self, name: str) -> Device:
        """The device of that name, letter case ignored. Raises KeyError."""
        return self._devices[name.casefold()]

    def of_rung(self, number: int) -> tuple[Sequence[WiredContact], Sequence[WiredCoil]]:
        """The contacts and coils of one rung, in reading order (masters' contacts in the first rung they feed)."""
        return self._by_rung[0].get(number, ()), self._by_rung[1].get(number, ())

    def contacts_of(self, name: str) -> Sequence[WiredContact]:
        """The contacts of a device, in reading order."""
        return self._by_device[0].get(name.casefold(), ())

    def coils_of(self, name: str) -> Sequence[WiredCoil]:
        """The coils of a device that are fed, in reading order."""
        return self._by_device[1].get(name.casefold(), ())

    def coil_of(self, name: str) -> WiredCoil | None:
        """The coil that brings a device's contacts about: of a device with two the one that latches it or counts."""
        back = (Terminal.UNLATCH, Terminal.RESET)
        return min(self.coils_of(name), key=lambda one: one.feed.terminal in back, default=None)

    def points(self) -> dict[int, list[tuple[str, str]]]:
        """Every wire number and what it joins: device and terminal, in reading order, each once."""
        found: dict[int, dict[tuple[str, str], None]] = {}
        both: tuple[WiredContact | WiredCoil, ...] = (*self.contacts, *self.coils)
        for one in both:
            for wire, terminal in zip((one.left, one.right), one.terminals, strict=True):
                found.setdefault(wire, {})[one.device, terminal] = None
        return {wire: list(found[wire]) for wire in sorted(found)}

    @cached_property
    def _devices(self) -> dict[str, Device]:
        return {device.name.text.casefold(): device for device in self.circuit.devices}

    @cached_property
    def _by_rung(self) -> tuple[dict[int, list[WiredContact]], dict[int, list[WiredCoil]]]:
        return _grouped(self.contacts, lambda one: one.rung), _grouped(self.coils, lambda one: one.rung)

    @cached_property
    def _by_device(self) -> tuple[dict[str, list[WiredContact]], dict[str, list[WiredCoil]]]:
        return _grouped(self.contacts, _of_device), _grouped(self.coils, _of_device)


def _of_device(one: WiredContact | WiredCoil) -> str:
    return one.device.casefold()


def _grouped(many: Iterable[One], key: Callable[[One], Key]) -> dict[Key, list[One]]:
    found: dict[Key, list[One]] = {}
    for one in many:
        found.setdefault(key(one), []).append(one)
    return found


@dataclass
class _Point:
    """A point of the circuit before it has a number."""

    number: int | None = None


@dataclass
class _Wiring:
    circuit: Circuit
    terminals: Terminals
    live: _Point = field(default_factory=lambda: _Point(LIVE))
    common: _Point = field(default_factory=lambda: _Point(COMMON))
    contacts: list[tuple[Contact, int, _Point, _Point, tuple[str, str]]] = field(default_factory=list)
    coils: list[tuple[Feed, int, _Point, _Point, tuple[str, str]]] = field(default_factory=list)
    rails: dict[int, tuple[_Point, ...]] = field(default_factory=dict)

    def run(self) -> None:
        inside: tuple[Master, ...] = ()
        rails: list[_Point] = []
        for rung in self.circuit.rungs:
            common = shared(inside, rung.masters)
            del rails[common:]
            for master in rung.masters[common:]:
                rail = _Point()
                self.network(master.network, rung.number, rails[-1] if rails else self.live, rail)
                rails.append(rail)
            inside = rung.masters
            self.rails[rung.number] = tuple(rails)
            self.rung(rung, rails[-1] if rails else self.live)

    def rung(self, rung: Rung, rail: _Point) -> None:
        own = rung.own
        end = rail if own == Series(()) else _Point()
        self.network(own, rung.number, rail, end)
        for feed in rung.feeds:
            self.coils.append((feed, rung.number, end, self.common, self.terminals.of_coil(feed)))

    def network(self, network: Network, rung: int, left: _Point, right: _Point) -> None:
        match network:
            case Contact():
                self.contacts.append((network, rung, left, right, self.terminals.of_contact(network)))
            case Series(parts=()):
                pass  # a plain wire
            case Series(parts=parts):
                points = [left, *(_Point() for _ in parts[1:]), right]
                for part, (before, after) in zip(parts, pairwise(points), strict=True):
                    self.network(part, rung, before, after)
            case Parallel(parts=parts):
                for part in parts:
                    self.network(part, rung, left, right)

    def numbered(self) -> Iterator[_Point]:
        """Every point in the order in which it is met, rung by rung."""
        met = [(rung, left, right) for _, rung, left, right, _ in self.contacts]
        met += [(rung, left, right) for _, rung, left, right, _ in self.coils]
        for _, left, right in sorted(met, key=lambda ends: ends[0]):
            yield from (left, right)


def wired(circuit: Circuit) -> WiredCircuit:
    """The wires of a sound circuit, numbered in reading order from 3. Raises KeyError for an undeclared device."""
    wiring = _Wiring(circuit, Terminals(circuit))
    wiring.run()
    number = COMMON
    for point in wiring.numbered():
        if point.number is None:
            point.number = number = number + 1
    contacts = tuple(WiredContact(c, rung, _of(a), _of(b), ends) for c, rung, a, b, ends in wiring.contacts)
    coils = tuple(WiredCoil(f, rung, _of(a), _of(b), ends) for f, rung, a, b, ends in wiring.coils)
    rails = {rung: tuple(map(_of, points)) for rung, points in wiring.rails.items()}
    return WiredCircuit(circuit, contacts, coils, rails)


def _of(point: _Point) -> int:
    assert point.number is not None
    return point.number
