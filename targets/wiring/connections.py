"""From each point to the next: the connections a panel is wired from, and the strip between panel and field.

Relays, timers, counters and contactors are in the panel; everything else is out at the machine and meets the panel at
a terminal strip, one strip terminal for each wire number that leaves the panel (common practice).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count, pairwise

from grammar.rungs.tree import INPUTS, LOADS, Kind
from targets.wiring.nets import COMMON, LIVE, WiredCircuit

__all__ = ["Connection", "Point", "StripTerminal", "connections", "strip", "strip_name"]

Point = tuple[str, str]
"""A device and one of its terminals."""


@dataclass(frozen=True, slots=True)
class Connection:
    """One conductor: its wire number and the device and terminal at either end."""

    wire: int
    here: Point
    there: Point


@dataclass(frozen=True, slots=True)
class StripTerminal:
    """A terminal of the strip: its wire number, what it leads to in the field, and in the panel."""

    wire: int
    field: tuple[Point, ...]
    panel: tuple[Point, ...]


def connections(circuit: WiredCircuit) -> tuple[Connection, ...]:
    """Every conductor, by wire number; the points of one number in a chain, those in the field from the strip."""
    return tuple(_all(circuit))


def strip(circuit: WiredCircuit) -> tuple[StripTerminal, ...]:
    """The terminals of the strip: both rails, and every wire that leaves the panel."""
    found = []
    for wire, points in circuit.points().items():
        out, inside = _parted(circuit, points)
        if out or wire in (LIVE, COMMON):
            found.append(StripTerminal(wire, tuple(out), tuple(inside)))
    return tuple(found)


def strip_name(circuit: WiredCircuit) -> str:
    """What the terminal strip is called: XD1 (IEC 81346-2:2009, class XD, connections of low voltage, from memory),
    or the next name that no device has. Not X1: that is a terminal of every lamp."""
    taken = {device.name.text.casefold() for device in circuit.circuit.devices}
    return next(name for name in map("XD{}".format, count(1)) if name.casefold() not in taken)


def _all(circuit: WiredCircuit) -> Iterator[Connection]:
    name = strip_name(circuit)
    on_strip = {terminal.wire: terminal for terminal in strip(circuit)}
    for wire, points in circuit.points().items():
        out, inside = _parted(circuit, points)
        chain = [(name, str(wire)), *inside] if wire in on_strip else inside
        for here, there in pairwise(chain):
            yield Connection(wire, here, there)
        for point in out:
            yield Connection(wire, (name, str(wire)), point)


def _parted(circuit: WiredCircuit, points: list[Point]) -> tuple[list[Point], list[Point]]:
    """The points of a wire out at the machine, and those in the panel."""
    outside = (INPUTS | LOADS) - {Kind.CONTACTOR}
    out = [point for point in points if circuit.device(point[0]).kind in outside]
    elsewhere = {*out}
    return out, [point for point in points if point not in elsewhere]
