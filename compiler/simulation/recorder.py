"""Write down what changes on a bench, instant by instant."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from compiler.machine import Machine
from compiler.simulation.bench import Bench
from compiler.simulation.joint import Wired
from compiler.simulation.run import Change, Clock, Event, Move, Role, Side

__all__ = ["Recorder"]

_SIDES = (Side.DRIVER, Side.SHADOW)


class Recorder:
    """Give ``look`` to a run; ``changes``, ``moves`` and ``clocks`` then hold what happened, in order."""

    def __init__(self, machine: Machine, wired: Sequence[Wired]) -> None:
        self.changes: list[Change] = []
        self.moves: list[Move] = []
        self._on: dict[tuple[Side, Role], tuple[str, ...]] = {}
        self._motion = {a.name: (0, False) for a in machine.actuators}
        self._wired = tuple(wired)
        self._running: tuple[dict[int, int], ...] = tuple({} for _ in wired)  # of each logic, timer: when it is due
        self._clocks: list[Clock] = []
        self._devices = tuple(i.name for i in machine.inputs)

    def look(self, bench: Bench, events: tuple[Event, ...]) -> None:
        """Note everything that is not as it was at the last look."""
        inputs = (name for name, bit in zip(self._devices, bench.actuated, strict=True) if bit)
        self._compare(bench.now_us, Side.WORLD, Role.SUPPLY, ("supply",) if bench.supply else ())
        self._compare(bench.now_us, Side.WORLD, Role.JAM, sorted(bench.jammed))
        self._compare(bench.now_us, Side.WORLD, Role.STUCK, sorted(bench.stuck))
        self._compare(bench.now_us, Side.WORLD, Role.INPUT, inputs)
        for which, side in enumerate(_SIDES[: len(bench.wired)]):
            self._compare(bench.now_us, side, Role.INSIDE, bench.inside(which))
            self._compare(bench.now_us, side, Role.OUTPUT, bench.on(which))
            self._time(bench, which)
        self._move(bench)

    def clocks(self, ended_us: int) -> tuple[Clock, ...]:
        """Every timer that ran, those that still ran at the end included."""
        going = [
            self._clock(which, timer, due, ended_us, ran_out=False)
            for which, running in enumerate(self._running)
            for timer, due in running.items()
        ]
        return tuple(sorted([*self._clocks, *going], key=lambda c: (c.from_us, c.side, c.timer)))

    def _time(self, bench: Bench, which: int) -> None:
        running, now = self._running[which], bench.clocks(which)
        for timer, due in list(running.items()):
            if now.get(timer) != due:
                ran_out = timer in bench.expired[which]
                self._clocks.append(self._clock(which, timer, due, bench.now_us, ran_out=ran_out))
                del running[timer]
        running.update(now)

    def _clock(self, which: int, timer: int, due_us: int, to_us: int, *, ran_out: bool) -> Clock:
        told = self._wired[which].logic.timers[timer]
        from_us = due_us - told.preset_us
        return Clock(
            side=_SIDES[which],
            timer=told.name,
            preset_us=told.preset_us,
            from_us=from_us,
            to_us=to_us,
            ran_out=ran_out,
        )

    def _compare(self, at_us: int, side: Side, role: Role, on: Iterable[str]) -> None:
        now = tuple(on)
        was = self._on.get((side, role), ())
        if now == was:
            return
        for name in was:
            if name not in now:
                self.changes.append(Change(at_us=at_us, side=side, role=role, signal=name, on=False))
        for name in now:
            if name not in was:
                self.changes.append(Change(at_us=at_us, side=side, role=role, signal=name, on=True))
        self._on[side, role] = now

    def _move(self, bench: Bench) -> None:
        rapid = bench.plant.rapid(bench.now_us)
        for name, (position_um, way) in bench.plant.motion(bench.now_us).items():
            now = (way, name in rapid)
            if now != self._motion[name] or (bench.now_us == 0 and position_um):
                self.moves.append(Move(at_us=bench.now_us, actuator=name, position_um=position_um, way=way))
            self._motion[name] = now
