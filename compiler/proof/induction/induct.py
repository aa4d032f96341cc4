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

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.induction.diagrams import FALSE, TRUE, Diagrams, TooLarge
from compiler.proof.induction.faithful import faithful
from compiler.proof.induction.pair import Pair
from compiler.proof.induction.reading import Cases, NotUnderstood, Reader
from compiler.proof.induction.together import combinations_of, together
from compiler.proof.induction.trying import Differ, Trial, Tried
from compiler.proof.induction.written import RUNS, Settled, Unsettled

__all__ = ["Shown", "always_same"]

_CHECKED = 40
_EFFORTS = ((20, False), (108, False), (0, True))
"""How many reactions more are tried, and whether every two parts that belong together are to be in one set."""

_MOST_NODES = 120_000
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
    """``sets`` of parts that belong together, and for each the combinations that are ``known``."""

    pair: Pair
    sets: list[tuple[int, ...]]
    known: list[set[tuple[int, ...]]]
    twins: list[list[int]]
    inputs_by_set: list[int]
    one_by_one: bool

    @classmethod
    def of(cls, pair: Pair, tried: Tried, *, every_two: bool, one_by_one: bool) -> _Proof:
        sets = together(tried.parts, every_two=every_two)
        presets = [timer.preset_us for side in pair.sides for timer in side.logic.timers]
        known = [set(combinations_of(parts, tried.parts)) for parts in sets]
        return cls(pair, sets, known, tried.twins(presets), tried.decided_by(sets), one_by_one)

    def run(self) -> Shown:
        for _ in range(_MOST_PASSES):
            if not _Pass(self).finds_more():
                return Shown(len(self.sets), sum(map(len, self.known)))
            if sum(map(len, self.known)) > _MOST_COMBINATIONS:
                break
        raise _Unshown


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
        self.inputs: list[Cases] = self.free
        self.expired: list[Cases] = [{} for _ in self.timers]
        self._make_variables()

    def finds_more(self) -> bool:
        """Whether a reaction leads to what was not thought possible, which then is. Raises _Unshown where the outputs
        differ, or timers part that were thought to run together."""
        more = False
        for care, inputs, settled in (
            (TRUE, self.free, self._power_up()),
            (self.care, self.inputs, self._react()),
        ):
            self._compare(care, *settled)
            after = (*settled[0].parts, *settled[1].parts, *(inputs if self.proof.one_by_one else ()))
            more = self._learn(care, after) or more
        return more

    # --- variables ------------------------------------------------------------------------------------------

    def _make_variables(self) -> None:
        """For each set of parts a number says which combination it takes, so that there is nothing impossible to be
        looked at; where sets share parts, which of those that go with what the earlier sets say. An input stands
        before the first set that it decides about."""
        proof = self.proof
        codes = proof.pair.inputs + 1 if proof.one_by_one else 1
        bits = [self.diagrams.variable() for _ in range((codes - 1).bit_length())]
        order = sorted(range(len(proof.sets)), key=lambda number: -len(proof.sets[number]))
        for number in order:
            for k in range(proof.pair.inputs):
                if proof.inputs_by_set[k] == number:
                    self.free[k] = self._bit()
            self._make_parts(proof.sets[number], proof.known[number])
        if proof.one_by_one:
            old = [one.get(True, FALSE) for one in self.parts[self.first_input :]]
            changes = [self._numbered(bits, k, codes) for k in range(len(old))]
            new = [self.diagrams.choose(change, f ^ 1, f) for change, f in zip(changes, old, strict=True)]
            self.inputs = [{True: f, False: f ^ 1} for f in new]
        for classes in proof.twins:
            over = self.diagrams.both(self.diagrams.variable(), self._numbered(bits, codes - 1, codes))
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

    def _react(self) -> tuple[Settled, Settled]:
        pair, found, part, timer = self.proof.pair, [], 0, 0
        for side, picked in zip(pair.sides, pair.picked, strict=True):
            reader = Reader(self.diagrams, side.tables, self.care)
            parts = self.parts[part : part + side.parts]
            expired = self.expired[timer : timer + len(side.timers)]
            found.append(side.react(reader, parts, [self.inputs[k] for k in picked], expired))
            part, timer = part + side.parts, timer + len(side.timers)
        return found[0], found[1]

    def _compare(self, care: int, one: Settled, other: Settled) -> None:
        """The outputs, and what timers do that are thought to run together."""
        for a, b in zip(*self.proof.pair.driven, strict=True):
            f = FALSE if a is None else one.outputs[a]
            g = FALSE if b is None else other.outputs[b]
            if not self._agree(care, f, g):
                raise _Unshown
        timers = len(self.proof.pair.sides[0].timers)
        started = {**one.started, **{timer + timers: when for timer, when in other.started.items()}}
        after = (*one.parts, *other.parts)
        for first, *others in self.proof.twins:
            for twin in others:
                if not self._agree(care, started.get(first, FALSE), started.get(twin, FALSE)) or not self._agree(
                    care, self._running(first, after), self._running(twin, after)
                ):
                    raise _Unshown

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
