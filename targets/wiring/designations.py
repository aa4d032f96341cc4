"""Designations of devices: as the user named them, by JIC device letters, or by the classes of IEC 81346-2.

JIC/NMTBA EGP1-1967 letters as reproduced in fluid-power data sheets; IEC 81346-2:2009 classes (main classes K, Q, F
and S from quotations, sub-classes from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from grammar.rungs.tree import Device, Kind
from targets.choices import Letters

__all__ = ["designations"]


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
