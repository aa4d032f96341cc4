"""Contacts for the conditions that end steps, presses included.

A press counts once the button has been seen released while the step was on: a relay AR tells, as the anti-repeat does
for START. It stays in with the button down again only as long as that very press would still count.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from compiler.chart import Words
from compiler.condition import And, Condition, Not, Or, Rise, both, walk
from grammar.rungs.tree import Network
from targets.relay.network import complement, contact, nc, parallel, series, terms
from targets.relay.sheet import Sheet
from targets.relay.start import press_of

__all__ = ["Listening", "Seen"]


@dataclass(frozen=True, slots=True)
class Seen:
    """A relay that has seen ``button`` released ``when`` a step was on. ``place`` is whose rung it belongs beside."""

    relay: str
    button: str
    when: Network
    kept: Network
    place: str
    words: Words

    @property
    def network(self) -> Network:
        """The contacts of its rung."""
        return series(self.when, parallel(nc(self.button), series(contact(self.relay), self.kept)))


@dataclass
class Listening:
    """``told`` gives the contacts of a condition without presses; a press of a button in ``plain`` is a contact of it
    and no more. What was found in need of a relay stands in ``seen``."""

    sheet: Sheet
    told: Callable[[Condition], Network]
    plain: frozenset[str]
    seen: dict[tuple[str, Network, Network], Seen] = field(default_factory=dict)
    made: dict[tuple[str, Network, Network], Network] = field(default_factory=dict)

    def ends(self, condition: Condition, when: Network, place: str, words: Words) -> Network:
        """The contacts that conduct when a condition holds, looked at ``when`` a step is on. Raises Unfit."""
        if not _pressed(condition):
            return self.told(condition)
        match condition:
            case Not(of=part):
                return complement(self.ends(part, when, place, words))
            case Or(of=parts):
                return parallel(*(self.ends(part, when, place, words) for part in parts))
            case And(of=parts):
                against = [part for part in parts if isinstance(part, Not) and _pressed(part)]
                others = [part for part in parts if part not in against]
            case _:
                against, others = [], [condition]
        ruled_out = [self.ends(part, when, place, words) for part in against]
        branches = []
        for term in terms(both(*others)):
            rest = series(self.told(term.rest), *ruled_out)
            pressed = rest if term.rise is None else self._press(term.rise, term.rest, rest, when, place, words)
            branches.append(pressed)
        return parallel(*branches)

    def _press(
        self, button: str, condition: Condition, rest: Network, when: Network, place: str, words: Words
    ) -> Network:
        if button in self.plain:
            return series(contact(button), rest)
        key = (button, when, rest)
        if key not in self.made:
            press = press_of(self.sheet, button, condition, rest, words=words)
            relay = self.sheet.relay("AR")
            self.seen[key] = Seen(relay, button, when, press.kept, place, words)
            self.made[key] = series(press.made, contact(relay), rest)
        return self.made[key]


def _pressed(condition: Condition) -> bool:
    return any(isinstance(part, Rise) for part in walk(condition))
