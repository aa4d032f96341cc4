"""Two logics without any machine: every input may be anything at any moment. What is the same here always is.

No plant, no operator and no working switch is assumed, so nothing needs to be known of the inputs but what a logic
looks at. Two logics that differ here may well be the same on a machine: ``compiler.proof.prove`` looks there next.
"""

from __future__ import annotations

from collections.abc import Iterator

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.clocks import Deadline
from compiler.proof.leaves import Look, TooMany, ways
from compiler.proof.product import Product
from compiler.proof.situation import Happening, Move, Situation
from compiler.proof.table import OFF
from compiler.simulation.run import EventKind

__all__ = ["TooMany", "Unbound"]

_MOST_WAYS = 6_000
_NONE: frozenset[int] = frozenset()
_Pair = tuple[int, frozenset[int], int, frozenset[int]]


class Unbound(Product):
    """A product without plant. Its situations are met with any values of the inputs, so none are part of them.

    ``moves`` and ``expiries`` raise TooMany when all in all the logics have looked at inputs in too many ways.
    """

    def __init__(self, driver: Logic, shadow: Logic, machine: Machine) -> None:
        super().__init__(driver, shadow, machine.model_copy(update={"actuators": ()}))
        self._inputs = len(machine.inputs)
        self._ways_left = _MOST_WAYS

    def first(self) -> Move:
        """Nothing has supply."""
        none = self._clockwork.kept(self._clockwork.none)
        return Move(Happening(), self._situation(OFF, OFF, 0, False, (), 0, none.clocks), none.choice)

    def moves(self, at: Situation, excluded: int = 0) -> list[Move]:
        """Inputs change, or the supply goes or comes."""
        if at.moves is None:
            happening = Happening(kind=EventKind.INPUT)
            found = [self._to(at, happening, pair) for pair in self._answers(at, (_NONE, _NONE))]
            if at.supply:
                found.append(self._to(at, happening, (OFF, _NONE, OFF, _NONE)))
            same = tuple(range(1, at.size))
            moves = {(m.target, m.births): m for m in found if m.target is not at or m.births != same}
            at.moves = list(moves.values())
        return at.moves

    def expiries(self, situation: Situation, due: tuple[Deadline, ...]) -> list[Move]:
        """Some deadlines are met, whatever the inputs then are."""
        known = situation.expiries.get(due)
        if known is None:
            expired = (_NONE.union(*(d.timers[0] for d in due)), _NONE.union(*(d.timers[1] for d in due)))
            happening = Happening(expired=expired)
            known = [self._to(situation, happening, pair) for pair in self._answers(situation, expired)]
            situation.expiries[due] = known
        return known

    def _answers(self, at: Situation, expired: tuple[frozenset[int], frozenset[int]]) -> Iterator[_Pair]:
        def run(values: dict[int, bool]) -> _Pair:
            inputs = [Look(values, k) for k in range(self._inputs)]
            return (
                *self.driver.turn_with(at.driver, inputs, expired[0]),
                *self.shadow.turn_with(at.shadow, inputs, expired[1]),
            )

        found: dict[_Pair, None] = {}
        for pair in ways(run, most=self._ways_left):
            self._ways_left -= 1
            found[pair] = None
        return iter(found)

    def _to(self, at: Situation, happening: Happening, pair: _Pair) -> Move:
        driver, started, shadow, begun = pair
        fresh = started | happening.expired[0] | {k + self._shadow_from for k in begun | happening.expired[1]}
        carried = self._clockwork.carried(at.clocks, self._running(driver, shadow, (), 0), fresh)
        target = self._situation(driver, shadow, 0, driver != OFF, (), 0, carried.clocks)
        return Move(happening, target, carried.choice, births=carried.births)
