"""Contacts for the conditions that end steps, presses included.

A press counts once the button has been seen released while the step was on: a relay AR tells, as the anti-repeat does
for START. It stays in with the button down again only as long as that very press would still count; where a press is
asked *not* to come, and nothing else is done about it, it is over at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from compiler.chart import Words
from compiler.condition import And, Condition, Not, Or, Rise, both, walk
from grammar.rungs.tree import Network
from targets.relay.network import WIRE, Term, complement, contact, nc, parallel, series, terms
from targets.relay.sheet import Sheet
from targets.relay.start import Press, press_of

__all__ = ["Listening", "Seen", "pressed"]


@dataclass(frozen=True, slots=True)
class Seen:
    """A relay that has seen ``button`` released ``when`` one of the steps in ``places`` was on, which ``where`` says;
    with the button down again it stays in while ``kept`` conducts, if there is that. No places: whatever is on."""

    relay: str
    button: str
    when: Network
    kept: Network | None
    places: tuple[str, ...]
    where: str
    words: Words

    def network(self, free: Network = WIRE) -> Network:
        """The contacts of its rung. A press does not count either unless ``free`` conducts as it comes."""
        if self.kept is None:
            return series(self.when, nc(self.button))
        return series(self.when, parallel(nc(self.button), series(contact(self.relay), self.kept, free)))

    def says(self) -> str:
        """What its rung says."""
        return f"{self.relay}: {self.button} has been seen released{self.where}, so its next press counts."


@dataclass
class Listening:
    """``told`` gives the contacts of a condition without presses; a press of a button in ``plain`` is a contact of it
    and no more. ``where`` says when some steps are on, to be put after what is seen then. What was found in need of a
    relay stands in ``seen``."""

    sheet: Sheet
    told: Callable[[Condition], Network]
    plain: frozenset[str]
    where: Callable[[tuple[str, ...]], str]
    seen: dict[tuple[str, Network, Network], Seen] = field(default_factory=dict)
    made: dict[tuple[str, Network, Network], Network] = field(default_factory=dict)

    def ends(
        self, condition: Condition, when: Network, places: tuple[str, ...], words: Words, *, against: bool = False
    ) -> Network:
        """The contacts that conduct when a condition holds, looked at ``when`` a step is on. ``against``: it is asked
        not to hold. Raises Unfit."""
        if not pressed(condition):
            return self.told(condition)
        match condition:
            case Not(of=part):
                return complement(self.ends(part, when, places, words, against=not against))
            case Or(of=parts):
                return parallel(*(self.ends(part, when, places, words, against=against) for part in parts))
            case And(of=parts):
                ruled_out = [part for part in parts if isinstance(part, Not) and pressed(part)]
                others = [part for part in parts if part not in ruled_out]
            case _:
                ruled_out, others = [], [condition]
        besides = [self.ends(part, when, places, words, against=against) for part in ruled_out]
        branches = []
        for term in terms(both(*others)):
            rest = series(self.told(term.rest), *besides)
            if term.rise is None:
                branches.append(rest)
            elif term.rise in self.plain:
                branches.append(series(contact(term.rise), rest))
            else:
                branches.append(self._press(term, rest, when, places, words, against=against))
        return parallel(*branches)

    def _press(
        self, term: Term, rest: Network, when: Network, places: tuple[str, ...], words: Words, *, against: bool
    ) -> Network:
        button = term.rise
        assert button is not None
        key = (button, when, rest)
        if key not in self.made:
            relay = self.sheet.relay("AR")
            if against:
                press = Press(contact(button), WIRE)
            else:
                press = press_of(self.sheet, button, term.rest, rest, words=words)
            kept = None if against else press.kept
            self.seen[key] = Seen(relay, button, when, kept, places, self.where(places), words)
            self.made[key] = series(press.made, contact(relay), rest)
        return self.made[key]


def pressed(condition: Condition) -> bool:
    """Whether a condition waits for a press."""
    return any(isinstance(part, Rise) for part in walk(condition))
