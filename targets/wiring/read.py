"""The circuit behind a wiring list: what somebody who wires a panel from the printed lists gets, and nothing else.

It reads the wiring list and the device list as CSV: conductors join points, a contact's form follows from its
terminals (EN 50005: the second figure is the function), what a device is and what it is set to stands in the device
list. A wire number must be on all that is one point and on nothing else.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from grammar.rungs.tree import (
    INPUTS,
    TERMINALS,
    Circuit,
    Contact,
    Device,
    Feed,
    Kind,
    Name,
    Network,
    Preset,
    Rung,
    Terminal,
    TimerFunction,
)
from targets.cells import csv_rows
from targets.wiring.between import Bridge, Joined, Net
from targets.wiring.connections import Point
from targets.wiring.nets import COMMON, LIVE
from targets.wiring.terminals import coil_ends, form_of

__all__ = ["NoCircuit", "circuit_of_lists"]

_TIMED = {Kind.TIMER, Kind.COUNTER}


class NoCircuit(Exception):
    """The lists do not make a circuit; ``faults`` says where, one plain sentence each."""

    def __init__(self, faults: Sequence[str]) -> None:
        super().__init__("; ".join(faults))
        self.faults = tuple(faults)


def circuit_of_lists(wires: str, devices: str) -> Circuit:
    """The circuit of a wiring list and its device list, as CSV; every rung with all it feeds. Raises NoCircuit."""
    listed = {row[0]: _device(row) for row in _rows(devices)}
    lists = _Lists(listed, [_Wire(*row[:5]) for row in _rows(wires)])
    return Circuit(devices=tuple(listed.values()), rungs=lists.rungs())


def _rows(text: str) -> list[list[str]]:
    """The rows between the heads and what is said under them: a note, and the caution."""
    return [row for row in csv_rows(text)[1:] if any(row[1:])]


def _device(row: Sequence[str]) -> Device:
    """A row of the device list: designation, name, kind, and for a timer or a counter what it is set to."""
    kind, name = Kind(row[2]), Name(row[1])
    if kind not in _TIMED:
        return Device(kind, name)
    set_to = row[3].split()
    if kind is Kind.COUNTER:
        return Device(kind, name, None, Preset(set_to[-1]))
    return Device(kind, name, TimerFunction(" ".join(set_to[:-2])), Preset(set_to[-2], set_to[-1]))


@dataclass(frozen=True, slots=True)
class _Wire:
    """A conductor as listed: its number, and device and terminal at either end."""

    number: str
    device: str
    terminal: str
    other: str
    end: str

    @property
    def ends(self) -> tuple[Point, Point]:
        return (self.device, self.terminal), (self.other, self.end)


class _Lists:
    """What the lists say, as points that conductors join."""

    def __init__(self, devices: dict[str, Device], wires: Sequence[_Wire]) -> None:
        self.devices = devices
        self.at = _joined(wire.ends for wire in wires)
        unlisted = list(dict.fromkeys(name for name, _ in self.at if name not in devices))
        strip = unlisted[0] if unlisted else ""
        self.live, self.common = self.at.get((strip, str(LIVE)), -1), self.at.get((strip, str(COMMON)), -2)
        self.terminals: dict[str, list[str]] = defaultdict(list)
        for device, terminal in self.at:
            self.terminals[device].append(terminal)
        self.faults = [f"{name} is not in the device list" for name in unlisted[1:]]
        self.faults += _misnumbered(wires, self.at, strip)

    def rungs(self) -> tuple[Rung, ...]:
        """One rung for each point that feeds something. Raises NoCircuit."""
        net = Net(list(self.contacts()), self.live)
        fed: dict[int, list[Feed]] = defaultdict(list)
        for point, feed in self.coils():
            fed[point].append(feed)
        found = [(self.network(net, point, feeds[0]), feeds) for point, feeds in fed.items()]
        if self.faults:
            raise NoCircuit(self.faults)
        return tuple(Rung(k, network, tuple(feeds)) for k, (network, feeds) in enumerate(found, 1) if network)

    def network(self, net: Net, point: int, feed: Feed) -> Network | None:
        """What lies before a coil."""
        try:
            network = net.to(point)
        except Bridge as bridge:
            self.faults.append(f"the contacts before {feed.name.text} bridge one another: {bridge}")
            return None
        if network is None:
            self.faults.append(f"no wire leads from the live rail to {feed.name.text}")
        return network

    def contacts(self) -> Iterator[Joined]:
        """Every contact between its points; a device's places in the order of its terminals."""
        for name, device in self.devices.items():
            places: dict[str, list[str]] = defaultdict(list)
            for terminal in sorted(self.terminals[name]):
                if terminal.isdigit() and len(terminal) > 1:
                    places[terminal[:-1]].append(terminal)
            for ends in places.values():
                form = form_of(device, "".join(end[-1] for end in ends))
                points = [self.at[name, end] for end in ends]
                if form is None or len(ends) != 2:
                    self.faults.append(f"{name} has no contact {'-'.join(ends)}")
                elif self.common in points or points[0] == points[1]:
                    self.faults.append(f"the contact {'-'.join(ends)} of {name} shorts what it stands between")
                else:
                    yield points[0], points[1], Contact(device.name, form)

    def coils(self) -> Iterator[tuple[int, Feed]]:
        """Every coil and load with the point that feeds it."""
        for name, device in self.devices.items():
            wired = set(self.terminals[name])
            taken: set[str] = set()
            for terminal in TERMINALS[device.kind] if device.kind not in INPUTS else ():
                fed, other = coil_ends(device.kind, terminal)
                if fed not in wired or fed in taken or (terminal is Terminal.COIL and "B1" in wired):
                    continue
                taken.add(fed)
                if self.at.get((name, other)) != self.common:
                    self.faults.append(f"{name}:{other} is not on the common wire")
                yield self.at[name, fed], Feed(device.name, terminal)


def _joined(pairs: Iterable[tuple[Point, Point]]) -> dict[Point, int]:
    """A number for every terminal, the same for all that conductors join."""
    group: dict[Point, list[Point]] = {}
    for one, other in pairs:
        mine, theirs = group.setdefault(one, [one]), group.setdefault(other, [other])
        if mine is not theirs:
            small, large = sorted((mine, theirs), key=len)
            large += small
            group.update(dict.fromkeys(small, large))
    numbers: dict[int, int] = {}
    return {point: numbers.setdefault(id(members), len(numbers)) for point, members in group.items()}


def _misnumbered(wires: Iterable[_Wire], at: dict[Point, int], strip: str) -> Iterator[str]:
    """Numbers that are on two points, and points that have two numbers."""
    points: dict[str, set[int]] = defaultdict(set)
    numbers: dict[int, set[str]] = defaultdict(set)
    for wire in wires:
        point = at[wire.ends[0]]
        points[wire.number].add(point)
        numbers[point] |= {wire.number, *(terminal for device, terminal in wire.ends if device == strip)}
    yield from (f"wire number {number} is on {len(some)} points" for number, some in points.items() if len(some) > 1)
    for some in numbers.values():
        if len(some) > 1:
            yield f"one point has the wire numbers {', '.join(sorted(some))}"
