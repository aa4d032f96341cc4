"""Bounded model checking of the same closed loop by z3: does any run of so many events end in a difference?

Time is dense (real numbers). It covers a free operator, or one that never holds START and STOP together; no jam, no
lost supply, no pressure switches, and charts with steps, continuous actions, forcing and times in a step: all else
raises NotImplementedError. A logic that has not settled after ``rounds`` looks counts as a difference, so nothing
is missed by looking too few times.

A. Biere, A. Cimatti, E. Clarke, Y. Zhu, "Symbolic model checking without BDDs", TACAS 1999 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

import z3  # type: ignore[import-untyped]  # it comes without types

from compiler.machine import Actuator, Machine
from tests.proof.formulas import Bit, Bits, Logical, Look
from tests.proof.travel import Place, Rod, at_rest, commanded, next_place, passed, sent

__all__ = ["Mode", "Unrolled", "counterexample_depth"]


class Mode(StrEnum):
    """Ask once for all depths together, or depth by depth, keeping what was learnt."""

    ONE_SHOT = "one shot"
    INCREMENTAL = "incremental"


class Situations:
    """Every situation of one rod, numbered, as tables."""

    def __init__(self, actuator: Actuator, *, exact: bool) -> None:
        self.actuator = actuator
        self.all = [at_rest(actuator)]
        ways = _subsets(actuator.valve.solenoids)
        self.next: list[Place | None] = []
        for rod in self.all:  # grows as it goes
            place = next_place(actuator, rod, exact=exact)
            self.next.append(place)
            turned = [sent(actuator, rod, *commanded(actuator.valve, rod.way, on)) for on in ways]
            for after in [*turned, *([passed(rod, place)] if place else [])]:
                if after not in self.all:
                    self.all.append(after)
        self.bits = max(1, (len(self.all) - 1).bit_length())

    def number(self, rod: Rod) -> int:
        return self.all.index(rod)

    def table(self, at: Any, values: Sequence[Any]) -> Any:
        found = values[-1]
        for k in range(len(self.all) - 1):
            found = z3.If(at == k, values[k], found)
        return found


@dataclass
class Frame:
    """The variables of one situation: the time, free inputs, states, when timers and rods last started."""

    now: Any
    inputs: Bits
    rods: list[Any]
    states: list[Bits]
    since: list[dict[str, Any]]
    rod_since: list[Any]
    differs: Bit = None
    told: list[Bit] = field(default_factory=list)


class Unrolled:
    """The loop unrolled event by event; ``frames[k]`` is the situation after k events."""

    def __init__(
        self,
        driver: Logical,
        shadow: Logical,
        machine: Machine,
        *,
        apart: bool = False,
        exact: bool = False,
        rounds: int = 8,
    ) -> None:
        if any(a.pressure_switches for a in machine.actuators):
            raise NotImplementedError("pressure switches")
        self.logics, self.machine, self.apart, self.rounds = (driver, shadow), machine, apart, rounds
        self.rods = [Situations(actuator, exact=exact) for actuator in machine.actuators]
        owned = {s.name for a in machine.actuators for s in a.limit_switches}
        self.free = [i.name for i in machine.inputs if i.name not in owned]
        self.frames = [self._first()]

    def _variables(self, k: int) -> Frame:
        states = [{n: z3.Bool(f"s{side}_{n}_{k}") for n in logic.names} for side, logic in enumerate(self.logics)]
        since = [{t: z3.Real(f"t{side}_{t}_{k}") for t in logic.presets} for side, logic in enumerate(self.logics)]
        rods = [z3.BitVec(f"rod{r}_{k}", s.bits) for r, s in enumerate(self.rods)]
        free = {name: z3.Bool(f"{name}_{k}") for name in self.free}
        rod_since = [z3.Real(f"tr{r}_{k}") for r in range(len(self.rods))]
        return Frame(z3.Real(f"now_{k}"), free, rods, states, since, rod_since)

    def _seen(self, free: Bits, rods: Sequence[Any]) -> Bits:
        seen = dict(free)
        for at, situations in zip(rods, self.rods, strict=True):
            for k, switch in enumerate(situations.actuator.limit_switches):
                seen[switch.name] = situations.table(at, [z3.BoolVal(rod.made[k]) for rod in situations.all])
        return seen

    def _first(self) -> Frame:
        frame = self._variables(0)
        frame.told = [frame.now == 0, *(z3.Not(bit) for bit in frame.inputs.values())]
        rods = [z3.BitVecVal(0, s.bits) for s in self.rods]
        seen = self._seen(frame.inputs, rods)
        look = Look(seen, {name: z3.BoolVal(False) for name in seen}, {})
        firsts = [logic.first() for logic in self.logics]
        everything = [dict.fromkeys(logic.presets, z3.BoolVal(True)) for logic in self.logics]
        self._react(frame, firsts, [look, look], everything, [frame.since[0], frame.since[1]])
        self._command(frame, rods, [frame.now for _ in rods])
        return frame

    def extend(self) -> Frame:
        """One more event."""
        before, after = self.frames[-1], self._variables(len(self.frames))
        told = [after.now >= before.now, self._in_time(before, after.now, strict=False)]
        event = z3.BitVec(f"event_{len(self.frames)}", 6)
        choices = []
        for k, name in enumerate(self.free):
            others = [after.inputs[n] == before.inputs[n] for n in self.free if n != name]
            choices.append((event == k, [after.inputs[name] != before.inputs[name], *others]))
        same = [after.inputs[n] == before.inputs[n] for n in self.free]
        rods = list(before.rods)
        for k, situations in enumerate(self.rods):
            mine = event == len(choices)
            ready = situations.table(
                before.rods[k], [self._ready(p, after.now - before.rod_since[k]) for p in situations.next]
            )
            there = [
                situations.number(passed(rod, place) if place else rod)
                for rod, place in zip(situations.all, situations.next, strict=True)
            ]
            moved = situations.table(before.rods[k], [z3.BitVecVal(n, situations.bits) for n in there])
            rods[k] = z3.If(mine, moved, before.rods[k])
            choices.append((mine, [ready, *same]))
        timed = event == len(choices)
        due = [
            {
                t: z3.And(
                    timed, logic.running(before.states[s], t), after.now - before.since[s][t] == logic.presets[t]
                )
                for t in logic.presets
            }
            for s, logic in enumerate(self.logics)
        ]
        choices.append((timed, [z3.Or([bit for side in due for bit in side.values()]), *same]))
        told.append(z3.Or([z3.And(chosen, *needs) for chosen, needs in choices]))
        was, seen = self._seen(before.inputs, before.rods), self._seen(after.inputs, rods)
        rises = {name: z3.And(seen[name], z3.Not(was[name])) for name in seen}
        after.told = told
        looks = [Look(seen, rises, expired) for expired in due]
        nothing: list[Bits] = [{}, {}]
        self._react(after, before.states, looks, nothing, before.since)
        self._command(after, rods, before.rod_since)
        if self.apart and self.machine.start and self.machine.stop:
            after.told.append(z3.Not(z3.And(after.inputs[self.machine.start], after.inputs[self.machine.stop])))
        self.frames.append(after)
        return after

    def _ready(self, place: Place | None, gone: Any) -> Bit:
        return z3.BoolVal(False) if place is None else z3.And(gone > 0, gone >= place.earliest)

    def _in_time(self, frame: Frame, now: Any, *, strict: bool) -> Bit:
        """Nothing is overdue at a moment; ``strict``: nor due."""
        told = []
        for s, logic in enumerate(self.logics):
            for timer, preset in logic.presets.items():
                gone = now - frame.since[s][timer]
                told.append(
                    z3.Implies(logic.running(frame.states[s], timer), gone < preset if strict else gone <= preset)
                )
        for k, situations in enumerate(self.rods):
            gone = now - frame.rod_since[k]
            told.append(
                situations.table(
                    frame.rods[k],
                    [
                        z3.BoolVal(True) if p is None else gone < p.latest if strict else gone <= p.latest
                        for p in situations.next
                    ],
                )
            )
        return z3.And(told)

    def _react(
        self, frame: Frame, before: list[Bits], looks: list[Look], started: list[Bits], since: list[dict[str, Any]]
    ) -> None:
        """Both logics look until they settle, which the frame notes."""
        settled = []
        for s, logic in enumerate(self.logics):
            look, state, starts = looks[s], before[s], dict(started[s])
            calm = Look(look.inputs, {name: z3.BoolVal(False) for name in look.rises}, {})
            for k in range(self.rounds):
                following, begun = logic.look(state, look if k == 0 else calm)
                starts = {t: z3.Or(bit, starts.get(t, z3.BoolVal(False))) for t, bit in begun.items()}
                last, state = state, following
            frame.told += [frame.states[s][n] == state[n] for n in logic.names]
            settled.append(z3.And([state[n] == last[n] for n in logic.names]))
            for timer in logic.presets:
                stamp = z3.If(starts[timer], frame.now, since[s][timer])
                frame.told.append(frame.since[s][timer] == stamp)
        frame.differs = z3.Not(z3.And(settled))

    def _command(self, frame: Frame, rods: Sequence[Any], since: Sequence[Any]) -> None:
        """The valves obey the driver; and whether the outputs differ in this frame for longer than no time."""
        inputs = self._seen(frame.inputs, frame.rods)
        on = [logic.outputs(frame.states[s], inputs) for s, logic in enumerate(self.logics)]
        for k, situations in enumerate(self.rods):
            solenoids = situations.actuator.valve.solenoids
            values: list[Any] = []
            turns: list[Any] = []
            for rod in situations.all:
                value, turn = z3.BitVecVal(situations.number(rod), situations.bits), z3.BoolVal(False)
                for lit in _subsets(solenoids):
                    way, quick = commanded(situations.actuator.valve, rod.way, lit)
                    after = sent(situations.actuator, rod, way, quick)
                    if after is not rod:
                        given = z3.And([on[0][n] if n in lit else z3.Not(on[0][n]) for n in solenoids])
                        there = situations.number(after)
                        value, turn = z3.If(given, z3.BitVecVal(there, situations.bits), value), z3.Or(turn, given)
                values.append(value)
                turns.append(turn)
            frame.told.append(frame.rods[k] == situations.table(rods[k], values))
            frame.told.append(frame.rod_since[k] == z3.If(situations.table(rods[k], turns), frame.now, since[k]))
        apart = z3.Or([on[0][name] != on[1][name] for name in on[0]])
        frame.differs = z3.Or(frame.differs, z3.And(apart, self._in_time(frame, frame.now, strict=True)))


def _subsets(names: Sequence[str]) -> list[frozenset[str]]:
    found: list[frozenset[str]] = [frozenset()]
    for name in names:
        found += [subset | {name} for subset in found]
    return found


def counterexample_depth(unrolled: Unrolled, depth: int, mode: Mode) -> int | None:
    """A depth at which a difference was found, the least in incremental mode; None when there is none so far."""
    solver = z3.Solver()
    solver.add(unrolled.frames[0].told)
    if mode is Mode.INCREMENTAL and _meets(solver, unrolled.frames[0].differs):
        return 0
    for k in range(1, depth + 1):
        solver.add(unrolled.extend().told)
        if mode is Mode.INCREMENTAL and _meets(solver, unrolled.frames[k].differs):
            return k
    if mode is Mode.INCREMENTAL:
        return None
    if not _meets(solver, z3.Or([frame.differs for frame in unrolled.frames])):
        return None
    solver.add(z3.Or([frame.differs for frame in unrolled.frames]))
    solver.check()
    model = solver.model()
    return next(
        k for k, frame in enumerate(unrolled.frames) if z3.is_true(model.eval(frame.differs, model_completion=True))
    )


def _meets(solver: z3.Solver, goal: Bit) -> bool:
    solver.push()
    solver.add(goal)
    found = solver.check()
    solver.pop()
    assert found != z3.unknown
    return bool(found == z3.sat)
