"""How long a step waits for a condition, from what moves and since when."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set
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

__all__ = ["Moving", "Waiting", "is_decided", "way", "whole_stroke"]

_MOST_ATOMS = 10


@dataclass(frozen=True, slots=True)
class Moving:
    """A stroke on its way: which end it leads to, since when it goes as it does, the time of a whole stroke at that
    speed, and the least and greatest share of the stroke that lay behind then. ``halted``: its valve is centred."""

    toward: End
    since: Timespan
    whole: Timespan
    behind: tuple[float, float] = (0.0, 0.0)
    halted: bool = False

    def at(self, first: float, last: float) -> Timespan:
        """When the rod is at a place on its way, or anywhere between two, told as shares of a whole stroke."""
        if self.halted:
            return NOTHING
        least, most = self.behind
        return self.since.plus(
            Timespan(
                self.whole.share(max(0.0, first - most)).least_us,
                self.whole.share(max(0.0, last - (least + most) / 2)).usual_us,
                self.whole.share(max(0.0, last - least)).greatest_us,
            )
        )

    def gone(self, until: Timespan) -> tuple[float, float]:
        """The least and the greatest share of the stroke that lies behind at a later time."""
        if self.halted:
            return self.behind
        least_us = max(0, until.least_us - self.since.least_us)
        most_us = max(0, until.greatest_us - self.since.greatest_us)
        first, last = sorted((least_us, most_us))
        least, most = self.behind
        return min(1.0, least + first / self.whole.greatest_us), min(1.0, most + last / self.whole.least_us)


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
        if isinstance(switch, PressureSwitch):
            build_up = Timespan(switch.build_up_us, switch.build_up_us, switch.build_up_us)
            return stroke.at(1.0, 1.0).plus(build_up)
        place = way(actuator, switch.at_um, stroke.toward)
        return stroke.at(place, place)

    def _released(self, name: str) -> Timespan:
        """It lets go anywhere from its place to the end of its reset travel."""
        found = _on_cylinder(self.machine, name)
        if found is None:
            return self._from_outside(name)
        actuator, switch = found
        stroke = self.moving.get(actuator.name)
        if stroke is None or stroke.toward is switch.toward or isinstance(switch, PressureSwitch):
            return NOTHING
        place = way(actuator, switch.at_um, stroke.toward)
        return stroke.at(place, min(1.0, place + switch.reset_um / actuator.stroke_um))

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


def way(actuator: Actuator, at_um: int, toward: End) -> float:
    """The share of a whole stroke up to a place."""
    return (at_um if toward is End.END else actuator.stroke_um - at_um) / actuator.stroke_um


def whole_stroke(actuator: Actuator, toward: End, on: Set[str]) -> Timespan:
    """The time of a whole stroke with some outputs on: the quick one, where its solenoid is among them."""
    rapid = actuator.valve.rapid
    t = actuator.extend_time if toward is End.END else actuator.retract_time
    if rapid is not None and toward is End.END and rapid.solenoid in on:
        t = rapid.time
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
