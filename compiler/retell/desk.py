"""The desk: one machine and one logic, worked by somebody who may press, hold back and let go whatever he likes.

Every experiment is done on a copy, so that the same moment can be tried in many ways.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from typing import Self, cast

from compiler.logic import Logic, Reaction
from compiler.machine import InputKind, Machine
from compiler.simulation.bench import Bench, wire
from compiler.simulation.run import Event, EventKind

__all__ = ["GAP_US", "PRESS_US", "Change", "Desk", "Instant", "Restless", "at_rest"]

GAP_US = 1_000
"""Between one act of an experiment and the next."""

PRESS_US = 40_000
"""A brief press, shorter than anything a machine does meanwhile."""

_MOST_INSTANTS = 300

Change = tuple[str, bool]
"""An input, and whether it is now actuated."""


class Restless(Exception):
    """Something goes on and on by itself, or never settles."""


@dataclass(frozen=True, slots=True)
class Instant:
    """Something happened: ``acts`` are what was done, ``changed`` all inputs that changed, ``expired`` the timers
    that ran out. ``before`` and ``after`` are the desk on either side of it."""

    at_us: int
    acts: tuple[Event, ...]
    changed: tuple[Change, ...]
    expired: frozenset[int]
    before: Desk
    after: Desk


class Desk(Bench):
    """A bench with one logic. ``ignored`` are loads that are not looked at."""

    def __init__(self, machine: Machine, logic: Logic, ignored: frozenset[str] = frozenset()) -> None:
        super().__init__(machine, [wire(machine, logic)])
        self.ignored = ignored
        self.free = tuple(i.name for i in machine.inputs if i.kind not in _SWITCHES)
        self.buttons = frozenset(i.name for i in machine.inputs if i.kind is InputKind.PUSHBUTTON)

    # --- looking ------------------------------------------------------------------------------------------

    @property
    def lit_loads(self) -> frozenset[str]:
        """The loads that are on."""
        return frozenset(self.on()) - self.ignored

    @property
    def state(self) -> Hashable:
        """All that the logic remembers."""
        reaction = self.reactions[0]
        return None if reaction is None else reaction.state

    def as_switched_on(self) -> Hashable:
        """What the logic would remember had the supply only just come on."""
        answer = self.wired[0].answer(None, self.actuated)
        return answer.state if isinstance(answer, Reaction) else None

    def preset_us(self, timer: int) -> int:
        """The time of a timer."""
        return self.wired[0].presets[timer]

    def twin(self) -> Self:
        """An independent copy."""
        return cast(Self, self.copy())

    # --- going on -----------------------------------------------------------------------------------------

    def act(self, changes: Iterable[Change]) -> Instant:
        """Change some inputs a moment from now, all at once; a switch of a cylinder is held as it is put."""
        self.run(self.now_us + GAP_US)
        return self._instant(self.now_us, self._events(changes))

    def next(self, to_us: int | None = None) -> Instant | None:
        """The next thing that happens by itself, if it does by a moment; none where the logic never settles."""
        due = None if self.chattering else self.due_us()
        return None if due is None or (to_us is not None and due > to_us) else self._instant(due, ())

    def run(self, to_us: int | None = None) -> list[Instant]:
        """All that happens by itself until a moment, or until nothing more does; not for ever."""
        seen: list[Instant] = []
        while len(seen) < _MOST_INSTANTS and (instant := self.next(to_us)) is not None:
            seen.append(instant)
        if to_us is not None and to_us > self.now_us:
            self.now_us = to_us
        return seen

    def watch(self, to_us: int | None = None) -> Instant | None:
        """Wait until what is on changes by itself; None where it does not by a moment, or not soon."""
        lit = self.lit_loads
        for _ in range(_MOST_INSTANTS):
            instant = self.next(to_us)
            if instant is None or self.lit_loads != lit:
                return instant
        return None

    def let_go(self, switches: Iterable[str]) -> Instant:
        """Switches that were held work again."""
        self.run(self.now_us + GAP_US)
        events = [
            Event(at_us=self.now_us, kind=EventKind.STUCK_MADE, device=name, on=False)
            for name in switches
            if name in self.stuck
        ]
        return self._instant(self.now_us, tuple(events))

    def again(self, acts: tuple[Event, ...], at_us: int) -> Instant:
        """Do at a moment what was done at another."""
        self.run(at_us)
        moved = tuple(event.model_copy(update={"at_us": at_us}) for event in acts)
        return self._instant(at_us, moved)

    def _events(self, changes: Iterable[Change]) -> tuple[Event, ...]:
        made = []
        for name, on in changes:
            stuck = EventKind.STUCK_MADE if on else EventKind.STUCK_OPEN
            kind = EventKind.INPUT if name in self.free else stuck
            made.append(Event(at_us=self.now_us, kind=kind, device=name, on=on if name in self.free else True))
        return tuple(made)

    def _instant(self, at_us: int, events: tuple[Event, ...]) -> Instant:
        before = self.twin()
        expired = frozenset(timer for timer, due in self.clocks().items() if due <= at_us)
        self.step(at_us, events)
        names = [device.name for device in self.machine.inputs]
        changed = tuple(
            (name, now) for name, was, now in zip(names, before.actuated, self.actuated, strict=True) if was != now
        )
        return Instant(at_us, events, changed, expired, before, self.twin())


_SWITCHES = (InputKind.LIMIT_SWITCH, InputKind.PRESSURE_SWITCH)


def at_rest(machine: Machine, logic: Logic, ignored: frozenset[str] = frozenset()) -> Desk:
    """The desk with the supply just on and everything quiet. Raises Restless."""
    desk = Desk(machine, logic, ignored)
    desk._instant(0, ())
    desk.run()
    if desk.chattering or desk.due_us() is not None:
        raise Restless
    return desk
