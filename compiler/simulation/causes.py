"""What brought each change of a run about: seen by running it again and trying.

A change inside a logic, or of its outputs, comes at the instant of an input that changed or a timer that ran out.
Where several did at one instant, each is held back in turn: what then does not come was its doing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from compiler.logic import Logic, Reaction
from compiler.machine import Machine
from compiler.simulation.bench import Bench, wire
from compiler.simulation.joint import Wired
from compiler.simulation.run import Clock, Event, Role, Run, Side
from compiler.simulation.simulate import follow

__all__ = ["Cause", "Causes", "causes"]

_SIDES = (Side.DRIVER, Side.SHADOW)
_Lit = tuple[Role, str, bool]  # as in a Cause: role, signal, clock


@dataclass(frozen=True, slots=True)
class Cause:
    """At this moment ``signal`` changed in a logic because of ``of``: an input, a timer that ran out (``timer``), or
    a coil of the logic that changed (``coil``). ``clock``: the signal is a timer, which began to run."""

    at_us: int
    side: Side
    of: str
    timer: bool
    role: Role
    signal: str
    clock: bool = False
    coil: bool = False


@dataclass(frozen=True, slots=True)
class Causes:
    """What a run knows when it is asked why; ``contacts``: causes in the driver were followed contact by contact."""

    clocks: tuple[Clock, ...]
    causes: tuple[Cause, ...]
    contacts: bool = False


def causes(run: Run, machine: Machine, driver: Logic, *, shadow: Logic | None = None) -> Causes:
    """Why what happened in a run happened. The logics are those it was made with. Raises KeyError as ``simulate``."""
    wired = [wire(machine, logic) for logic in (driver, shadow) if logic is not None]
    watching = [_Watching(one, side, machine) for one, side in zip(wired, _SIDES, strict=False)]

    def look(bench: Bench, _: tuple[Event, ...]) -> None:
        for which, one in enumerate(watching):
            if bench.now_us <= run.ended_us:
                one.look(bench.now_us, bench.actuated, bench.reactions[which])

    after_us = 0 if run.difference is None else run.ended_us - run.difference.at_us
    follow(machine, wired, run.scenario, watch=look, after_us=after_us)
    found = [cause for one in watching for cause in one.causes]
    return Causes(run.clocks, tuple(sorted(found, key=lambda c: c.at_us)))


class _Watching:
    """One logic looked at, instant by instant."""

    def __init__(self, wired: Wired, side: Side, machine: Machine) -> None:
        self._wired, self._side = wired, side
        self._inputs = [i.name for i in machine.inputs]
        self._loads = [load.name for load in machine.loads]
        self._actuated: tuple[bool, ...] = ()
        self._before: Reaction | None = None
        self._running: dict[int, int] = {}  # timer: since when
        self.causes: list[Cause] = []

    def look(self, now_us: int, actuated: tuple[bool, ...], after: Reaction | None) -> None:
        expired = frozenset(k for k, since in self._running.items() if since + self._wired.presets[k] <= now_us)
        if self._before is not None and after is not None:
            self._explain(now_us, actuated, expired, after)
        for timer in list(self._running):
            anew = after is not None and timer in after.started
            if after is None or timer not in after.running or anew or timer in expired:
                del self._running[timer]
        for timer in () if after is None else sorted(after.running):
            self._running.setdefault(timer, now_us)
        self._actuated, self._before = actuated, after

    def _explain(self, now_us: int, actuated: tuple[bool, ...], expired: frozenset[int], after: Reaction) -> None:
        now = self._lit(after)
        # A timer that stops is not told: what stopped it shows in what it was for.
        effects = {lit for lit in now ^ self._lit(self._before) if lit in now or not lit[2]}
        changed = [k for k, (a, b) in enumerate(zip(self._actuated, actuated, strict=True)) if a is not b]
        ways = len(changed) + len(expired)
        due: list[tuple[str, bool, set[_Lit]]] = []
        for k in changed:
            held = tuple(on if n != k else not on for n, on in enumerate(actuated))
            due.append((self._inputs[k], False, effects if ways == 1 else self._missed(held, expired, now)))
        for k in sorted(expired):
            name = self._wired.logic.timers[k].name
            due.append((name, True, effects if ways == 1 else self._missed(actuated, expired - {k}, now)))
        for effect in sorted(effects):
            # What each of them would have brought about by itself is the doing of all.
            named = [(of, timer) for of, timer, missed in due if effect in missed]
            for of, timer in named or [(of, timer) for of, timer, _ in due]:
                self.causes.append(Cause(now_us, self._side, of, timer, *effect))

    def _missed(self, actuated: Sequence[bool], expired: frozenset[int], now: set[_Lit]) -> set[_Lit]:
        """What is otherwise than it is now when something is held back."""
        answer = self._wired.answer(self._before, tuple(actuated), expired)
        return now ^ self._lit(answer) if isinstance(answer, Reaction) else set(now)

    def _lit(self, reaction: Reaction | None) -> set[_Lit]:
        if reaction is None:
            return set()
        outputs = zip(self._loads, self._wired.outputs(reaction), strict=True)
        on: set[_Lit] = {(Role.OUTPUT, name, False) for name, bit in outputs if bit}
        on |= {(Role.INSIDE, name, False) for name in self._wired.logic.lit(reaction.state)}
        return on | {(Role.INSIDE, self._wired.logic.timers[k].name, True) for k in reaction.running}
