"""Terminal numbers of contacts and coils (EN 50005, EN 50011 to 50013; 5 to 8 for timed contacts from memory).

The first digit of a contact's terminals is its place on the device, the second its function: 1-2 break, 3-4 make, 5-6
delayed break, 7-8 delayed make. A coil is A1-A2, its common side A2; a timer's control input is B1, a second coil
B1-B2. A device beyond nine contacts goes on with two-figure places.
"""

from __future__ import annotations

from collections import Counter

from grammar.rungs.tree import LOADS, Circuit, Contact, Feed, Form, Kind, Terminal

__all__ = ["Terminals"]

_FUNCTIONS = {
    Form.NO: ("3", "4"),
    Form.NC: ("1", "2"),
    Form.NOTC: ("7", "8"),
    Form.NCTO: ("5", "6"),
    Form.NOTO: ("7", "8"),
    Form.NCTC: ("5", "6"),
}
_COILS = {
    Terminal.COIL: ("A1", "A2"),
    Terminal.SUPPLY: ("A1", "A2"),
    Terminal.CONTROL: ("B1", "A2"),
    Terminal.LATCH: ("A1", "A2"),
    Terminal.UNLATCH: ("B1", "B2"),
    Terminal.COUNT: ("A1", "A2"),
    Terminal.RESET: ("B1", "B2"),
}
_LOADS = {Kind.LAMP: ("X1", "X2")}


class Terminals:
    """Gives out terminals in the order in which contacts are met."""

    def __init__(self, circuit: Circuit) -> None:
        self._kinds = {device.name.text.casefold(): device.kind for device in circuit.devices}
        self._given: Counter[str] = Counter()

    def of_contact(self, contact: Contact) -> tuple[str, str]:
        """The two terminals of a contact that has not been met before."""
        name = contact.name.text.casefold()
        self._given[name] += 1
        place = self._given[name]
        first, second = _FUNCTIONS[contact.form]
        return f"{place}{first}", f"{place}{second}"

    def of_coil(self, feed: Feed) -> tuple[str, str]:
        """The terminals of a coil or a load. Raises KeyError for an undeclared device."""
        kind = self._kinds[feed.name.text.casefold()]
        if kind in LOADS:
            return _LOADS.get(kind, ("1", "2"))
        return _COILS[feed.terminal]
