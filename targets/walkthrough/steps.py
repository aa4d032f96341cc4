"""The steps of a chart in the words of the sequence: what is under way, what it goes on to, and what lets it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from compiler.chart import Chart
from compiler.condition import Active, Always, And, Condition, Counted, Elapsed, Not, Or, Signal, both
from compiler.machine import Machine
from compiler.shape import Shape, shape_of
from compiler.spoken import called, with_the_rest
from compiler.tell import condition_words
from compiler.units import time_text
from compiler.walk.changes import Instant
from targets.walkthrough.words import listed

__all__ = ["Sequence", "parts_of"]

_WAITING = "wait for the other branches"  # what a step is called that a branch ends in


@dataclass(frozen=True)
class Sequence:
    """Says steps and conditions of a chart as who wrote the sequence would, the name of the step behind its words."""

    machine: Machine
    chart: Chart

    @cached_property
    def shape(self) -> Shape:
        return shape_of(self.chart)

    @cached_property
    def _called(self) -> dict[Condition, str]:
        return called(self.chart, self.machine)

    @cached_property
    def _own_counters(self) -> frozenset[str]:
        """Counters that no word of the sequence names: those of repeats."""
        words = " ".join([s.words.text for s in self.chart.steps] + [t.words.text for t in self.chart.transitions])
        said = set(re.findall(r"\w+", words))
        return frozenset(name for name in self.chart.counters if name not in said)

    # --- steps ------------------------------------------------------------------------------------------------

    def step(self, name: str) -> str:
        """``“extend RAM until at-end” (S1)``."""
        step = self.chart.step(name)
        if step.fault:
            return f"the fault “{step.fault}” ({name})"
        words = " ".join(step.words.text.split()).split(", within ")[0]
        if words == _WAITING:
            return f"{words} ({name})"
        return f"“{words}” ({name})" if words else name

    def station(self, name: str) -> str:
        """Whose step it is: ``LOADER``, or ``the sequence`` where there is only one."""
        station = name.rpartition("_")[0]
        return station if station and len(self.shape.stations) > 1 else "the sequence"

    def is_rest(self, name: str) -> bool:
        return name in self.shape.rest

    def waits(self, name: str) -> bool:
        """Whether a branch waits there for the others."""
        return " ".join(self.chart.step(name).words.text.split()) == _WAITING

    def ordered(self, names: Iterable[str]) -> list[str]:
        """Steps in the order of the chart."""
        found = set(names)
        return [step.name for step in self.chart.steps if step.name in found]

    def resting(self, names: Iterable[str]) -> str:
        """``LOADER and PRESSER rest``, for steps of rest."""
        stations = list(dict.fromkeys(self.station(name) for name in names))
        return f"{listed(stations)} rest{'s' if len(stations) == 1 else ''}"

    def phase(self, names: Iterable[str]) -> str:
        """What is under way in a phase: ``“hold 1 s” (PRESSER_S3), with LOADER at rest``."""
        steps = self.ordered(names)
        busy = [name for name in steps if not self.is_rest(name) and not self.waits(name)]
        said = listed(self.step(name) for name in busy) if busy else "a wait for other branches"
        waiting = [f"a branch waiting ({name})" for name in steps if self.waits(name)]
        idle = list(dict.fromkeys(self.station(name) for name in steps if self.is_rest(name)))
        beside = listed([*waiting, *([f"{listed(idle)} at rest"] if idle else [])])
        return f"{said}, with {beside}" if beside else said

    def going(self, sources: tuple[str, ...], targets: tuple[str, ...]) -> str:
        """What a transition does: ``the sequence goes on to “hold 4 s” (S2)``."""
        memory = self.shape.memory
        if memory & set(targets):
            words = listed(self.chart.step(name).words.text or name for name in targets)
            return f"from now on {words} ({listed(targets)})"
        who = self.station((*targets, *sources)[0])
        if all(self.is_rest(name) for name in targets):
            return f"{who} comes to rest ({listed(targets)})"
        if all(self.waits(name) for name in targets):
            return f"{self.step(sources[0])} is over, and its branch waits for the others ({listed(targets)})"
        joined = "with its branches over " if len(sources) > 1 else ""
        return f"{joined}{who} goes on to {listed(self.step(name) for name in targets)}"

    # --- conditions -------------------------------------------------------------------------------------------

    def condition(self, parts: Iterable[Condition], at: Instant | None = None) -> str:
        """Parts of a condition that hold together; ``at`` a moment, only what of several makes each hold there."""
        met = [each for part in parts for each in self._met(part, at)]
        plain = [part for part in met if self._word(part) is None]
        special = [words for part in met if (words := self._word(part)) is not None]
        return listed(with_the_rest(special, plain, lambda part: condition_words(part, self.machine)))

    def _met(self, part: Condition, at: Instant | None) -> tuple[Condition, ...]:
        return (part,) if at is None or part in self._called else parts_of(_met(part, at))

    def goes_without_saying(self, part: Condition) -> bool:
        """Whether a part of a condition is always so, or only says that no press is remembered."""
        match part:
            case Always():
                return True
            case Not(of=Active(step=step)):
                return step in self.shape.memory
            case _:
                return False

    def _word(self, part: Condition) -> str | None:
        """What has words of its own in the sequence; None for what is said as at the machine."""
        if part in self._called:
            return self._called[part]
        match part:
            case Active(step=step) if step in self.shape.memory:
                return self.chart.step(step).words.text or None
            case Active(step=step) if self.is_rest(step):
                return f"{self.station(step)} is at rest"
            case Active(step=step):
                return f"{self.step(step)} is under way"
            case Not(of=Active(step=step)) if step in self.shape.memory:
                return f"not yet “{self.chart.step(step).words.text}”"
            case Not(of=Active(step=step)):
                at_rest = f"{self.station(step)} is not at rest"
                return at_rest if self.is_rest(step) else f"{self.step(step)} is over"
            case Counted(counter=name, at_least=times) if name in self._own_counters:
                return f"that has been done {times} times"
            case Not(of=Counted(counter=name, at_least=times)) if name in self._own_counters:
                return f"that has been done fewer than {times} times"
            case Elapsed(time_us=time):
                words = time_text(time)
                return f"{words} {'has' if words.startswith('1 ') else 'have'} passed"
            case _:
                return None


def parts_of(condition: Condition) -> tuple[Condition, ...]:
    """The parts of a condition that must all hold."""
    return condition.of if isinstance(condition, And) else (condition,)


def _met(part: Condition, at: Instant) -> Condition:
    """Of several things any of which would do, the one or those that are so."""
    match part:
        case Or(of=several):
            there = [one for one in several if _holds(one, at)]
            return there[0] if len(there) == 1 else part
        case Not(of=And(of=several)):
            gone = [one for one in several if _holds(one, at) is False]
            return both(*(_opposite(one) for one in gone)) if gone else part
        case _:
            return part


def _opposite(part: Condition) -> Condition:
    return part.of if isinstance(part, Not) else Not(of=part)


def _holds(part: Condition, at: Instant) -> bool | None:
    """Whether a part is so at a moment; None for what a moment does not show."""
    match part:
        case Signal(device=device):
            return device in at.actuated
        case Active(step=step):
            return step in at.active
        case Not(of=of):
            inner = _holds(of, at)
            return None if inner is None else not inner
        case _:
            return None
