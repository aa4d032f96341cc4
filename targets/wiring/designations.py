"""Designations of devices: as the user named them, by JIC device letters, or by the classes of IEC 81346-2.

JIC/NMTBA EGP1-1967 letters as reproduced in fluid-power data sheets; IEC 81346-2:2009 classes (main classes K, Q, F
and S from quotations, sub-classes from memory).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from grammar.rungs.tree import (
    Circuit,
    Comments,
    Contact,
    Device,
    Kind,
    Master,
    Name,
    Network,
    Parallel,
    Series,
)
from targets.choices import Letters

__all__ = ["called", "called_in", "designated", "designations"]

_JIC = {
    Kind.PUSHBUTTON: "PB",
    Kind.SELECTOR: "SS",
    Kind.SENSOR: "PRS",
    Kind.LIMIT_SWITCH: "LS",
    Kind.PRESSURE_SWITCH: "PS",
    Kind.RELAY: "CR",
    Kind.LATCHING_RELAY: "CR",
    Kind.TIMER: "TR",
    Kind.COUNTER: "CTR",
    Kind.SOLENOID: "SOL",
    Kind.LAMP: "LT",
    Kind.HORN: "AH",
    Kind.MOTOR: "MTR",
}
_IEC = {
    Kind.PUSHBUTTON: "S",
    Kind.SELECTOR: "S",
    Kind.SENSOR: "B",
    Kind.LIMIT_SWITCH: "B",
    Kind.PRESSURE_SWITCH: "B",
    Kind.RELAY: "K",
    Kind.LATCHING_RELAY: "K",
    Kind.TIMER: "K",
    Kind.COUNTER: "K",
    Kind.SOLENOID: "M",
    Kind.LAMP: "P",
    Kind.HORN: "P",
    Kind.MOTOR: "M",
}


def designations(devices: Sequence[Device], letters: Letters) -> dict[str, str]:
    """The designation of each device by its name. JIC puts the number first (``3CR``), IEC a sign (``-K3``)."""
    if letters is Letters.AS_NAMED:
        return {d.name.text: d.name.text for d in devices}
    table = _JIC if letters is Letters.JIC else _IEC
    given: Counter[str] = Counter()
    found = {}
    for device in devices:
        letter = table.get(device.kind, "CON" if letters is Letters.JIC else "Q")
        given[letter] += 1
        found[device.name.text] = (
            f"{given[letter]}{letter}" if letters is Letters.JIC else f"-{letter}{given[letter]}"
        )
    return found


def called(names: Mapping[str, str]) -> str:
    """A sentence for where both meet: what each device of the program is called on the papers; empty where none is
    called otherwise."""
    told = ", ".join(f"{name} is {shown}" for name, shown in names.items() if name != shown)
    return f"Drawings and lists call the devices of the program by other letters: {told}." if told else ""


def called_in(names: Mapping[str, str]) -> Callable[[str], str]:
    """How to say a text with every device in it under its designation."""
    return str if all(name == shown for name, shown in names.items()) else _Renaming(names).text


def designated(circuit: Circuit, names: Mapping[str, str]) -> Circuit:
    """The circuit with every device under its designation, in notes and comments as well. Raises KeyError for one
    without."""
    return _Renaming(names).circuit(circuit)


class _Renaming:
    """One name for another throughout a circuit; names are looked up ignoring letter case, in comments as written."""

    def __init__(self, names: Mapping[str, str]) -> None:
        self.names = {name.casefold(): shown for name, shown in names.items()}
        longest_first = sorted(names, key=len, reverse=True)
        words = "|".join(map(re.escape, longest_first)) or "(?!)"
        self.word = re.compile(rf"(?<![\w-])(?:{words})(?![\w-])")
        self.written = names

    def circuit(self, circuit: Circuit) -> Circuit:
        devices = tuple(replace(d, name=self.name(d.name), comments=self.said(d.comments)) for d in circuit.devices)
        rungs = tuple(
            replace(
                rung,
                network=self.network(rung.network),
                feeds=tuple(replace(feed, name=self.name(feed.name)) for feed in rung.feeds),
                comments=self.said(rung.comments),
                masters=tuple(map(self.master, rung.masters)),
            )
            for rung in circuit.rungs
        )
        return replace(circuit, devices=devices, rungs=rungs, notes=tuple(map(self.text, circuit.notes)))

    def master(self, master: Master) -> Master:
        return Master(self.network(master.network), self.said(master.comments), self.said(master.ending))

    def network(self, network: Network) -> Network:
        match network:
            case Contact(name=name):
                return replace(network, name=self.name(name))
            case Series(parts=parts) | Parallel(parts=parts):
                return replace(network, parts=tuple(map(self.network, parts)))

    def name(self, name: Name) -> Name:
        return replace(name, text=self.names[name.text.casefold()])

    def said(self, comments: Comments) -> Comments:
        return Comments(tuple(map(self.text, comments.above)), self.text(comments.beside))

    def text(self, text: str) -> str:
        return self.word.sub(lambda found: self.written[found[0]], text)
