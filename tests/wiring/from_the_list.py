"""A rung list made again from nothing but the wiring list: who holds only that must get the same circuit.

Shares nothing with the module under test: it reads CSV, joins what a conductor joins, and takes a contact's form from
its terminals (EN 50005: the second figure is the function).
"""

from __future__ import annotations

import csv
import io
from collections import Counter, defaultdict

__all__ = ["rungs_from"]

_COILS = ("A1", "B1", "X1", "1")
Point = tuple[str, str]


def rungs_from(text: str, kinds: dict[str, str], presets: dict[str, str]) -> str:
    """The rung list behind a wiring list. ``kinds`` tells what each device is, ``presets`` what timers are set to."""
    records = [record for record in csv.reader(io.StringIO(text, newline="")) if record[0].isdigit()]
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
    live, common = joined["XD1", "1"], joined["XD1", "2"]
    lines = [f"{kinds[name]} {name}{presets.get(name, '')}" for name in kinds]
    for number, (device, terminal, at) in enumerate(sorted(coils), 1):
        net = _network(live, at, contacts, common)
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
    if "one-shot" in preset:
        delayed = {"78": "", "56": " NC"}  # it has no contacts but those of its pulse
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


def _network(live: Point, at: Point, contacts: dict[Point, list[tuple[Point, str]]], common: Point) -> str:
    """What lies between the live rail and a point, put together by joining what is in series and side by side until
    one piece is left (Duffin 1965: series-parallel networks reduce so)."""
    pieces = [(a, b, word) for a, found in contacts.items() for b, word in found if a < b and common not in (a, b)]
    while True:
        degree = Counter(end for a, b, _ in pieces for end in (a, b))
        dead = {end for end, count in degree.items() if count == 1 and end not in (live, at)}
        if dead:
            pieces = [piece for piece in pieces if piece[0] not in dead and piece[1] not in dead]
            continue
        beside: dict[tuple[Point, Point], list[str]] = defaultdict(list)
        for a, b, word in pieces:
            beside[min(a, b), max(a, b)].append(word)
        joined = [(a, b, _side_by_side(words)) for (a, b), words in beside.items()]
        middle = next((end for end, n in _degrees(joined).items() if n == 2 and end not in (live, at)), None)
        if middle is None:
            ends = {end for end, n in _degrees(joined).items() if n == 1 and end not in (live, at)}
            pieces = joined
            if not ends:
                break
            continue
        one, other = (piece for piece in joined if middle in piece[:2])
        far = [end for piece in (one, other) for end in piece[:2] if end != middle]
        first, second = (one, other) if live in one[:2] else (other, one)
        pieces = [piece for piece in joined if middle not in piece[:2]]
        pieces.append((far[0], far[1], f"({first[2]} and {second[2]})"))
    found = [word for a, b, word in pieces if {a, b} == {live, at}]
    return found[0] if found else ""


def _degrees(pieces: list[tuple[Point, Point, str]]) -> Counter[Point]:
    return Counter(end for a, b, _ in pieces for end in (a, b))


def _side_by_side(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"({' or '.join(words)})"
