"""What a race analysis has to say, in plain lines."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from compiler.races.stimulus import Stimulus

__all__ = ["Race", "RaceKind", "Races"]


class RaceKind(StrEnum):
    """What depends on the order: where the circuit ends, whether it ends, or what an output does on the way."""

    CRITICAL = "critical race"
    ENDLESS = "may go on for ever"
    HAZARD = "hazard"


@dataclass(frozen=True, slots=True)
class Race:
    """One thing that depends on the order, shown by the stimulus with the shortest orders.

    ``about`` are the devices that come to differ; ``happens`` tells the stimulus and ``setting`` what else is on just
    then; ``orders`` are two orders in plain
    words, one move each, and ``outcomes`` what they come to. The first comes to what the simultaneous view does,
    wherever there is such an order. ``situations`` counts the stimuli of which this holds.
    """

    stimulus: Stimulus
    kind: RaceKind
    about: tuple[str, ...]
    happens: str
    setting: str
    orders: tuple[tuple[str, ...], tuple[str, ...]]
    outcomes: tuple[str, str]
    situations: int = 1

    @property
    def length(self) -> int:
        """The moves that the two orders take together."""
        return sum(map(len, self.orders))

    @property
    def lines(self) -> tuple[str, ...]:
        """The race as a report tells it."""
        while_ = f" ({self.setting})" if self.setting else ""
        first, second = (", then ".join(order) or "nothing moves" for order in self.orders)
        comes_to, other = self.outcomes
        # Where every order comes to the same, the second is there to show how.
        then = f"for example {second}" if comes_to == other else f"{second}: {other}"
        return f"{self.kind} when {self.happens}{while_}:", f"    {first}: {comes_to}", f"    {then}"


@dataclass(frozen=True, slots=True)
class Races:
    """What was found, gravest first.

    ``orders`` counts the different orders looked at, loops once, and once those that differ only in what has nothing
    to do with one another. Only where it is ``settled`` were those all there are, in all ``stimuli``; otherwise
    ``why`` says what is missing. ``timed``: orders that the given times of relays leave no room for were left out.
    """

    found: tuple[Race, ...]
    stimuli: int
    orders: int
    settled: bool
    why: str = ""
    timed: bool = False

    @property
    def free(self) -> bool:
        """Nothing that lasts depends on the order (hazards are milder). True only after an exhaustive search."""
        return self.settled and not self.critical

    @property
    def critical(self) -> bool:
        """Something was found that lasts and depends on the order, whatever else there may be."""
        return any(race.kind is not RaceKind.HAZARD for race in self.found)

    @property
    def lines(self) -> tuple[str, ...]:
        """What a report says: the verdict, then of each kind and happening the race that is shown quickest."""
        told: list[str] = []
        for alike in self._alike():
            more = sum(race.situations for race in alike) - 1
            told += [
                *alike[0].lines,
                *([f"    so, or much like it, in {_counted(more, 'more situation')}"] if more else []),
            ]
        if not self.settled:
            return f"races {self.why}", *told
        at, room = (" at these times", " they leave room for") if self.timed else ("", "")
        where = f"in {_counted(self.stimuli, 'situation')}"
        if self.free:
            return f"free of critical races{at}: every order{room} {where} was tried", *told
        return f"not free of races{at}: {_counted(self.orders, 'order')}{room} {where} were tried", *told

    def _alike(self) -> list[list[Race]]:
        groups: dict[tuple[RaceKind, str], list[Race]] = {}
        for race in self.found:
            groups.setdefault((race.kind, race.happens), []).append(race)
        return list(groups.values())


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
