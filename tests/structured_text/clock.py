"""A clock for one Logic in tests: tell it when inputs change, and it tells when outputs do."""

from __future__ import annotations

from compiler.logic import Bits, Logic, Reaction

__all__ = ["Clocked", "intervals", "logic_of"]


class Clocked:
    """A Logic with its running timers. Times are integers in microseconds."""

    def __init__(self, logic: Logic, inputs: Bits) -> None:
        self.logic, self.inputs, self.now = logic, inputs, 0
        self.due: dict[int, int] = {}
        self.trace: list[tuple[int, Bits]] = []
        self._take(logic.power_up(inputs))

    def advance(self, until: int, inputs: Bits) -> None:
        """Let time pass; inputs change at the end, together with any timer that expires just then."""
        while self.due and min(self.due.values()) < until:
            self.now = min(self.due.values())
            self._react(self.inputs)
        self.now, self.inputs = until, inputs
        self._react(inputs)

    def _react(self, inputs: Bits) -> None:
        expired = frozenset(timer for timer, due in self.due.items() if due == self.now)
        self._take(self.logic.react(self.state, inputs, expired))

    def _take(self, reaction: Reaction) -> None:
        self.state = reaction.state
        self.due = {
            timer: self.now + self.logic.timers[timer].preset_us if timer in reaction.started else self.due[timer]
            for timer in reaction.running
        }
        self.outputs = reaction.outputs
        self.trace.append((self.now, reaction.outputs))


def intervals(logic: Logic, changes: dict[int, Bits], end: int) -> list[tuple[int, int]]:
    """When the first output is on, closed on the left and open on the right; all inputs are off before."""
    clocked = Clocked(logic, (False,) * len(logic.inputs))
    for time, inputs in sorted(changes.items()):
        clocked.advance(time, inputs)
    clocked.advance(end, clocked.inputs)
    found: list[tuple[int, int]] = []
    on_since: int | None = None
    for time, outputs in clocked.trace:
        if outputs[0] and on_since is None:
            on_since = time
        elif not outputs[0] and on_since is not None:
            if time > on_since:
                found.append((on_since, time))
            on_since = None
    return found if on_since is None else [*found, (on_since, end)]


def logic_of(text: str, inputs: tuple[str, ...], outputs: tuple[str, ...]) -> Logic:
    """The Logic of a program on a machine with those devices, all wired normally open."""
    from compiler.machine import Input, InputKind, Load, LoadKind, Machine
    from targets.structured_text import TARGET

    machine = Machine(
        inputs=tuple(Input(name=name, kind=InputKind.SENSOR) for name in inputs),
        loads=tuple(Load(name=name, kind=LoadKind.LAMP) for name in outputs),
    )
    return TARGET.read(text, "test.st", machine)
