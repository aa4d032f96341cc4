"""Terminal numbers of contacts and coils (EN 50005, EN 50011 to 50013; 5 to 8 for timed contacts from memory).

The first digit of a contact's terminals is its place on the device, the second its function: 1-2 break, 3-4 make, 5-6
delayed break, 7-8 delayed make. A coil is A1-A2, its common side A2; a timer's control input is B1, a second coil
B1-B2. A device beyond nine contacts goes on with two-figure places, which EN 50005 has not: the bill says so.
"""

from __future__ import annotations

from collections import Counter

from grammar.rungs.judge import forms
from grammar.rungs.tree import LOADS, Circuit, Contact, Device, Feed, Form, Kind, Terminal, TimerFunction

__all__ = ["Terminals", "coil_ends", "form_of"]

_FUNCTIONS = {
    Form.NO: "34",
    Form.NC: "12",
    Form.NOTC: "78",
    Form.NCTO: "56",
    Form.NOTO: "78",
    Form.NCTC: "56",
}
_PULSED = {Form.NO: "78", Form.NC: "56"}
"""A timer whose contacts follow its pulse has no others: the contacts that its time works."""
_ONE_SHOTS = (TimerFunction.ONE_SHOT, TimerFunction.RETRIGGERABLE)
_COILS = {
    Terminal.COIL: ("A1", "A2"),
    Terminal.SUPPLY: ("A1", "A2"),
    Terminal.CONTROL: ("B1", "A2"),
    Terminal.LATCH: ("A1", "A2"),
    Terminal.UNLATCH: ("B1", "B2"),
    Terminal.COUNT: ("A1", "A2"),
    Terminal.RESET: ("B1", "B2"),
}
_LOADS = {Kind.LAMP: ("X1", "X2"), Kind.CONTACTOR: ("A1", "A2")}


class Terminals:
    """Gives out terminals in the order in which contacts are met."""

    def __init__(self, circuit: Circuit) -> None:
        self._devices = {device.name.text.casefold(): device for device in circuit.devices}
        self._given: Counter[str] = Counter()

    def of_contact(self, contact: Contact) -> tuple[str, str]:
        """The two terminals of a contact that has not been met before. Raises KeyError for an undeclared device."""
        name = contact.name.text.casefold()
        self._given[name] += 1
        place, figures = self._given[name], _figures(self._devices[name], contact.form)
        return f"{place}{figures[0]}", f"{place}{figures[1]}"

    def of_coil(self, feed: Feed) -> tuple[str, str]:
        """The terminals of a coil or a load. Raises KeyError for an undeclared device."""
        return coil_ends(self._devices[feed.name.text.casefold()].kind, feed.terminal)


def coil_ends(kind: Kind, terminal: Terminal) -> tuple[str, str]:
    """The terminals between which such a coil or load stands, the fed one first."""
    return _LOADS.get(kind, ("1", "2")) if kind in LOADS else _COILS[terminal]


def form_of(device: Device, figures: str) -> Form | None:
    """The form of a device's contact by the function figures of its two terminals, the lower first."""
    return next((form for form in forms(device) if _figures(device, form) == figures), None)


def _figures(device: Device, form: Form) -> str:
    return _PULSED[form] if device.function in _ONE_SHOTS else _FUNCTIONS[form]
