"""What the passes look at: the machine, the chart, and where each cylinder is sent and stands in each step."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property

from compiler.chart import ActionKind, Chart, Step, Transition, Words
from compiler.condition import And, Condition, Elapsed, Signal, either, negated
from compiler.faults import finding
from compiler.findings.concern import concerns
from compiler.machine import Actuator, End, Machine, ValveKind
from compiler.shape import Shape, shape_of
from compiler.truth import possible
from grammar.diagnostic import Diagnostic
from grammar.source import Span

__all__ = ["Subject", "conjuncts", "end_switches", "switches_of"]


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

    def step(self, name: str) -> Step:
        """The step of that name."""
        return self._steps[name]

    def exits(self, step: Step) -> list[Transition]:
        """The transitions that leave a step."""
        return self._leaving.get(step.name, [])

    def entries(self, step: Step) -> list[Transition]:
        """The transitions that lead to a step while nothing disturbs the cycle, or the way home after a STOP."""
        return self._entering.get(step.name, [])

    def onward(self, step: Step) -> list[Transition]:
        """The transitions that leave a step for anything but a fault step or what a STOP asked for."""
        ways = self._ways.get(step.name, [])
        return ways or [t for t in self.exits(step) if not self.shape.fault & set(t.targets)]

    def passing(self, step: Step) -> bool:
        """Whether a step is left at once, whatever holds: it waits for nothing."""
        ways = self.onward(step)
        return bool(ways) and not possible(negated(either(*(t.condition for t in ways))))

    def concern(self, step: Step) -> frozenset[str]:
        """The cylinders a step has charge of: another branch, or station, has charge of the others."""
        return self._concerns[step.name]

    def begun(self, step: Step) -> list[tuple[Actuator, End]]:
        """The strokes that begin with a step, and where they lead."""
        if step.name not in self._begun:
            self._begun[step.name] = list(self._beginning(step))
        return self._begun[step.name]

    def stands(self, step: Step, actuator: Actuator) -> End | None:
        """Where an actuator surely stands as a step begins in an undisturbed cycle, or None."""
        known = self._known.get(step.name)
        return known.stands[actuator.name] if known is not None and actuator.name in self.concern(step) else None

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

    def at_line(self, code: str, message: str, name: str, *lines: str, cure: str = "") -> Diagnostic:
        """A finding about a line of a cylinder: the first of ``lines`` that is written, or the cylinder itself."""
        keys = (f"{name}.{line}" for line in lines)
        span = next((self.spans[key] for key in keys if key in self.spans), self.spans.get(name, Span(0, 0)))
        return finding(code, message, span.start, span.end, cure=cure)

    def place_of(self, step: Step) -> Words:
        """The words of a step or, where it has none of its own, of a transition that leads to it."""
        if step.words.end or step.initial is False:
            return step.words
        return next((t.words for t in reversed(self.entries(step))), Words())

    def _beginning(self, step: Step) -> Iterator[tuple[Actuator, End]]:
        known = self._known.get(step.name)
        if known is None or step.fault:
            return
        before = [
            self._join(self._known, t.sources)
            for t in self.entries(step)
            if all(name in self._known for name in t.sources)
        ]
        before += [self._dropped] if step.name in self._forced else []
        for actuator in self.machine.actuators:
            toward = known.sent[actuator.name]
            if toward is None or actuator.name not in self.concern(step) or actuator.name in known.centred:
                continue
            if any(b.sent[actuator.name] is not toward or actuator.name in b.centred for b in before):
                yield actuator, toward

    @cached_property
    def _begun(self) -> dict[str, list[tuple[Actuator, End]]]:
        """What ``begun`` has found so far."""
        return {}

    @cached_property
    def shape(self) -> Shape:
        """The parts the steps play."""
        return shape_of(self.chart)

    @cached_property
    def _steps(self) -> dict[str, Step]:
        return {step.name: step for step in self.chart.steps}

    @cached_property
    def _leaving(self) -> dict[str, list[Transition]]:
        return _by_step((name, t) for t in self.chart.transitions for name in t.sources)

    @cached_property
    def _forced(self) -> tuple[str, ...]:
        """The steps in which a STOP begins that leads home by steps."""
        forcing = self.chart.forcing
        return () if forcing is None else tuple(n for n in forcing.steps if n not in self.shape.memory)

    @cached_property
    def _followed(self) -> list[Transition]:
        """The transitions of undisturbed cycles, and those of the way home after a STOP, but for its last."""
        home, waiting, found = set(self._forced), list(self._forced), []
        while waiting:
            for t in self._leaving.get(waiting.pop(), ()):
                if not (self.shape.rest | self.shape.fault) & set(t.targets) and home.issuperset(t.sources):
                    found.append(t)
                    waiting += [name for name in t.targets if name not in home]
                    home.update(t.targets)
        return list(dict.fromkeys([*self.shape.ways, *found]))

    @cached_property
    def _ways(self) -> dict[str, list[Transition]]:
        return _by_step((name, t) for t in self._followed for name in t.sources)

    @cached_property
    def _entering(self) -> dict[str, list[Transition]]:
        return _by_step((name, t) for t in self._followed for name in t.targets)

    @cached_property
    def _dropped(self) -> _Known:
        """What is known as everything drops out: springs return, and anything else may be anywhere."""
        sprung = {a.name: a.valve.kind is ValveKind.SPRING_RETURN for a in self.machine.actuators}
        sent = {a.name: a.rest if sprung[a.name] else None for a in self.machine.actuators}
        return _Known(sent, dict.fromkeys(sent), frozenset())

    @cached_property
    def _concerns(self) -> dict[str, frozenset[str]]:
        return concerns(self.machine, self.chart, self.shape)

    @cached_property
    def _stored(self) -> frozenset[str]:
        """The outputs that are set and reset as steps are entered: a step that says nothing of one leaves it."""
        actions = (action for step in self.chart.steps for action in step.actions)
        return frozenset(action.output for action in actions if action.kind is not ActionKind.CONTINUOUS)

    @cached_property
    def _known(self) -> dict[str, _Known]:
        rest = {a.name: a.rest for a in self.machine.actuators}
        begin = _Known(dict(rest), dict(rest), frozenset())
        known = {name: self._enter(self.step(name), begin) for name in self.shape.initial}
        known |= {name: self._enter(self.step(name), self._dropped) for name in self._forced if name not in known}
        waiting = deque(known)
        while waiting:
            here = waiting.popleft()
            for t in self._ways.get(here, ()):
                if not all(name in known for name in t.sources):
                    continue
                after = self._leave(self._join(known, t.sources), t)
                for name in t.targets:
                    entered = self._enter(self.step(name), after)
                    merged = _merge(known[name], entered) if name in known else entered
                    if known.get(name) != merged:
                        known[name] = merged
                        waiting.append(name)
        return known

    def _join(self, known: dict[str, _Known], sources: tuple[str, ...]) -> _Known:
        """What is known where several branches end: of each cylinder by the one that has charge of it."""
        if len(sources) == 1:
            return known[sources[0]]
        names = [a.name for a in self.machine.actuators]
        of = {n: known[next((s for s in sources if n in self._concerns[s]), sources[0])] for n in names}
        sent, stands = {n: of[n].sent[n] for n in names}, {n: of[n].stands[n] for n in names}
        return _Known(sent, stands, frozenset(n for n in names if n in of[n].centred))

    def _enter(self, step: Step, before: _Known) -> _Known:
        on = {a.output for a in step.actions if a.kind in (ActionKind.CONTINUOUS, ActionKind.SET_ON_ENTRY)}
        told = {action.output for action in step.actions}
        sent, centred = {}, set()
        for actuator in self.machine.actuators:
            name, solenoids = actuator.name, set(actuator.valve.solenoids)
            left_as_it_was = solenoids & self._stored and not solenoids & told
            sent[name] = before.sent[name] if left_as_it_was else _sent(actuator, on, before.sent[name])
            if (name in before.centred) if left_as_it_was else _centred(actuator, on):
                centred.add(name)
        return _Known(sent, before.stands, frozenset(centred))

    def _leave(self, known: _Known, transition: Transition) -> _Known:
        stands = {a.name: _arrived(a, known, transition.condition) for a in self.machine.actuators}
        return _Known(known.sent, stands, known.centred)


def _by_step(pairs: Iterable[tuple[str, Transition]]) -> dict[str, list[Transition]]:
    found: dict[str, list[Transition]] = {}
    for name, t in pairs:
        found.setdefault(name, []).append(t)
    return found


def conjuncts(condition: Condition) -> tuple[Condition, ...]:
    """The parts that must all be true."""
    return condition.of if isinstance(condition, And) else (condition,)


def end_switches(actuator: Actuator) -> dict[str, End]:
    """The limit switches that tell that a cylinder stands at an end, and which."""
    ends = {actuator.stroke_um: End.END, 0: End.HOME}
    return {s.name: s.toward for s in actuator.limit_switches if ends.get(s.at_um) is s.toward}


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
