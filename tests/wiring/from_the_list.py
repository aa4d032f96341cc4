"""A rung list made again from nothing but the wiring list: who holds only that must get the same circuit.

Shares nothing with the module under test: it reads CSV, joins what a conductor joins, and takes a contact's form from
its terminals (EN 50005: the second figure is the function).
"""

from __future__ import annotations

import csv
import io
from collections import defaultdict
from collections.abc import Iterator

__all__ = ["rungs_from"]

_COILS = ("A1", "B1", "X1", "1")
Point = tuple[str, str]


def rungs_from(text: str, kinds: dict[str, str], presets: dict[str, str]) -> str:
    """The rung list behind a wiring list. ``kinds`` tells what each device is, ``presets`` what timers are set to."""
    records = list(csv.reader(io.StringIO(text, newline="")))[1:]
    joined = _joined(records)
    contacts: dict[Point, list[tuple[Point, str]]] = defaultdict(list)
    coils: list[tuple[str, str, Point]] = []
    for device, terminals in _terminals(records).items():
        if kinds.get(device) is None:
            continue
        for place in sorted({t[:-1] for t in terminals if t[-2:].isdigit() and len(t) >= 2}):
            ends = sorted(t for t in terminals if t[:-1] == place and t.isdigit())
            if len(ends) == 2:
                a, b = joined[device, ends[0]], joined[device, ends[1]]
                word = device + _form(ends[0][-1] + ends[1][-1], presets.get(device, ""))
                contacts[a].append((b, word))
                contacts[b].append((a, word))
        for terminal in terminals:
            if terminal in _COILS:
                coils.append((device, terminal, joined[device, terminal]))
    live, common = joined["X1", "1"], joined["X1", "2"]
    lines = [f"{kinds[name]} {name}{presets.get(name, '')}" for name in kinds]
    for number, (device, terminal, at) in enumerate(sorted(coils), 1):
        ways = [" and ".join(way) for way in _ways(at, live, common, contacts, ())]
        net = " or ".join(f"({way})" if " and " in way else way for way in sorted(ways))
        end = f" {_second(kinds[device])}" if terminal == "B1" else _first(kinds[device], device, coils)
        lines.append(f"rung {number}: {net}{', ' if net else ''}feeds {device}{end}")
    return "\n".join(lines) + "\n"


def _first(kind: str, device: str, coils: list[tuple[str, str, Point]]) -> str:
    two = any(d == device and t == "B1" for d, t, _ in coils)
    return {"latching relay": " latch", "counter": " count", "timer": " supply" if two else ""}.get(kind, "")


def _second(kind: str) -> str:
    return {"latching relay": "unlatch", "counter": "reset", "timer": "control"}[kind]


def _form(ends: str, preset: str) -> str:
    """The word for a contact's form by its two function figures."""
    delayed = {"78": " NOTO", "56": " NCTC"} if "off-delay" in preset else {"78": " NOTC", "56": " NCTO"}
    return {"34": "", "12": " NC", **delayed}[ends]


def _joined(records: list[list[str]]) -> dict[Point, Point]:
    """For every terminal the first of those that conductors join it to."""
    leader: dict[Point, Point] = {}

    def find(point: Point) -> Point:
        while leader.setdefault(point, point) != point:
            point = leader[point]
        return point

    for _, here, at, there, end, _ in records:
        one, other = find((here, at)), find((there, end))
        leader[max(one, other)] = min(one, other)
    return {point: find(point) for point in list(leader)}


def _terminals(records: list[list[str]]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = defaultdict(list)
    for _, here, at, there, end, _ in records:
        for device, terminal in ((here, at), (there, end)):
            if terminal not in found[device]:
                found[device].append(terminal)
    return found


def _ways(
    at: Point, live: Point, common: Point, contacts: dict[Point, list[tuple[Point, str]]], been: tuple[Point, ...]
) -> Iterator[tuple[str, ...]]:
    """Every way of current from the live rail to a point, as the contacts along it."""
    if at == live:
        yield ()
        return
    for before, word in contacts[at]:
        if before not in been and before != common:
            yield from ((*way, word) for way in _ways(before, live, common, contacts, (*been, at)))
