"""The Plant: cylinders, their valves and switches, in whole microseconds and exact positions.

A position is counted in units so small that a stroke is the product of its times (out, back and, where there is one,
out rapidly) and its micrometres: every speed and every switch place is then a whole number, and nothing is ever
rounded but the instant at which something is seen, which is the first whole microsecond at or past it. Commands never
change a switch in zero time: a limit switch lets go only after its reset travel, a pressure switch only after the
pressure has gone.

A valve in its centre drives its rod neither way, and the rod stands where it is. Behind a float centre it is free,
but nothing here moves it. Pressure builds up only while the valve drives the rod against something.
"""

from __future__ import annotations

from collections.abc import Collection
from copy import copy
from fractions import Fraction
from math import prod
from typing import NamedTuple

from compiler.machine import Actuator, End, LimitSwitch, Machine, PressureSwitch, Valve, ValveKind
from compiler.simulation.run import Pace, StrokeTimes

__all__ = ["PRESSURE_GOES_US", "Plant"]

PRESSURE_GOES_US = 10_000
"""How long a pressure switch stays made once the pressure has gone: 5 to 20 ms is common practice."""

_WAY = {End.HOME: -1, End.END: 1}


class _LimitSwitch:
    """A limit switch of a rod: where it makes and where it lets go, in the rod's units."""

    __slots__ = ("lets_go", "made", "makes", "name", "toward")

    def __init__(self, switch: LimitSwitch, unit: int, position: int) -> None:
        self.name = switch.name
        self.toward = _WAY[switch.toward]
        self.makes = switch.at_um * unit
        self.lets_go = (switch.at_um - self.toward * switch.reset_um) * unit
        self.made = (position - self.makes) * self.toward >= 0

    def update(self, position: int | Fraction) -> None:
        if not self.made:
            self.made = (position - self.makes) * self.toward >= 0
        else:
            self.made = (position - self.lets_go) * self.toward >= 0

    def due(self, position: int | Fraction, way: int, speed: int | Fraction, full: int) -> int | None:
        """Microseconds until the switch changes, if the rod goes on as it does; None if it will not."""
        if self.made is (way == self.toward):
            return None
        edge = self.lets_go if self.made else self.makes
        if self.made:  # it lets go once past the edge: the first whole microsecond later than it
            reached = 0 < edge < full
            return (edge - position) * way // speed + 1 if reached else None
        return -((position - edge) * way // speed) if 0 <= edge <= full else None


class _PressureSwitch:
    """A pressure switch of a rod: made a while after the stroke stalls, released a while after the pressure goes."""

    __slots__ = ("build_up_us", "due_us", "made", "name", "toward")

    def __init__(self, switch: PressureSwitch, made: bool) -> None:
        self.name = switch.name
        self.toward = _WAY[switch.toward]
        self.build_up_us = switch.build_up_us
        self.made = made
        self.due_us: int | None = None

    def update(self, now_us: int, stalled_way: int) -> None:
        pressed = stalled_way == self.toward
        if pressed == self.made:
            self.due_us = None
        elif self.due_us is None:
            self.due_us = now_us + (self.build_up_us if pressed else PRESSURE_GOES_US)
        elif self.due_us <= now_us:
            self.made, self.due_us = pressed, None


class _Drive(NamedTuple):
    """What a valve does with its rod: sends it out (1), back (-1), neither (0); ``rapid`` on a quick stroke out."""

    way: int
    rapid: bool = False


class _Rod:
    """One actuator in motion: where it was ``since_us``, how its valve drives it, and whether it is jammed."""

    __slots__ = (
        "drive",
        "due_us",
        "full",
        "jammed",
        "limits",
        "name",
        "paces",
        "position",
        "pressures",
        "rest",
        "since_us",
        "speeds",
        "unit",
        "valve",
    )  # fmt: skip

    def __init__(self, actuator: Actuator, times: StrokeTimes, paces: Collection[Pace]) -> None:
        self.name = actuator.name
        self.paces = {p.from_us: p for p in paces if p.actuator == actuator.name}
        self.valve = actuator.valve
        takes = {_Drive(1): times.extend_us, _Drive(-1): times.retract_us}
        if actuator.valve.rapid is not None:
            if times.rapid_us is None:
                raise KeyError(f"{actuator.name} extends rapidly, and nothing says how fast")
            takes[_Drive(1, rapid=True)] = times.rapid_us
        self.unit = prod(takes.values())
        self.full = actuator.stroke_um * self.unit
        self.speeds: dict[_Drive, int | Fraction] = {d: self.full // us for d, us in takes.items()}
        centred = self.valve.kind is ValveKind.THREE_POSITION
        self.drive = _Drive(0 if centred else _WAY[actuator.rest])
        self.rest = self.full if actuator.rest is End.END else 0
        self.position: int | Fraction = self.rest
        self.since_us, self.jammed = 0, False
        self.limits = tuple(_LimitSwitch(s, self.unit, self.position) for s in actuator.limit_switches)
        # A spring, not pressure, brings a single-acting cylinder home.
        self.pressures = tuple(
            _PressureSwitch(s, made=_WAY[s.toward] == self.way and not (actuator.single_acting and self.way < 0))
            for s in actuator.pressure_switches
            if not (actuator.single_acting and s.toward is End.HOME)
        )
        self.due_us: int | None = None

    @property
    def way(self) -> int:
        return self.drive.way

    def at(self, now_us: int) -> int | Fraction:
        if self.jammed or not self.way:
            return self.position
        gone = self.speeds[self.drive] * (now_us - self.since_us)
        return min(self.full, self.position + gone) if self.way > 0 else max(0, self.position - gone)

    def moving(self, now_us: int) -> int:
        """1 moving out, -1 moving back, 0 standing."""
        return 0 if self.jammed or self.at(now_us) == (self.full if self.way > 0 else 0) else self.way

    def rebase(self, now_us: int) -> None:
        self.position, self.since_us = self.at(now_us), now_us

    def advance(self, now_us: int) -> None:
        if now_us in self.paces:
            self._change_pace(now_us, self.paces[now_us])
        position = self.at(now_us)
        for switch in self.limits:
            switch.update(position)
        stalled = self.way if self.moving(now_us) == 0 else 0
        for pressure in self.pressures:
            pressure.update(now_us, stalled)
        self.due_us = self._next(now_us)

    def _change_pace(self, now_us: int, pace: Pace) -> None:
        """Go on so as to be at a place by a time; half a microsecond sooner to be past it then."""
        left = (pace.at_um * self.unit - self.at(now_us)) * self.way
        time = pace.by_us - now_us - (Fraction(1, 2) if pace.past else 0)
        if left <= 0 or time <= 0:
            return
        self.rebase(now_us)
        self.speeds[self.drive] = Fraction(left) / time

    def _next(self, now_us: int) -> int | None:
        dues = [p.due_us for p in self.pressures if p.due_us is not None]
        if self.moving(now_us):
            speed, position = self.speeds[self.drive], self.at(now_us)
            left = self.full - position if self.way > 0 else position
            dues.append(now_us - (-left // speed))
            for switch in self.limits:
                due = switch.due(position, self.way, speed, self.full)
                if due is not None:
                    dues.append(now_us + due)
        return min(dues, default=None)

    def copy(self) -> _Rod:
        twin = copy(self)
        twin.speeds = dict(self.speeds)
        twin.limits = tuple(copy(s) for s in self.limits)
        twin.pressures = tuple(copy(s) for s in self.pressures)
        return twin


def _driven(valve: Valve, now: _Drive, on: Collection[str]) -> _Drive:
    """What a valve does with these loads on. With both solenoids on, a memory valve stays as it was, and a
    three-position valve in its centre."""
    way = _sent(valve, now.way, on)
    return _Drive(way, rapid=way > 0 and valve.rapid is not None and valve.rapid.solenoid in on)


def _sent(valve: Valve, now: int, on: Collection[str]) -> int:
    extend, retract = valve.extend in on, valve.retract in on
    match valve.kind:
        case ValveKind.SPRING_RETURN if valve.extend is not None:
            return 1 if extend else -1
        case ValveKind.SPRING_RETURN:
            return -1 if retract else 1
        case ValveKind.MEMORY:
            return now if extend == retract else 1 if extend else -1
        case ValveKind.THREE_POSITION:
            return extend - retract


class Plant:
    """The moving parts of a machine, standing at rest at time 0.

    The hydraulic or pneumatic supply is always there; what a lost control supply does follows from the valves.
    Raises KeyError when ``strokes`` leaves out an actuator, or the time of its stroke out done rapidly.
    """

    def __init__(self, machine: Machine, strokes: Collection[StrokeTimes], paces: Collection[Pace] = ()) -> None:
        times = {s.actuator: s for s in strokes}
        self._rods = {a.name: _Rod(a, times[a.name], paces) for a in machine.actuators}

    def due_us(self) -> int | None:
        """When something next happens by itself, or None if everything stands and stays."""
        return min((rod.due_us for rod in self._rods.values() if rod.due_us is not None), default=None)

    def advance(self, now_us: int) -> None:
        """Bring every switch to its state at ``now_us``. Never go past ``due_us``."""
        for rod in self._rods.values():
            if rod.due_us is not None and rod.due_us <= now_us:
                rod.advance(now_us)

    def command(self, now_us: int, on: Collection[str]) -> None:
        """Switch the valves: ``on`` are the outputs that are on from ``now_us``. No switch changes at once."""
        for rod in self._rods.values():
            drive = _driven(rod.valve, rod.drive, on)
            if drive != rod.drive:
                rod.rebase(now_us)
                rod.drive = drive
                rod.advance(now_us)

    def jam(self, now_us: int, actuator: str, jammed: bool) -> None:
        """Stop an actuator where it stands, or let it go on. Raises KeyError for an unknown actuator."""
        rod = self._rods[actuator]
        rod.rebase(now_us)
        rod.jammed = jammed
        rod.advance(now_us)

    def made(self) -> dict[str, bool]:
        """Every limit and pressure switch, and whether it is made."""
        limits = {s.name: s.made for rod in self._rods.values() for s in rod.limits}
        return limits | {s.name: s.made for rod in self._rods.values() for s in rod.pressures}

    def motion(self, now_us: int) -> dict[str, tuple[int, int]]:
        """Every actuator: its position in micrometres from home, and 1, -1 or 0 for out, back or standing."""
        return {name: (rod.at(now_us) // rod.unit, rod.moving(now_us)) for name, rod in self._rods.items()}

    def rapid(self, now_us: int) -> frozenset[str]:
        """The actuators that are on a stroke out made quick by a further solenoid."""
        return frozenset(name for name, rod in self._rods.items() if rod.drive.rapid and rod.moving(now_us))

    def moving(self, now_us: int) -> bool:
        """Whether any rod is on its way."""
        return any(rod.moving(now_us) for rod in self._rods.values())

    def at_rest(self, now_us: int) -> bool:
        """Whether every rod stands where it stood before the first cycle, and its valve keeps it there."""
        return all(rod.at(now_us) == rod.rest and not rod.moving(now_us) for rod in self._rods.values())

    def copy(self) -> Plant:
        """An independent twin, to look ahead with."""
        twin = copy(self)
        twin._rods = {name: rod.copy() for name, rod in self._rods.items()}
        return twin
