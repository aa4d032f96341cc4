"""The bench: a plant, one driving logic and perhaps a shadowing one, brought from instant to instant.

All that is due at one instant happens jointly: the plant moves on, the outside events are applied, every logic is
told which of its timers expire now, all react to the same inputs, and the plant then obeys the driving logic.
Since timers and switches take more than no time, the next instant is always a later one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from copy import copy

from compiler.chart_logic import ChartLogic
from compiler.logic import Bits, Chattering, Logic, Reaction
from compiler.machine import Machine
from compiler.simulation.joint import Wired, react_together
from compiler.simulation.plant import Plant
from compiler.simulation.run import Event, EventKind, Pace, StrokeTimes, Swiftness, stroke_times

__all__ = ["Bench", "wire"]


def wire(machine: Machine, logic: Logic) -> Wired:
    """A logic wired to the devices of a machine. Raises KeyError for an input the machine does not have."""
    return Wired(logic, [i.name for i in machine.inputs], [load.name for load in machine.loads])


class Bench:
    """A machine under test. ``now_us`` is -1 until the first ``step``, which must be to 0."""

    def __init__(
        self,
        machine: Machine,
        wired: Sequence[Wired],
        strokes: Iterable[StrokeTimes] = (),
        paces: Sequence[Pace] = (),
    ) -> None:
        self.machine = machine
        self.wired = tuple(wired)
        times = tuple(strokes) or stroke_times(machine, Swiftness.USUAL, Swiftness.USUAL)
        self.plant = Plant(machine, times, paces)
        self.now_us = -1
        self.supply = True
        self.jammed: frozenset[str] = frozenset()
        self.stuck: dict[str, bool] = {}  # switches that do not work, and how they stand
        self.reactions: tuple[Reaction | None, ...] = (None,) * len(self.wired)
        self.outputs: tuple[Bits, ...] = tuple(w.outputs(None) for w in self.wired)
        self.chattering: dict[int, Chattering] = {}
        self.expired: tuple[frozenset[int], ...] = (frozenset(),) * len(self.wired)  # timers that ran out just now
        self._places = {device.name: k for k, device in enumerate(machine.inputs)}
        self._loads = tuple(load.name for load in machine.loads)
        self._inputs = [False] * len(self._places)
        self._clocks: tuple[dict[int, int], ...] = tuple({} for _ in self.wired)  # timer: when it expires
        self._see()

    @property
    def actuated(self) -> Bits:
        """Every input of the machine, in its order."""
        return tuple(self._inputs)

    def is_actuated(self, device: str) -> bool:
        """Whether an input is actuated. Raises KeyError for an unknown one."""
        return self._inputs[self._places[device]]

    def lit(self, which: int = 0) -> tuple[str, ...]:
        """What is on inside a logic: nothing while the supply is off."""
        reaction = self.reactions[which]
        return () if reaction is None else self.wired[which].logic.lit(reaction.state)

    def inside(self, which: int = 0) -> tuple[str, ...]:
        """What a run shows of a logic: what is on inside, and of a sequence how far its counters have got."""
        reaction, logic = self.reactions[which], self.wired[which].logic
        counted = logic.counted(reaction.state) if reaction is not None and isinstance(logic, ChartLogic) else ()
        return (*self.lit(which), *counted)

    def on(self, which: int = 0) -> tuple[str, ...]:
        """The loads a logic has on."""
        return tuple(name for name, bit in zip(self._loads, self.outputs[which], strict=True) if bit)

    def clocks(self, which: int = 0) -> dict[int, int]:
        """The timers of a logic whose clocks run, and when each runs out."""
        return dict(self._clocks[which])

    def due_us(self) -> int | None:
        """When something next happens by itself, or None if all is quiet until somebody does something."""
        dues = [due for clocks in self._clocks for due in clocks.values()]
        plant = self.plant.due_us()
        if plant is not None:
            dues.append(plant)
        return min(dues, default=None)

    def step(self, to_us: int, events: Iterable[Event] = ()) -> None:
        """Go to an instant, not past ``due_us``, and let everything that is due happen jointly. A logic that never
        settles is noted in ``chattering`` and keeps its last reaction."""
        self.now_us = to_us
        self.plant.advance(to_us)
        for event in events:
            self._apply(event)
        self._see()
        if not self.supply:
            self.reactions = (None,) * len(self.wired)
            self.expired = (frozenset(),) * len(self.wired)
            for clocks in self._clocks:
                clocks.clear()
        else:
            self._react()
        self.outputs = tuple(w.outputs(r) for w, r in zip(self.wired, self.reactions, strict=True))
        if self.outputs:
            self.plant.command(to_us, self.on(0))

    def copy(self) -> Bench:
        """An independent twin, to look ahead with."""
        twin = copy(self)
        twin.plant = self.plant.copy()
        twin.chattering = dict(self.chattering)
        twin.stuck = dict(self.stuck)
        twin._inputs = list(self._inputs)
        twin._clocks = tuple(dict(clocks) for clocks in self._clocks)
        return twin

    def _apply(self, event: Event) -> None:
        match event.kind:
            case EventKind.INPUT:
                self._inputs[self._places[event.device]] = event.on
            case EventKind.SUPPLY:
                self.supply = event.on
            case EventKind.JAM:
                self.plant.jam(self.now_us, event.device, event.on)
                self.jammed = self.jammed | {event.device} if event.on else self.jammed - {event.device}
            case EventKind.STUCK_MADE | EventKind.STUCK_OPEN if event.on:
                self.stuck[event.device] = event.kind is EventKind.STUCK_MADE
            case EventKind.STUCK_MADE | EventKind.STUCK_OPEN:
                self.stuck.pop(event.device, None)

    def _see(self) -> None:
        for name, made in self.plant.made().items():
            self._inputs[self._places[name]] = self.stuck.get(name, made)

    def _react(self) -> None:
        now, nothing = self.now_us, frozenset[int]()
        expired = [
            frozenset(k for k, due in clocks.items() if due <= now) if clocks else nothing for clocks in self._clocks
        ]
        self.expired = tuple(expired)
        answers = react_together(self.wired, self.reactions, self.actuated, expired)
        settled = list(self.reactions)
        for k, answer in enumerate(answers):
            if isinstance(answer, Chattering):
                self.chattering[k] = answer
                for timer in expired[k]:
                    del self._clocks[k][timer]
                continue
            settled[k] = answer
            clocks, presets = self._clocks[k], self.wired[k].presets
            for timer in [timer for timer in clocks if timer not in answer.running]:
                del clocks[timer]
            for timer in answer.running:
                # A clock that ran out and is said to run on can only have begun again.
                if timer in answer.started or timer in expired[k] or timer not in clocks:
                    clocks[timer] = now + presets[timer]
        self.reactions = tuple(settled)
