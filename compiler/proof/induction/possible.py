"""What is thought possible of two logics: which of their parts are alike, and what values others take together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from compiler.proof.induction.alike import alike_of
from compiler.proof.induction.pair import Pair
from compiler.proof.induction.together import combinations_of, together
from compiler.proof.induction.trying import Tried

__all__ = ["Possible"]


@dataclass
class Possible:
    """``alike``: parts in classes that always have the same value, of which the first stands for all. ``sets`` of
    such parts that belong together, and for each the combinations that are ``known``. ``twins``: timers in classes
    that always begin and end together. ``resting``: of which of the two it is thought that nothing would move if it
    were looked at once more; that can only be said where the inputs as they were are known."""

    pair: Pair
    alike: list[list[int]]
    sets: list[tuple[int, ...]]
    known: list[set[tuple[int, ...]]]
    twins: list[list[int]]
    inputs_by_set: list[int]
    one_by_one: bool
    resting: list[bool]

    @classmethod
    def of(cls, pair: Pair, tried: Tried, *, every_two: bool, one_by_one: bool) -> Possible:
        inputs = range(sum(side.parts for side in pair.sides), len(tried.parts))
        alike = alike_of(tried.parts)
        speak = sorted(members[0] for members in alike if members[0] not in inputs)
        counters = {k: most for k, most in pair.counters if k in speak and len(tried.parts[k]) > 1 and not every_two}
        first = [part for part in speak if part not in counters]
        places = {part: k for k, part in enumerate(first)}
        exclusive = {
            places[p]: frozenset(places[q] for q in others if q in places)
            for p, others in pair.exclusive.items()
            if p in places and not every_two
        }
        found = together([tried.parts[part] for part in first], every_two=every_two, exclusive=exclusive)
        sets = [tuple(first[k] for k in parts) for parts in found]
        known = [set(combinations_of(parts, tried.parts)) for parts in sets]
        sets += [(part,) for part in counters]
        known += [_counts(most) for most in counters.values()]
        presets = [timer.preset_us for side in pair.sides for timer in side.logic.timers]
        twins, decided = tried.twins(presets), tried.decided_by(sets)
        return cls(pair, alike, sets, known, twins, decided, one_by_one, [one_by_one] * 2)

    @property
    def combinations(self) -> int:
        """How many combinations all sets take."""
        return sum(map(len, self.known))

    def goes_with(self, first: int, other: int) -> None:
        """Let a part that was always like another one stand for itself: what is known says so in each set. A step
        goes into the sets of steps that it is exclusive with, where there are any."""
        counters = dict(self.pair.counters)
        if other in counters:
            self.sets.append((other,))
            self.known.append(_counts(counters[other]))
            return
        sets = enumerate(tuple(self.sets))
        fitting = [number for number, parts in sets if self._exclusive(other, parts)]
        had = {values[parts.index(first)] for parts, known in self._with(first) for values in known}
        for number, parts in enumerate(self.sets):
            if number in fitting or (not fitting and first in parts):
                place = parts.index(first) if first in parts else None
                self.sets[number] = (*parts, other)
                self.known[number] = {
                    (*values, value)
                    for values in self.known[number]
                    for value in (had if place is None else (values[place],))
                }

    def _with(self, part: int) -> Iterator[tuple[tuple[int, ...], set[tuple[int, ...]]]]:
        return ((parts, known) for parts, known in zip(self.sets, self.known, strict=True) if part in parts)

    def _exclusive(self, step: int, parts: tuple[int, ...]) -> bool:
        """Whether these parts hold steps, each of which is exclusive with this one."""
        others = self.pair.exclusive
        steps = others.keys() & set(parts)
        return step in others and bool(steps) and steps <= others[step]


def _counts(most: int) -> set[tuple[int, ...]]:
    return {(value,) for value in range(most + 1)}
