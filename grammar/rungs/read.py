"""A rung list from its text: every line read by itself, so that one fault does not hide the next."""

from __future__ import annotations

from dataclasses import replace

from grammar.diagnostic import Diagnostic, nearest
from grammar.reading import Reading
from grammar.rungs.faults import fault
from grammar.rungs.judge import judge
from grammar.rungs.lines import Line, cut
from grammar.rungs.parse import parse_circuit, parse_device, parse_rung, parse_timer, start_word
from grammar.rungs.tree import Circuit, Contact, Device, Feed, Name, Network, Parallel, Rung, Series
from grammar.rungs.words import SYNONYMS
from grammar.source import Source

__all__ = ["read"]

_MOST = 100


def read(source: Source) -> Reading[Circuit]:
    """The circuit a text holds, with every fault in it. Never raises, whatever the text."""
    lines = cut(source.text)
    faults = lines.diagnostics
    title, titled, devices, rungs = "", False, list[Device](), list[Rung]()
    lost: set[str] = set()  # the kinds of line that could not be read
    for line in lines.lines:
        if not line.sound:
            lost.add(start_word(line))
            continue
        before, start = len(faults), start_word(line)
        match start:
            case "circuit" if titled:
                faults.append(fault("RW424", "the circuit already has a title", line.span.start, line.span.end))
            case "circuit":
                title, titled = parse_circuit(line, faults), True
            case "device":
                devices += parse_device(line, faults)
            case "timer":
                devices += parse_timer(line, faults)
            case "rung":
                rung = parse_rung(line, faults)
                rungs += [] if rung is None else [rung]
            case _:
                faults.append(_unknown_start(line))
        if len(faults) > before:
            lost.add(start)
    notes = lines.notes if title else ()
    circuit = Circuit(title, notes, tuple(devices), tuple(rungs), lines.below)
    circuit = _spelled_as_declared(circuit)
    # A declaration or rung that could not be read may be the very one these would ask for.
    silent = {"RW402"} if lost - {"rung", "circuit"} else set[str]()
    silent |= {"RW417", "RW418"} if lost - {"circuit"} else set[str]()
    faults += [d for d in judge(circuit) if d.code not in silent]
    if not rungs and not lost:
        faults.append(
            fault("RW420", "there are no rungs here", 0, 1, cure="write for example: rung 1: START, feeds CR1")
        )
    return Reading(source, circuit, _first(faults))


def _first(faults: list[Diagnostic]) -> tuple[Diagnostic, ...]:
    ordered = sorted(faults, key=lambda d: (d.span.start, d.span.end, d.code) if d.span else (0, 0, d.code))
    if len(ordered) <= _MOST:
        return tuple(ordered)
    span = ordered[_MOST].span
    at = span.start if span else 0
    left = len(ordered) - _MOST
    return (*ordered[:_MOST], fault("RW422", f"{left} more faults are not told", at, at + 1, cure=_RIGHT_FILE))


_RIGHT_FILE = "correct these first; is it the right file?"


def _unknown_start(line: Line) -> Diagnostic:
    first = (line.text.replace(",", " ").split() or line.text.split())[0][:40]
    start = line.span.start
    close = nearest(first, ["circuit", "rung", *SYNONYMS])
    cure = f"did you mean '{close}'?" if close else "indent a line that goes on with the rung above"
    expected = "'circuit', 'rung', or what a device is: pushbutton, limit switch, relay, timer, solenoid ..."
    return fault("RW423", f"no line starts with '{first}'", start, start + len(first), expected=expected, cure=cure)


def _spelled_as_declared(circuit: Circuit) -> Circuit:
    spelling = {d.name.text.casefold(): d.name.text for d in reversed(circuit.devices)}

    def named(name: Name) -> Name:
        declared = spelling.get(name.text.casefold(), name.text)
        return name if declared == name.text else replace(name, text=declared)

    def network(net: Network) -> Network:
        match net:
            case Contact(name=name):
                return net if named(name) is name else replace(net, name=named(name))
            case Series(parts=parts):
                return Series(tuple(map(network, parts)), span=net.span)
            case Parallel(parts=parts):
                return Parallel(tuple(map(network, parts)), span=net.span)

    def feed(fed: Feed) -> Feed:
        return replace(fed, name=named(fed.name))

    rungs = tuple(replace(r, network=network(r.network), feeds=tuple(map(feed, r.feeds))) for r in circuit.rungs)
    return replace(circuit, rungs=rungs)
