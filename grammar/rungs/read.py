"""A rung list from its text: every line read by itself, so that one fault does not hide the next."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from grammar.deceiving import deceiving
from grammar.diagnostic import Diagnostic, nearest
from grammar.reading import Reading
from grammar.rungs.faults import fault
from grammar.rungs.judge import judge
from grammar.rungs.lines import Line, cut
from grammar.rungs.parse import (
    parse_circuit,
    parse_counter,
    parse_device,
    parse_end,
    parse_master,
    parse_rung,
    parse_timer,
    start_word,
)
from grammar.rungs.roles import completed
from grammar.rungs.tree import Circuit, Comments, Device, Master, Rung, behind
from grammar.rungs.words import SYNONYMS
from grammar.source import Source

__all__ = ["read"]

_MOST = 100
_DEEPEST = 8


def read(source: Source, machine: Iterable[Device] = ()) -> Reading[Circuit]:
    """The circuit a text holds, with every fault in it. Never raises, whatever the text.

    ``machine`` are the inputs and loads of the machine at hand, which the list then need not declare.
    """
    machine = tuple(machine)
    lines = cut(source.text)
    read = _Read(lines.diagnostics)
    for line in lines.lines:
        before, start = len(read.faults), start_word(line)
        read.line(line, start if line.sound else f"lost {start}")
        if not line.sound or len(read.faults) > before:
            read.lost.setdefault(start, set()).update(word.casefold() for word in _WORDS.findall(line.text))
    read.close()
    notes = lines.notes if read.title else ()
    circuit = completed(Circuit(read.title, notes, tuple(read.devices), tuple(read.rungs), lines.below), machine)
    read.faults += _heeded(judge(circuit, machine), read.lost, source)
    read.faults += deceiving(source.text, read.faults)
    if not read.rungs and not read.lost:
        read.faults.append(
            fault("RW420", "there are no rungs here", 0, 1, cure="write for example: rung 1: START, feeds CR1")
        )
    return Reading(source, circuit, _first(read.faults))


@dataclass
class _Read:
    """What has been read so far. ``lost`` holds the words of the lines that could not be read, by kind of line;
    ``inside`` the masters that are open, outermost first (None for one that could not be read), each with how many
    rungs stand above it."""

    faults: list[Diagnostic]
    title: str = ""
    titled: bool = False
    devices: list[Device] = field(default_factory=list)
    rungs: list[Rung] = field(default_factory=list)
    inside: list[tuple[Master | None, int]] = field(default_factory=list)
    ends_lost: bool = False
    lost: dict[str, set[str]] = field(default_factory=dict)

    def line(self, line: Line, start: str) -> None:
        """Read one line, whatever it starts with."""
        faults = self.faults
        match start:
            case "circuit" if self.titled:
                faults.append(fault("RW424", "the circuit already has a title", line.span.start, line.span.end))
            case "circuit":
                self.title, self.titled = parse_circuit(line, faults), True
            case "device":
                self.devices += parse_device(line, faults)
            case "timer":
                self.devices += parse_timer(line, faults)
            case "counter":
                self.devices += parse_counter(line, faults)
            case "rung":
                rung = parse_rung(line, faults, after=self.rungs[-1].number if self.rungs else 0)
                self.rungs += [] if rung is None else [behind(self.masters(), rung)]
            case "master":
                self.inside.append((self.master(line), len(self.rungs)))
            case "end":
                self.end(line)
            case "lost master":
                self.inside.append((None, len(self.rungs)))
            case "lost end":
                self.ends_lost = True
            case _ if line.sound:
                faults.append(_unknown_start(line))

    def masters(self) -> tuple[Master, ...]:
        """The masters through which a rung written here is fed."""
        return tuple(master for master, _ in self.inside if master is not None)

    def master(self, line: Line) -> Master | None:
        """The master that starts here, if it can be read and does not stand inside too many."""
        if len(self.inside) < _DEEPEST:
            return parse_master(line, self.faults)
        cure, span = "give the inner group a relay of its own", line.span
        message = f"masters stand inside one another deeper than {_DEEPEST}"
        self.faults.append(fault("RW415", message, span.start, span.end, cure=cure))
        return None

    def end(self, line: Line) -> None:
        """End the innermost group; its rungs learn the comments of its end."""
        ending = parse_end(line, self.faults)
        self.ends_lost = self.ends_lost or ending is None
        if not self.inside:
            message = "no master is open here"
            self.faults.append(fault("RW427", message, line.span.start, line.span.end, cure="take it out"))
            return
        master, first = self.inside.pop()
        if master is None or ending is None:
            return
        if first == len(self.rungs) and "rung" not in self.lost:
            cure = "write the rungs it feeds between it and 'end master'"
            self.faults.append(_about("no rung is fed through this master", master, cure))
        if ending != Comments():
            depth, ended = len(self.masters()), replace(master, ending=ending)
            for k in range(first, len(self.rungs)):
                masters = self.rungs[k].masters
                self.rungs[k] = replace(self.rungs[k], masters=(*masters[:depth], ended, *masters[depth + 1 :]))

    def close(self) -> None:
        """No more lines: a master that is still open has no end."""
        cure = "write 'end master' below the last rung that is fed through it"
        if not self.ends_lost:
            self.faults += [_about("this master has no end", master, cure) for master in self.masters()]


def _about(message: str, master: Master, cure: str) -> Diagnostic:
    return fault("RW427", message, master.span.start, master.span.end, cure=cure)


def _heeded(found: list[Diagnostic], lost: dict[str, set[str]], source: Source) -> list[Diagnostic]:
    """Without those that would ask for what stands in a line that could not be read."""
    words = set[str]().union(*lost.values())
    unsure = {"RW417", "RW418", "RW429"} if lost.keys() - {"circuit"} else set[str]()

    def missing(diagnostic: Diagnostic) -> bool:
        named = source.words(diagnostic.span).strip('"').casefold() if diagnostic.span else ""
        return diagnostic.code == "RW402" and named in words

    return [diagnostic for diagnostic in found if diagnostic.code not in unsure and not missing(diagnostic)]


_WORDS = re.compile(r"[\w-]+")


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
    close = nearest(first, ["circuit", "rung", "master", "end master", *SYNONYMS])
    cure = f"did you mean '{close}'?" if close else "indent a line that goes on with the rung above"
    if first.isdecimal():
        cure = f"write '{first}: ' or 'rung {first}: ' before the contacts"
    elif first.upper() in _BLOCKS:
        cure = f"write for example: timer TR1, {_BLOCKS[first.upper()]} 30 s"
    return fault("RW423", f"no line starts with '{first}'", start, start + len(first), expected=_STARTS, cure=cure)


# The timers of IEC 61131-3:2013, Table 46 (from memory), by the names they have there.
_BLOCKS = {"TON": "on-delay", "TOF": "off-delay", "TP": "one-shot"}
_STARTS = "'circuit', 'rung', or what a device is: pushbutton, limit switch, relay, timer, solenoid ..."
