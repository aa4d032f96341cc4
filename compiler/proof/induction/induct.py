"""Two logics are the same whatever their inputs do, by induction over reactions.

What is kept is not the set of all situations but, for each set of parts that belong together, the combinations of
values it takes; a situation is thought possible when each of its sets takes a combination that is known. If power
coming on leads to such situations only, and every reaction leads from such situations to such situations, whatever
the inputs and whichever timers expire, then no other ever comes about. If in none of them the outputs differ, the two
are the same. More is thought possible than is: so what is not shown here may hold all the same.

Timers of the same preset that begin and end together expire together: that is a part of what is kept. Of all others
nothing is known but that they run, so any may expire at any moment.

Source: C. A. J. van Eijk, "Sequential equivalence checking based on structural similarities", IEEE TCAD 19(7), 2000,
for the principle; P. Cousot and R. Cousot 1977 for keeping more than what is (both from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.induction.alike import alike_of, parted
from compiler.proof.induction.diagrams import FALSE, TRUE, Diagrams, TooLarge
from compiler.proof.induction.faithful import faithful
from compiler.proof.induction.pair import Pair
from compiler.proof.induction.reading import Cases, NotUnderstood, Reader
from compiler.proof.induction.together import combinations_of, together
from compiler.proof.induction.trying import Differ, Trial, Tried
from compiler.proof.induction.written import RUNS, Settled, Unsettled

__all__ = ["Shown", "always_same"]

_CHECKED = 40
_EFFORTS = ((20, False), (50, False), (58, False), (0, True))
"""How many reactions more are tried, and whether every two parts that belong together are to be in one set."""

_MOST_TRIED = 250_000
"""So many expressions are read in the trial, and no more is tried unless inputs change one by one."""

_MOST_NODES = 250_000
_MOST_PASSES = 16
_MOST_COMBINATIONS = 3_000


@dataclass(frozen=True, slots=True)
class Shown:
    """That two are the same: how many sets of parts were looked at, and how many combinations they take in all."""

    sets: int
    combinations: int


class _Unshown(Exception):
    """It can't be shown this way."""


def always_same(driver: Logic, shadow: Logic, machine: Machine, *, one_by_one: bool = False) -> Shown | None:
    """That two logics are the same whatever their inputs do, and both always settle. ``one_by_one``: the inputs
    change one after another, and none at the moment a timer expires, as is so in any run of a machine; as power comes
    on they may be anything. None where it was not shown, which says nothing.

    Raises KeyError when a logic reads an input that the machine does not have.
    """
    try:
        pair = Pair.of(driver, shadow, machine)
        trial = Trial(pair, one_by_one=one_by_one)
        for reactions, every_two in _EFFORTS:
            if not one_by_one and trial.work > _MOST_TRIED:
                break  # a chart, or a program, is shown by now; a circuit more likely input by input
            tried = trial.go_on(reactions)
            try:
                shown = _Proof.of(pair, tried, every_two=every_two, one_by_one=one_by_one).run()
            except _Unshown:
                continue
            return shown if all(map(faithful, pair.sides)) else None
    except (Differ, NotUnderstood, TooLarge, Unsettled):
        pass
    return None


@dataclass
class _Proof:
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
    def of(cls, pair: Pair, tried: Tried, *, every_two: bool, one_by_one: bool) -> _Proof:
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

    def run(self) -> Shown:
        for _ in range(_MOST_PASSES):
            if not _Pass(self).finds_more():
                return Shown(len(self.sets), sum(map(len, self.known)))
            if sum(map(len, self.known)) > _MOST_COMBINATIONS:
                break
        raise _Unshown

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


