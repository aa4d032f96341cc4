"""Many runs of two logics side by side, tried at random with true times: what they meet is really reachable.

The runs are carried on together, a bit for each, by the same text that is proved. They only suggest what may hold of
all situations: nothing rests on them. What was missed is found later; what was met too seldom only costs time.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import KW_ONLY, dataclass, field

from compiler.proof.induction.diagrams import TooLarge
from compiler.proof.induction.examples import Example, examples
from compiler.proof.induction.pair import Pair
from compiler.proof.induction.patterns import Patterns, lanes_of
from compiler.proof.induction.reading import Cases, Reader
from compiler.proof.induction.written import RUNS, Settled

__all__ = ["Differ", "Trial", "Tried"]

_SEED = 1
_LANES = 1024
_MOST_WORK = 25_000
"""So many expressions are read for a reaction, all in all, or it is given up: long chains are better searched."""

_GROUPS = 4
_LAST = 2
_EVEN_OUT = 3
"""So many reactions before runs are evened out."""


@dataclass
class Tried:
    """What was met: a bit for every moment of every run. ``parts`` tells by value when each part had it, ``inputs``
    when each was actuated, ``running`` and ``started`` when each timer ran and began."""

    parts: list[dict[int, int]]
    inputs: list[int]
    running: list[int]
    started: list[int]
    moments: int = 0

    def twins(self, presets: Sequence[int]) -> list[list[int]]:
        """The timers in classes: the same preset, and never seen to begin or run apart."""
        classes: dict[tuple[int, int, int], list[int]] = {}
        for timer, what in enumerate(zip(presets, self.running, self.started, strict=True)):
            classes.setdefault(what, []).append(timer)
        return list(classes.values())

    def decided_by(self, sets: Sequence[Sequence[int]]) -> list[int]:
        """For each input the set of parts that it was seen to be bound to the most, by its number."""
        whole, found = (1 << self.moments) - 1, []
        for actuated in self.inputs:
            bound = [
                sum(
                    not f & there
                    for part in parts
                    for f in self.parts[part].values()
                    for there in (actuated, whole ^ actuated)
                )
                / sum(len(self.parts[part]) for part in parts)
                for parts in sets
            ]
            found.append(max(range(len(bound)), key=bound.__getitem__))
        return found


class Differ(Exception):
    """A run was met in which the outputs of the two differ."""


@dataclass
class Trial:
    """Runs of both. ``one_by_one``: inputs change one after another, and are parts as well, after those of the
    logics. ``go_on`` raises Differ as soon as the outputs do, Unsettled where one never settles, TooLarge where
    it takes too long."""

    pair: Pair
    _: KW_ONLY
    one_by_one: bool
    rng: random.Random = field(default_factory=lambda: random.Random(_SEED))

    def __post_init__(self) -> None:
        self.sides, self.picked, self.count = self.pair.sides, self.pair.picked, self.pair.inputs
        self.patterns = Patterns(_LANES)
        self.presets = [timer.preset_us for side in self.sides for timer in side.logic.timers]
        self.now = [0] * _LANES
        self.due = [[0] * _LANES for _ in self.presets]
        self.inputs = [self.rng.getrandbits(_LANES) for _ in range(self.count)]
        self.learnt: list[list[int]] = []
        self.examples: list[Example] = []
        self.work = 0
        self.running = [0] * len(self.presets)
        self.parts: list[Cases] = []

        parts = sum(side.parts for side in self.sides)
        self.values: list[set[int]] = [set() for _ in range(parts)]
        seen = [dict[int, int]() for _ in range(parts + self.count * self.one_by_one)]
        self.tried = Tried(seen, [0] * self.count, [0] * len(self.presets), [0] * len(self.presets))

    def go_on(self, reactions: int) -> Tried:
        """What was met after so many reactions more; power comes on first of all."""
        quiet, most = [0] * len(self.presets), self.work + reactions * _MOST_WORK
        if not self.tried.moments:
            self._take(self._reactions(None, quiet), quiet)
            self._note()
        for number in range(reactions):
            expired = self._expire() if self.presets and number % 3 == 2 else quiet
            if number % _EVEN_OUT == 0:
                self._learn()
            if expired is quiet and self.one_by_one:
                self._change_one(afresh=number % 3 == 0)
            elif expired is quiet:
                self._change_inputs()
            self._take(self._reactions(self.parts, expired), expired)
            self._note()
            if self.work > most:
                raise TooLarge
            if number % _EVEN_OUT == _EVEN_OUT - 1:
                self._even_out()
        return self.tried

    def _reactions(self, parts: list[Cases] | None, expired: Sequence[int]) -> tuple[Settled, Settled]:
        split = len(self.sides[0].timers)
        found = []
        first = 0
        for side, picked, over in zip(self.sides, self.picked, (expired[:split], expired[split:]), strict=True):
            reader = Reader(self.patterns, side.tables, self.patterns.true)
            inputs = [reader.cases(self.inputs[k]) for k in picked]
            if parts is None:
                found.append(side.power_up(reader, inputs))
            else:
                own = parts[first : first + side.parts]
                found.append(side.react(reader, own, inputs, [reader.cases(f) for f in over]))
            first += side.parts
            self.work += reader.work
        return found[0], found[1]

    def _take(self, settled: tuple[Settled, Settled], expired: Sequence[int]) -> None:
        """Where all runs stand now, and when their timers are due."""
        for a, b in zip(*self.pair.driven, strict=True):
            if (0 if a is None else settled[0].outputs[a]) != (0 if b is None else settled[1].outputs[b]):
                raise Differ
        split = len(self.sides[0].timers)
        self.parts = [*settled[0].parts, *settled[1].parts]
        timers = [*self.sides[0].timers, *(k + self.sides[0].parts for k in self.sides[1].timers)]
        begun = {**settled[0].started, **{timer + split: f for timer, f in settled[1].started.items()}}
        self.started = [0] * len(timers)
        for timer, part in enumerate(timers):
            self.running[timer] = self.patterns.any(self.parts[part].get(phase, 0) for phase in RUNS)
            # A clock that ran out and is said to run on can only have begun again.
            self.started[timer] = begun.get(timer, 0) | expired[timer] & self.running[timer]
            for lane in lanes_of(self.started[timer]):
                self.due[timer][lane] = self.now[lane] + self.presets[timer]

    def _note(self) -> None:
        tried = self.tried
        own = tried.parts[: len(self.parts)]
        for seen, known, part in zip(own, self.values, self.parts, strict=True):
            for value, f in part.items():
                assert isinstance(value, int)
                known |= {value} if f else set()
                seen[value] = seen.get(value, 0) | (f & self.patterns.true) << tried.moments
        for seen, f in zip(tried.parts[len(self.parts) :], self.inputs, strict=False):
            seen[True] = seen.get(True, 0) | f << tried.moments
            seen[False] = seen.get(False, 0) | self.patterns.no(f) << tried.moments
        for all_, now in (
            (tried.inputs, self.inputs),
            (tried.running, self.running),
            (tried.started, self.started),
        ):
            for k, f in enumerate(now):
                all_[k] |= f << tried.moments
        tried.moments += _LANES

    def _expire(self) -> list[int]:
        """Time goes on in every run until its next timers expire, if any run."""
        soonest: dict[int, int] = {}
        for timer, f in enumerate(self.running):
            for lane in lanes_of(f):
                soonest[lane] = min(self.due[timer][lane], soonest.get(lane, self.due[timer][lane]))
        for lane, time in soonest.items():
            self.now[lane] = time
        return [
            sum(1 << lane for lane in lanes_of(f) if self.due[timer][lane] == self.now[lane])
            for timer, f in enumerate(self.running)
        ]

    def _change_inputs(self) -> None:
        """In half the runs an input may change here and there. In the others the inputs become such that something
        moves if it can: so what waits for many inputs at once comes about as well."""
        bits = self.rng.getrandbits
        some = bits(_LANES)
        for k in range(self.count):
            self.inputs[k] ^= ~some & bits(_LANES) & bits(_LANES) & bits(_LANES)
        for lanes in self._groups(_GROUPS) if self.examples else ():
            for k, on in self.rng.choice(self.examples).items():
                self._set(k, lanes & some, on=on)

    def _change_one(self, *, afresh: bool) -> None:
        """An input changes: any, or one that is as it must not be for something to move. ``afresh``: in some runs
        power is lost, and is back when all inputs but one are as they must be."""
        some = self.rng.getrandbits(_LANES)
        lost = some & self.rng.getrandbits(_LANES) if afresh else 0
        for lanes in self._groups(_GROUPS):
            self.inputs[self.rng.randrange(self.count)] ^= lanes & ~some
            example = list(self.rng.choice(self.examples).items()) if self.examples else []
            if example:
                k, on = self.rng.choice(example)
                self._set(k, lanes & some & ~lost, on=on)
                for k, on in example:
                    self._set(k, lanes & lost, on=on)
                for others in self._groups(_LAST):
                    k, on = self.rng.choice(example)
                    self._set(k, lanes & lost & others, on=not on)
        if lost:
            self._power_up(lost)

    def _groups(self, count: int) -> Iterator[int]:
        """The lanes in groups at random, two to the power of so many."""
        halves = [self.rng.getrandbits(_LANES) for _ in range(count)]
        for number in range(1 << count):
            lanes = self.patterns.true
            for k, half in enumerate(halves):
                lanes &= half if number >> k & 1 else self.patterns.no(half)
            yield lanes

    def _set(self, k: int, lanes: int, *, on: bool) -> None:
        self.inputs[k] = self.inputs[k] | lanes if on else self.inputs[k] & ~lanes

    def _power_up(self, lanes: int) -> None:
        """Power comes on in some runs; all others stay as they are."""
        parts, running, started = self.parts, list(self.running), [0] * len(self.presets)
        due = [list(times) for times in self.due]
        self._take(self._reactions(None, started), started)
        kept = self.patterns.no(lanes)
        for part, (now, before) in enumerate(zip(self.parts, parts, strict=True)):
            merged = {value: f & kept for value, f in before.items()}
            for value, f in now.items():
                merged[value] = merged.get(value, 0) | f & lanes
            self.parts[part] = merged
        self.running = [f & kept | g & lanes for f, g in zip(running, self.running, strict=True)]
        for timer, times in enumerate(due):
            for lane in lanes_of(kept):
                self.due[timer][lane] = times[lane]

    def _learn(self) -> None:
        """Examples for what the parts are known to take by now, where that is more than before."""
        values = [sorted(part | {0, 1}) for part in self.values]
        if values == self.learnt:
            return
        self.learnt, self.examples, first = values, [], 0
        for side, picked in zip(self.sides, self.picked, strict=True):
            own = examples(side, values[first : first + side.parts], self.rng)
            self.examples += [{picked[k]: on for k, on in one.items()} for one in own]
            first += side.parts

    def _even_out(self) -> None:
        """Runs that stand where many do make room for copies of those that stand where few do."""
        texts = [_text(f) for part in self.parts for f in list(part.values())[1:]]
        if not texts:
            return
        standing: dict[tuple[str, ...], list[int]] = {}
        for lane, situation in enumerate(zip(*texts, strict=True)):
            standing.setdefault(situation, []).append(lane)
        # How many runs have what is the rarest of a situation: those in which that is few have more copies.
        often = [text.count("1") for text in texts]
        rarity = [
            sum(1 / max(n if on == "1" else _LANES - n, 1) for n, on in zip(often, situation, strict=True))
            for situation in standing
        ]
        groups = self.rng.choices(list(standing.values()), rarity, k=_LANES)
        chosen = [self.rng.choice(group) for group in groups]
        self.parts = [{value: _moved(f, chosen) for value, f in part.items()} for part in self.parts]
        self.inputs = [_moved(f, chosen) for f in self.inputs]
        self.running = [_moved(f, chosen) for f in self.running]
        self.now = [self.now[lane] for lane in chosen]
        self.due = [[due[lane] for lane in chosen] for due in self.due]


def _text(pattern: int) -> str:
    """A character for each lane, the first lane first."""
    return f"{pattern:0{_LANES}b}"[::-1]


def _moved(pattern: int, chosen: Sequence[int]) -> int:
    """The pattern with each lane that of a chosen one."""
    text = _text(pattern)
    return int("".join([text[lane] for lane in reversed(chosen)]), 2)
