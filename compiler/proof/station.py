"""The cycle of one station by itself, where several stations together are too many to search: what it waits for, of
the others or of somebody, comes at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from compiler.chart import Chart, Step, Transition
from compiler.chart_logic import chart_logic
from compiler.condition import (
    Active,
    Always,
    And,
    Condition,
    Elapsed,
    Not,
    Or,
    Rise,
    Signal,
    Sustained,
    both,
    either,
    negated,
    walk,
)
from compiler.machine import Machine
from compiler.physics.cycle import StationCycle, cycle_times
from compiler.proof.cycle import CycleTime, cycle_time
from compiler.shape import shape_of

__all__ = ["StationTime", "station_times"]

_NEVER = Not(of=Always())


@dataclass(frozen=True, slots=True)
class StationTime:
    """The cycle of one station, from where it begins to its rest. What it ``waits`` for, other stations or inputs,
    comes at once."""

    station: str
    cycle: CycleTime
    waits: tuple[str, ...]


def station_times(chart: Chart, machine: Machine, *, most_zones: int) -> tuple[StationTime, ...]:
    """The cycle of each station, exactly; none at all where one of them cannot be told by itself."""
    found = []
    for waited in cycle_times(machine, chart):
        time = None if waited.uncounted else _time(chart, waited, machine, most_zones=most_zones)
        if time is None:
            return ()
        found.append(time)
    return tuple(found) if len(found) == len(shape_of(chart).stations) else ()


def _time(chart: Chart, waited: StationCycle, machine: Machine, *, most_zones: int) -> StationTime | None:
    """The cycle of one station by itself. Where it may begin without START, that may be as soon as it has come to
    rest, with rods still on their way: only an operator who is careful waits for them."""
    alone, rest, granted = _alone(chart, machine, waited), _rest(chart, waited), _granted(chart, machine, waited)
    if alone is None:
        return None
    begins = [granted.of(t.condition) for t in chart.transitions if _begins(t, rest)]
    careful = all(machine.start in _named(condition) for condition in begins)
    cycle = cycle_time(chart_logic(alone), alone, machine, most_zones=most_zones, careful=careful)
    return None if cycle is None else StationTime(waited.station, cycle, _called(chart, machine, waited))


def _called(chart: Chart, machine: Machine, waited: StationCycle) -> tuple[str, ...]:
    """What it waits for once it has begun: inputs, and other stations by name."""
    rest, granted = _rest(chart, waited), _granted(chart, machine, waited)
    faults = shape_of(chart).fault
    ways = [t for t in chart.transitions if granted.own.issuperset(t.sources)]
    conditions = [t.condition for t in ways if not (rest | faults) & set(t.sources)]
    conditions += [a.condition for step in chart.steps if step.name in granted.own for a in step.actions]
    steps = {part.step: None for of in conditions for part in walk(of) if isinstance(part, Active | Elapsed)}
    others = {_station(chart, name): None for name in steps if name not in granted.own}
    return (*others, *sorted(granted.asked & set(waited.waits).union(*map(_named, conditions))))


def _rest(chart: Chart, waited: StationCycle) -> frozenset[str]:
    stations = shape_of(chart).stations
    return next(each for each in stations if any(name.rpartition("_")[0] == waited.station for name in each))


def _others(chart: Chart, machine: Machine, own: frozenset[str]) -> Iterator[str]:
    """The switches of rods that none of these steps moves: where they are is up to other stations."""
    driven = {action.output for step in chart.steps if step.name in own for action in step.actions}
    for actuator in machine.actuators:
        if not driven.intersection(actuator.valve.solenoids):
            yield from (switch.name for switch in (*actuator.limit_switches, *actuator.pressure_switches))


def _station(chart: Chart, step: str) -> str:
    """The name of the station that a step is of."""
    rest = next((each for each in shape_of(chart).stations if step in _connected(chart, each)), frozenset({step}))
    return min(rest).rpartition("_")[0] or step


def _alone(chart: Chart, machine: Machine, waited: StationCycle) -> Chart | None:
    """The chart of one station, begun by START; None where that is not what the station does."""
    shape = shape_of(chart)
    rest = _rest(chart, waited)
    granted = _granted(chart, machine, waited)
    own = granted.own
    stop_only = chart.forcing is None or _named(chart.forcing.condition) == {machine.stop}
    ways = [t for t in chart.transitions if own.issuperset(t.sources)]
    if machine.start is None or not stop_only or any(not own.issuperset((*t.targets, *t.aborts)) for t in ways):
        return None
    if _chooses(ways, granted, rest):
        return None
    inputs = {device.name for device in machine.inputs}
    return chart.model_copy(
        update={
            "inputs": chart.inputs if machine.start in chart.inputs else (*chart.inputs, machine.start),
            "steps": tuple(_step(step, granted) for step in chart.steps if step.name in own),
            "transitions": tuple(_way(t, granted, rest, shape.fault, machine.start) for t in ways),
            "forcing": None,
            "interlocks": tuple(
                i.model_copy(update={"only_while": granted.of(i.only_while)})
                for i in chart.interlocks
                if all(p.device in inputs for p in walk(i.only_while) if isinstance(p, Signal))
            ),
            "requirements": (),
        }
    )


def _granted(chart: Chart, machine: Machine, waited: StationCycle) -> _Granted:
    own = _connected(chart, _rest(chart, waited))
    inputs = {device.name for device in machine.inputs} - {machine.start}
    return _Granted(own, frozenset(inputs.intersection((*waited.waits, *_others(chart, machine, own)))))


def _connected(chart: Chart, rest: frozenset[str]) -> frozenset[str]:
    """Every step that transitions lead to from there, or that lead there."""
    own = set(rest)
    while True:
        touching = [t for t in chart.transitions if own & {*t.sources, *t.targets, *t.aborts}]
        more = {name for t in touching for name in (*t.sources, *t.targets, *t.aborts)}
        if more <= own:
            return frozenset(own)
        own |= more


def _chooses(ways: Sequence[Transition], granted: _Granted, rest: frozenset[str]) -> bool:
    """Whether something that would be granted decides between two ways on."""
    changed = [t for t in ways if granted.of(t.condition) != t.condition and not rest & set(t.sources)]
    return any(t is not other and set(t.sources) & set(other.sources) for t in changed for other in ways)


def _way(t: Transition, granted: _Granted, rest: frozenset[str], faults: frozenset[str], start: str) -> Transition:
    condition = t.condition if faults.issuperset(t.sources) else granted.of(t.condition)
    if _begins(t, rest) and start not in _named(condition):
        condition = both(Rise(device=start), condition)
    return t.model_copy(update={"condition": condition})


def _begins(t: Transition, rest: frozenset[str]) -> bool:
    """Whether a transition begins the cycle of the station that has these rest steps."""
    return bool(rest & set(t.sources)) and not rest & set(t.targets)


def _named(condition: Condition) -> set[str]:
    """The devices that a condition speaks of."""
    return {part.device for part in walk(condition) if isinstance(part, Signal | Rise)}


def _step(step: Step, granted: _Granted) -> Step:
    actions = tuple(a.model_copy(update={"condition": granted.of(a.condition)}) for a in step.actions)
    return step.model_copy(update={"actions": actions})


@dataclass(frozen=True, slots=True)
class _Granted:
    """Conditions as they are when what other stations do, and some inputs, are always as they are wanted."""

    own: frozenset[str]
    asked: frozenset[str]

    def of(self, condition: Condition, *, wanted: bool = True) -> Condition:
        """The condition without what is granted; of what stands under a Not the opposite is ``wanted``."""
        match condition:
            case Active(step=step) | Elapsed(step=step) if step not in self.own:
                return Always() if wanted else _NEVER
            case Signal(device=name) | Rise(device=name) if name in self.asked:
                return Always() if wanted else _NEVER
            case Not(of=part):
                return negated(self.of(part, wanted=not wanted))
            case And(of=parts):
                inner = [self.of(part, wanted=wanted) for part in parts]
                return _NEVER if _NEVER in inner else both(*inner)
            case Or(of=parts):
                inner = [self.of(part, wanted=wanted) for part in parts]
                kept = [part for part in inner if part != _NEVER]
                return Always() if Always() in inner else either(*kept) if kept else _NEVER
            case Sustained(of=part):
                return condition.model_copy(update={"of": self.of(part, wanted=wanted)})
            case _:
                return condition
