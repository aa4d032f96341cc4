"""Every reaction of two logics from all situations that are thought possible: what it comes to, and whether that was
thought possible as well."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from compiler.proof.induction.alike import parted
from compiler.proof.induction.diagrams import FALSE, TRUE, Diagrams
from compiler.proof.induction.possible import Possible
from compiler.proof.induction.reading import Cases, Reader
from compiler.proof.induction.written import RUNS, Settled

__all__ = ["OutputsDiffer", "Pass"]


class OutputsDiffer(Exception):
    """In a situation that is thought possible the outputs of the two differ."""


class Pass:
    """Every reaction from all situations that are thought possible now."""

    def __init__(self, possible: Possible, most_nodes: int) -> None:
        self.possible = possible
        self.diagrams = Diagrams(most_nodes)
        self.care = TRUE
        self.split = possible.pair.sides[0].parts
        self.timers = [*possible.pair.sides[0].timers, *(k + self.split for k in possible.pair.sides[1].timers)]
        self.first_input = sum(side.parts for side in possible.pair.sides)
        inputs = possible.pair.inputs if possible.one_by_one else 0
        self.parts: list[Cases] = [{} for _ in range(self.first_input + inputs)]
        self.free: list[Cases] = [{} for _ in range(possible.pair.inputs)]  # as they are when power comes on
        self.expired: list[Cases] = [{} for _ in self.timers]
        self._make_variables()
        together = possible.pair.together if possible.one_by_one else ()
        self.reached = {k: self.diagrams.variable() for several in together for k in several}
        for number in (0, 1):
            if possible.resting[number]:
                rests = self._at_rest(number, self.parts, self.parts[self.first_input :], TRUE)
                self.care = self.diagrams.both(self.care, rests)

    def finds_more(self) -> bool:
        """Whether a reaction leads to what was not thought possible, which then is. Raises OutputsDiffer where the
        outputs differ."""
        more = False
        for care, inputs, settled in self.reactions():
            self._compare(care, *settled)
            after = (*settled[0].parts, *settled[1].parts, *(inputs if self.possible.one_by_one else ()))
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
        possible = self.possible
        order = sorted(range(len(possible.sets)), key=lambda number: -len(possible.sets[number]))
        for number in order:
            for k in range(possible.pair.inputs):
                if possible.inputs_by_set[k] == number:
                    self.free[k] = self._bit()
                    if possible.one_by_one and not self.parts[self.first_input + k]:
                        self.parts[self.first_input + k] = self.free[k]
            self._make_parts(possible.sets[number], possible.known[number])
        for first, *others in possible.alike:
            for other in others:
                self.parts[other] = self.parts[first]
        for classes in possible.twins:
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
            for side, picked in zip(self.possible.pair.sides, self.possible.pair.picked, strict=True)
        )
        return one, other

    def reactions(self) -> Iterator[tuple[int, list[Cases], tuple[Settled, Settled]]]:
        """Every reaction: where it matters, the inputs, and what it comes to. Power comes on; then inputs are
        anything and timers expire, or one input changes, each by itself, or some that a rod reaches together come on,
        or timers expire."""
        yield TRUE, self.free, self._power_up()
        if not self.possible.one_by_one:
            yield self.care, self.free, self._react(self.free, self.expired)
            return
        before = self.parts[self.first_input :]
        quiet: list[Cases] = [{False: TRUE} for _ in self.timers]
        for k, was in enumerate(before):
            f = was.get(True, FALSE)
            now: Cases = {True: f ^ 1, False: f}
            inputs = [*before[:k], now, *before[k + 1 :]]
            yield self.care, inputs, self._react(inputs, quiet)
        for several in self.possible.pair.together:
            inputs = [*before]
            for k in several:
                f = self.diagrams.either(before[k].get(True, FALSE), self.reached[k])
                inputs[k] = {True: f, False: f ^ 1}
            yield self.care, inputs, self._react(inputs, quiet)
        yield self.care, before, self._react(before, self.expired)

    def _react(self, inputs: Sequence[Cases], all_expired: Sequence[Cases]) -> tuple[Settled, Settled]:
        pair, found, part, timer = self.possible.pair, [], 0, 0
        for side, picked in zip(pair.sides, pair.picked, strict=True):
            reader = Reader(self.diagrams, side.tables, self.care)
            parts = self.parts[part : part + side.parts]
            expired = all_expired[timer : timer + len(side.timers)]
            found.append(side.react(reader, parts, [inputs[k] for k in picked], expired))
            part, timer = part + side.parts, timer + len(side.timers)
        return found[0], found[1]

    def _compare(self, care: int, one: Settled, other: Settled) -> None:
        """The outputs."""
        for a, b in zip(*self.possible.pair.driven, strict=True):
            f = FALSE if a is None else one.outputs[a]
            g = FALSE if b is None else other.outputs[b]
            if not self._agree(care, f, g):
                raise OutputsDiffer

    def _part(self, care: int, after: Sequence[Cases]) -> bool:
        """Whether parts are no longer alike, which are parted then."""

        def same(one: int, other: int) -> bool:
            f, g = after[one], after[other]
            return f is g or all(self._agree(care, f.get(v, FALSE), g.get(v, FALSE)) for v in {**f, **g})

        return self._parted(self.possible.alike, same, self.possible.goes_with)

    def _part_timers(self, care: int, one: Settled, other: Settled) -> bool:
        """Whether timers no longer begin and end together."""
        timers = len(self.possible.pair.sides[0].timers)
        started = {**one.started, **{timer + timers: when for timer, when in other.started.items()}}
        after = (*one.parts, *other.parts)

        def same(first: int, twin: int) -> bool:
            begin = self._agree(care, started.get(first, FALSE), started.get(twin, FALSE))
            return begin and self._agree(care, self._running(first, after), self._running(twin, after))

        return self._parted(self.possible.twins, same, lambda first, other: None)

    def _stir(self, care: int, after: Sequence[Cases], inputs: Sequence[Cases]) -> bool:
        """Whether one of the two is found not to be at rest, of which that was thought."""
        more = False
        for number in (0, 1):
            if self.possible.resting[number]:
                rests = self._at_rest(number, after, inputs, care)
                self.possible.resting[number] = self.diagrams.both(care, rests ^ 1) == FALSE
                more = more or not self.possible.resting[number]
        return more

    def _at_rest(self, number: int, parts: Sequence[Cases], inputs: Sequence[Cases], care: int) -> int:
        side, picked = self.possible.pair.sides[number], self.possible.pair.picked[number]
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
        for parts, known in zip(self.possible.sets, self.possible.known, strict=True):
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