class _Pass:
    """Every reaction from all situations that are thought possible now."""

    def __init__(self, proof: _Proof) -> None:
        self.proof = proof
        self.diagrams = Diagrams(_MOST_NODES)
        self.care = TRUE
        self.split = proof.pair.sides[0].parts
        self.timers = [*proof.pair.sides[0].timers, *(k + self.split for k in proof.pair.sides[1].timers)]
        self.first_input = sum(side.parts for side in proof.pair.sides)
        inputs = proof.pair.inputs if proof.one_by_one else 0
        self.parts: list[Cases] = [{} for _ in range(self.first_input + inputs)]
        self.free: list[Cases] = [{} for _ in range(proof.pair.inputs)]  # as they are when power comes on
        self.expired: list[Cases] = [{} for _ in self.timers]
        self._make_variables()
        for number in (0, 1):
            if proof.resting[number]:
                rests = self._at_rest(number, self.parts, self.parts[self.first_input :], TRUE)
                self.care = self.diagrams.both(self.care, rests)

    def finds_more(self) -> bool:
        """Whether a reaction leads to what was not thought possible, which then is. Raises _Unshown where the outputs
        differ."""
        more = False
        for care, inputs, settled in self._reactions():
            self._compare(care, *settled)
            after = (*settled[0].parts, *settled[1].parts, *(inputs if self.proof.one_by_one else ()))
            more = self._part(care, after) or more
            more = self._part_timers(care, *settled) or more
            more = self._learn(care, after) or more
            more = self._stir(care, after, inputs) or more
        return more

    # --- variables ------------------------------------------------------------------------------------------

    def _make_variables(self) -> None:
        """For each set of parts a number says which combination it takes, so that there is nothing impossible to be
        looked at; where sets share parts, which of those that go with what the earlier sets say. An input stands
        before the first set that it decides about."""
        proof = self.proof
        order = sorted(range(len(proof.sets)), key=lambda number: -len(proof.sets[number]))
        for number in order:
            for k in range(proof.pair.inputs):
                if proof.inputs_by_set[k] == number:
                    self.free[k] = self._bit()
                    if proof.one_by_one and not self.parts[self.first_input + k]:
                        self.parts[self.first_input + k] = self.free[k]
            self._make_parts(proof.sets[number], proof.known[number])
        for first, *others in proof.alike:
            for other in others:
                self.parts[other] = self.parts[first]
        for classes in proof.twins:
            over = self.diagrams.variable()
            for timer in classes:
                due = self.diagrams.both(over, self._running(timer, self.parts))
                self.expired[timer] = {True: due, False: due ^ 1}

    def _make_parts(self, parts: tuple[int, ...], known: set[tuple[int, ...]]) -> None:
        """The parts of a set that are new, as functions of a number and of the parts that earlier sets have made."""
        given = [k for k, part in enumerate(parts) if self.parts[part]]
        fresh = [k for k, part in enumerate(parts) if not self.parts[part]]
        groups: dict[tuple[int, ...], list[tuple[int, ...]]] = {}
        for combination in sorted(known):
            groups.setdefault(tuple(combination[k] for k in given), []).append(combination)
        most = max(map(len, groups.values())) if fresh else 1
        bits = [self.diagrams.variable() for _ in range((most - 1).bit_length())]
        possible = FALSE
        for values, group in groups.items():
            there = self.diagrams.all(
                self.parts[parts[k]].get(value, FALSE) for k, value in zip(given, values, strict=True)
            )
            possible = self.diagrams.either(possible, there)
            for number, combination in enumerate(group):
                taken = self.diagrams.both(there, self._numbered(bits, number, len(group)))
                for k in fresh:
                    cases = self.parts[parts[k]]
                    cases[combination[k]] = self.diagrams.either(cases.get(combination[k], FALSE), taken)
        self.care = self.diagrams.both(self.care, possible)

    def _numbered(self, bits: Sequence[int], number: int, count: int) -> int:
        """That the bits say this number of so many; the last one is said by all higher ones as well."""
        codes = range(number, 1 << len(bits)) if number == count - 1 else (number,)
        return self.diagrams.any(
            self.diagrams.all(bit ^ (code >> k & 1 ^ 1) for k, bit in enumerate(bits)) for code in codes
        )

    def _bit(self) -> Cases:
        f = self.diagrams.variable()
        return {True: f, False: f ^ 1}

    def _running(self, timer: int, parts: Sequence[Cases]) -> int:
        return self.diagrams.any(parts[self.timers[timer]].get(phase, FALSE) for phase in RUNS)

    # --- reactions ------------------------------------------------------------------------------------------

    def _power_up(self) -> tuple[Settled, Settled]:
        one, other = (
            side.power_up(Reader(self.diagrams, side.tables, TRUE), [self.free[k] for k in picked])
            for side, picked in zip(self.proof.pair.sides, self.proof.pair.picked, strict=True)
        )
        return one, other

    def _reactions(self) -> Iterator[tuple[int, list[Cases], tuple[Settled, Settled]]]:
        """Every reaction: where it matters, the inputs, and what it comes to. Power comes on; then inputs are
        anything and timers expire, or one input changes, each by itself, or timers expire."""
        yield TRUE, self.free, self._power_up()
        if not self.proof.one_by_one:
            yield self.care, self.free, self._react(self.free, self.expired)
            return
        before = self.parts[self.first_input :]
        quiet: list[Cases] = [{False: TRUE} for _ in self.timers]
        for k, was in enumerate(before):
            f = was.get(True, FALSE)
            now: Cases = {True: f ^ 1, False: f}
            inputs = [*before[:k], now, *before[k + 1 :]]
            yield self.care, inputs, self._react(inputs, quiet)
        yield self.care, before, self._react(before, self.expired)

    def _react(self, inputs: Sequence[Cases], all_expired: Sequence[Cases]) -> tuple[Settled, Settled]:
        pair, found, part, timer = self.proof.pair, [], 0, 0
        for side, picked in zip(pair.sides, pair.picked, strict=True):
            reader = Reader(self.diagrams, side.tables, self.care)
            parts = self.parts[part : part + side.parts]
            expired = all_expired[timer : timer + len(side.timers)]
            found.append(side.react(reader, parts, [inputs[k] for k in picked], expired))
            part, timer = part + side.parts, timer + len(side.timers)
        return found[0], found[1]

    def _compare(self, care: int, one: Settled, other: Settled) -> None:
        """The outputs."""
        for a, b in zip(*self.proof.pair.driven, strict=True):
            f = FALSE if a is None else one.outputs[a]
            g = FALSE if b is None else other.outputs[b]
            if not self._agree(care, f, g):
                raise _Unshown

    def _part(self, care: int, after: Sequence[Cases]) -> bool:
        """Whether parts are no longer alike, which are parted then."""

        def same(one: int, other: int) -> bool:
            f, g = after[one], after[other]
            return f is g or all(self._agree(care, f.get(v, FALSE), g.get(v, FALSE)) for v in {**f, **g})

        return self._parted(self.proof.alike, same, self.proof.goes_with)

    def _part_timers(self, care: int, one: Settled, other: Settled) -> bool:
        """Whether timers no longer begin and end together."""
        timers = len(self.proof.pair.sides[0].timers)
        started = {**one.started, **{timer + timers: when for timer, when in other.started.items()}}
        after = (*one.parts, *other.parts)

        def same(first: int, twin: int) -> bool:
            begin = self._agree(care, started.get(first, FALSE), started.get(twin, FALSE))
            return begin and self._agree(care, self._running(first, after), self._running(twin, after))

        return self._parted(self.proof.twins, same, lambda first, other: None)

    def _stir(self, care: int, after: Sequence[Cases], inputs: Sequence[Cases]) -> bool:
        """Whether one of the two is found not to be at rest, of which that was thought."""
        more = False
        for number in (0, 1):
            if self.proof.resting[number]:
                rests = self._at_rest(number, after, inputs, care)
                self.proof.resting[number] = self.diagrams.both(care, rests ^ 1) == FALSE
                more = more or not self.proof.resting[number]
        return more

    def _at_rest(self, number: int, parts: Sequence[Cases], inputs: Sequence[Cases], care: int) -> int:
        side, picked = self.proof.pair.sides[number], self.proof.pair.picked[number]
        first = number * self.split
        reader = Reader(self.diagrams, side.tables, care)
        return side.at_rest(reader, parts[first : first + side.parts], [inputs[k] for k in picked])

    def _parted(
        self, classes: list[list[int]], same: Callable[[int, int], bool], told: Callable[[int, int], None]
    ) -> bool:
        more = False
        for members in tuple(classes):
            remaining, *groups = parted(members, same)
            for group in groups:
                told(remaining[0], group[0])
                more = True
            members[:] = remaining
            classes += groups
        return more

    def _agree(self, care: int, f: int, g: int) -> bool:
        both = self.diagrams.both
        return f == g or (both(both(care, f), g ^ 1) == FALSE and both(both(care, f ^ 1), g) == FALSE)

    def _learn(self, care: int, after: Sequence[Cases]) -> bool:
        """Take in what was not thought possible."""
        more = False
        for parts, known in zip(self.proof.sets, self.proof.known, strict=True):
            for combination in self._combinations([after[p] for p in parts], care):
                if combination not in known:
                    known.add(combination)
                    more = True
        return more

    def _combinations(self, parts: Sequence[Cases], care: int) -> Iterator[tuple[int, ...]]:
        """The combinations of values that these take where it matters."""
        if not parts:
            yield ()
            return
        for value, f in parts[0].items():
            there = self.diagrams.both(care, f)
            if there != FALSE:
                assert isinstance(value, int)
                for rest in self._combinations(parts[1:], there):
                    yield (value, *rest)
