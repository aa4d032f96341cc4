"""What the passes look at: the machine, the chart, and where each cylinder is sent and stands in each step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

from compiler.chart import Chart, Step, Transition, Words
from compiler.condition import And, Condition, Elapsed, Signal
from compiler.faults import finding
from compiler.machine import Actuator, End, Machine, ValveKind
from grammar.diagnostic import Diagnostic
from grammar.source import Span

__all__ = ["Subject", "conjuncts", "switches_of"]


@dataclass(frozen=True, slots=True)
class _Known:
    """For each actuator, where it was sent last and where it surely stands as a step begins (None: can't be said);
    ``centred`` are those that their valves drive neither way."""

    sent: dict[str, End | None]
    stands: dict[str, End | None]
    centred: frozenset[str]


@dataclass(frozen=True)
class Subject:
    """A machine and its chart, with what can be known of its cylinders by following the chart from the start."""

    machine: Machine
    chart: Chart
    spans: dict[str, Span] = field(default_factory=dict)

    def exits(self, step: Step) -> list[Transition]:
        """The transitions that leave a step."""
        return [t for t in self.chart.transitions if step.name in t.sources]

    def onward(self, step: Step) -> list[Transition]:
        """The transitions that leave a step for anything but a fault step."""
        return [t for t in self.exits(step) if not any(self.chart.step(name).fault for name in t.targets)]

    def begun(self, step: Step) -> Iterator[tuple[Actuator, End]]:
        """The strokes that begin with a step, and where they lead."""
        known = self._known.get(step.name)
        if known is None or step.fault:
            return
        before = [
            self._known[name]
            for t in self.chart.transitions
            if step.name in t.targets
            for name in t.sources
            if name in self._known
        ]
        for actuator in self.machine.actuators:
            name, toward = actuator.name, known.sent[actuator.name]
            if toward is None or name in known.centred:
                continue
            if any(b.sent[name] is not toward or name in b.centred for b in before):
                yield actuator, toward

    def stands(self, step: Step, actuator: Actuator) -> End | None:
        """Where an actuator surely stands as a step begins in an undisturbed cycle, or None."""
        known = self._known.get(step.name)
        return None if known is None else known.stands[actuator.name]

    def sent(self, step: Step, actuator: Actuator) -> End | None:
        """Where an actuator is sent in a step, or was last, or None where that depends on the way there."""
        known = self._known.get(step.name)
        return None if known is None else known.sent[actuator.name]

    def centred(self, step: Step, actuator: Actuator) -> bool:
        """Whether its valve surely drives an actuator neither way in a step."""
        known = self._known.get(step.name)
        return known is not None and actuator.name in known.centred

    def at_words(self, code: str, message: str, words: Words, *, cure: str = "") -> Diagnostic:
        """A finding about some words of the sequence."""
        return finding(code, message, words.start, words.end, cure=cure)

    def at_device(self, code: str, message: str, name: str, *, cure: str = "") -> Diagnostic:
        """A finding about a device, placed where it was declared."""
        span = self.spans.get(name, Span(0, 0))
        return finding(code, message, span.start, span.end, cure=cure)

    def place_of(self, step: Step) -> Words:
        """The words of a step or, where it has none of its own, of a transition that leads to it."""
        if step.words.end or step.initial is False:
            return step.words
        return next((t.words for t in reversed(self.chart.transitions) if step.name in t.targets), Words())

    @cached_property
    def _known(self) -> dict[str, _Known]:
        rest = {a.name: a.rest for a in self.machine.actuators}
        known = {
            s.name: self._enter(s, _Known(dict(rest), dict(rest), frozenset())) for s in self.chart.steps if s.initial
        }
        waiting = list(known)
        while waiting:
            here = waiting.pop(0)
            for t in self.chart.transitions:
                if here not in t.sources:
                    continue
                after = self._leave(known[here], t)
                for name in t.targets:
                    entered = self._enter(self.chart.step(name), after)
                    merged = _merge(known[name], entered) if name in known else entered
                    if known.get(name) != merged:
                        known[name] = merged
                        waiting.append(name)
        return known

    def _enter(self, step: Step, before: _Known) -> _Known:
        on = {action.output for action in step.actions}
        sent = {a.name: _sent(a, on, before.sent[a.name]) for a in self.machine.actuators}
        return _Known(sent, before.stands, frozenset(a.name for a in self.machine.actuators if _centred(a, on)))

    def _leave(self, known: _Known, transition: Transition) -> _Known:
        stands = {a.name: _arrived(a, known, transition.condition) for a in self.machine.actuators}
        return _Known(known.sent, stands, known.centred)


def conjuncts(condition: Condition) -> tuple[Condition, ...]:
    """The parts that must all be true."""
    return condition.of if isinstance(condition, And) else (condition,)


def switches_of(actuator: Actuator) -> set[str]:
    """The names of every switch on a cylinder."""
    return {s.name for s in (*actuator.limit_switches, *actuator.pressure_switches)}


def _sent(actuator: Actuator, on: set[str], before: End | None) -> End | None:
    extend, retract = actuator.valve.extend in on, actuator.valve.retract in on
    if extend and not retract:
        return End.END
    if retract and not extend:
        return End.HOME
    return actuator.rest if actuator.valve.kind is ValveKind.SPRING_RETURN else before


def _centred(actuator: Actuator, on: set[str]) -> bool:
    valve = actuator.valve
    return valve.kind is ValveKind.THREE_POSITION and (valve.extend in on) is (valve.retract in on)


def _arrived(actuator: Actuator, known: _Known, condition: Condition) -> End | None:
    toward, stood = known.sent[actuator.name], known.stands[actuator.name]
    if actuator.name in known.centred:
        return stood if actuator.valve.centre is not None and actuator.valve.centre.holds else None
    if toward is None or toward is stood:
        return toward if toward is stood else None
    travel = actuator.extend_time if toward is End.END else actuator.retract_time
    at = actuator.stroke_um if toward is End.END else 0
    seen_by = {s.name for s in actuator.limit_switches if s.toward is toward and s.at_um == at}
    for part in conjuncts(condition):
        match part:
            case Signal(device=name) if name in seen_by:
                return toward
            case Elapsed(time_us=time) if time >= travel.greatest_us:
                return toward
            case _:
                pass
    return None


def _merge(one: _Known, other: _Known) -> _Known:
    sent = _agree(one.sent, other.sent)
    for name in one.centred ^ other.centred:
        sent[name] = None
    return _Known(sent, _agree(one.stands, other.stands), one.centred & other.centred)


def _agree(one: dict[str, End | None], other: dict[str, End | None]) -> dict[str, End | None]:
    return {name: value if other[name] is value else None for name, value in one.items()}
