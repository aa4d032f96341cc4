"""How long a step waits for a condition, from what moves and since when."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product

from compiler.condition import (
    Active,
    And,
    Condition,
    Counted,
    Elapsed,
    Not,
    Or,
    Rise,
    Signal,
    Sustained,
    walk,
)
from compiler.machine import Actuator, End, LimitSwitch, Machine, PressureSwitch
from compiler.physics.timespan import NOTHING, Timespan, either, latest

__all__ = ["Moving", "Waiting", "is_decided"]

_MOST_ATOMS = 10


@dataclass(frozen=True, slots=True)
class Moving:
    """A stroke on its way: which end it leads to, and when it began."""

    toward: End
    since: Timespan


@dataclass(frozen=True)
class Waiting:
    """When conditions come true, counted from the beginning of the cycle. ``begun`` is when each step began,
    ``moving`` what moves; in a step that is ``decided`` what comes from outside holds or does not, and is not waited
    for. ``outside`` gathers what else is waited for."""

    machine: Machine
    begun: Mapping[str, Timespan]
    moving: Mapping[str, Moving]
    decided: bool
    outside: set[str]

    def ready(self, condition: Condition) -> Timespan:
        """When a condition holds; at the beginning, where it has held since then."""
        match condition:
            case Elapsed(step=step, time_us=time):
                return self.begun.get(step, NOTHING).plus(Timespan(time, time, time))
            case Sustained(of=of, time_us=time):
                lasts = any(_atom(part, self.machine) for part in walk(of))  # it may have begun long ago
                return self.ready(of).plus(Timespan(0 if lasts else time, time, time))
            case And(of=parts):
                return latest(self.ready(part) for part in parts)
            case Or(of=parts):
                return _first(self.ready(part) for part in parts)
            case Signal(device=name):
                return self._made(name)
            case Not(of=Signal(device=name)):
                return self._released(name)
            case Rise(device=name):
                return self._from_outside(name)
            case Active(step=step):
                return self._from_outside(step)
            case _:
                return NOTHING

    def _made(self, name: str) -> Timespan:
        found = _on_cylinder(self.machine, name)
        if found is None:
            return self._from_outside(name)
        actuator, switch = found
        stroke = self.moving.get(actuator.name)
        if stroke is None or stroke.toward is not switch.toward:
            return NOTHING
        travel = _travel(actuator, stroke.toward)
        if isinstance(switch, PressureSwitch):
            build_up = Timespan(switch.build_up_us, switch.build_up_us, switch.build_up_us)
            return stroke.since.plus(travel).plus(build_up)
        return stroke.since.plus(travel.share(_way(actuator, switch.at_um, stroke.toward)))

    def _released(self, name: str) -> Timespan:
        """It lets go anywhere from its place to the end of its reset travel."""
        found = _on_cylinder(self.machine, name)
        if found is None:
            return self._from_outside(name)
        actuator, switch = found
        stroke = self.moving.get(actuator.name)
        if stroke is None or stroke.toward is switch.toward or isinstance(switch, PressureSwitch):
            return NOTHING
        travel = _travel(actuator, stroke.toward)
        place = _way(actuator, switch.at_um, stroke.toward)
        past = min(1.0, place + switch.reset_um / actuator.stroke_um)
        first, last = travel.share(place), travel.share(past)
        return stroke.since.plus(Timespan(first.least_us, last.usual_us, last.greatest_us))

    def _from_outside(self, name: str) -> Timespan:
        if not self.decided:
            self.outside.add(name)
        return NOTHING


def _first(spans: Iterator[Timespan]) -> Timespan:
    """Whichever comes first."""
    all_of_them = list(spans)
    whole = either(all_of_them)
    return Timespan(whole.least_us, min(s.usual_us for s in all_of_them), min(s.greatest_us for s in all_of_them))


def _on_cylinder(machine: Machine, name: str) -> tuple[Actuator, LimitSwitch | PressureSwitch] | None:
    """A switch and the cylinder it is on; None where it is on none."""
    for actuator in machine.actuators:
        switches: tuple[LimitSwitch | PressureSwitch, ...] = (*actuator.limit_switches, *actuator.pressure_switches)
        for switch in switches:
            if switch.name == name:
                return actuator, switch
    return None


def _way(actuator: Actuator, at_um: int, toward: End) -> float:
    """The share of a whole stroke up to a place."""
    return (at_um if toward is End.END else actuator.stroke_um - at_um) / actuator.stroke_um


def _travel(actuator: Actuator, toward: End) -> Timespan:
    t = actuator.extend_time if toward is End.END else actuator.retract_time
    return Timespan(t.least_us, t.usual_us, t.greatest_us)


def is_decided(machine: Machine, ways: list[Condition]) -> bool:
    """Whether, once strokes have arrived and times are over, one of the ways out of a step holds whatever comes from
    outside: then the step chooses, and does not wait for anybody."""
    atoms = {_atom(p, machine) for way in ways for p in walk(way)} - {None}
    if len(atoms) > _MOST_ATOMS:
        return False
    names = sorted(atom for atom in atoms if atom is not None)
    return all(
        any(_holds(way, dict(zip(names, values, strict=True)), machine) for way in ways)
        for values in product((False, True), repeat=len(names))
    )


def _atom(part: Condition, machine: Machine) -> str | None:
    match part:
        case Signal(device=name) if _on_cylinder(machine, name) is None:
            return name
        case Counted(counter=counter, at_least=number):
            return f"{counter} {number}"
        case Active(step=step):
            return f"step {step}"
        case _:
            return None


def _holds(condition: Condition, known: dict[str, bool], machine: Machine) -> bool:
    atom = _atom(condition, machine)
    if atom is not None:
        return known[atom]
    match condition:
        case Rise():
            return False
        case Not(of=of):
            leaf = _atom(of, machine) is None and isinstance(of, Signal | Elapsed)
            return leaf or not _holds(of, known, machine)
        case Sustained(of=of):
            return _holds(of, known, machine)
        case And(of=parts):
            return all(_holds(part, known, machine) for part in parts)
        case Or(of=parts):
            return any(_holds(part, known, machine) for part in parts)
        case _:
            return True
