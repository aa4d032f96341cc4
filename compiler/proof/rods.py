"""The moving parts of a machine as an exhaustive search sees them: every stroke time within its limits at once.

A rod is at one of finitely many *places*: standing at an end or where its valve let it stop, jammed, or on its way
between two things it passes (a switch that makes or lets go, an end). When it passes the next one is told by a window
of time since it set out:

* A stroke passes what lies ``dmin`` ahead of the front of where it may have set out, and ``dmax`` ahead of the rear,
  no sooner than ``least * dmin / stroke`` (and later than at once) and no later than ``greatest * dmax / stroke``. So
  a stroke may be uneven within its limits, and after a reversal the way back takes anything up to its full time.
  Turned round twice a rod may so cross in no time: two logics may then seem to differ that do not, which
  ``compiler.proof.hasty`` sees and tells, but never seem the same.
* A limit switch lets go between the place where it made and its reset travel, never at once.
* A valve in its centre stops its rod somewhere between what it last passed and what it passes next; sent on, it sets
  out from anywhere there. So does a rod whose stroke is made quick, or slow again, on the way: from there on it keeps
  to the window of that speed. Being told to go on as it does changes nothing.
* A rod may jam wherever it moves, and stays there for good, whatever is commanded.

A pressure switch makes exactly its build-up time after the rod has come to stand against it, driven, and lets go
exactly ``PRESSURE_GOES_US`` after that has ceased, as in the simulator.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from compiler.machine import Actuator, End, LimitSwitch, PressureSwitch, Valve, ValveKind
from compiler.simulation.plant import PRESSURE_GOES_US

__all__ = ["Drive", "Passing", "Place", "Pressure", "Rod", "Solenoids"]

_WAY = {End.HOME: -1, End.END: 1}


class Drive(NamedTuple):
    """What a valve does with its rod: sends it out (1), back (-1), neither (0); ``rapid`` on a quick stroke out."""

    way: int
    rapid: bool = False


@dataclass(eq=False, slots=True, repr=False)
class Place:
    """Where a rod is and what it does. ``made`` are the bits of its limit switches that are made.

    It set out (or stands, or is jammed) somewhere from ``rear_um`` to ``front_um``, front being nearer to where it
    goes, and has since passed ``since_um``. ``standing`` at an end or let stop (its way is then 0, and rear is nearer
    to home), ``jammed``, or neither: it is moving. Only a moving rod may be ``rapid``.
    """

    way: int
    rapid: bool
    rear_um: int
    front_um: int
    since_um: int
    made: int
    standing: bool
    jammed: bool
    rank: int = 0
    passing: Passing | None = None
    obeyed: dict[int, tuple[Place, bool]] = field(default_factory=dict)
    jams: Place | None = None

    @property
    def moving(self) -> bool:
        return not (self.standing or self.jammed)

    @property
    def drive(self) -> Drive:
        return Drive(self.way, self.rapid)


@dataclass(frozen=True, eq=False, slots=True)
class Passing:
    """What a moving rod passes next: when, since it set out, and its place then.

    ``soonest_us`` 0 means later than at once; ``exactly_us`` is the soonest when strokes take their greatest time.
    ``at_um`` is where; a switch that ``lets_go`` does so once past it.
    """

    soonest_us: int
    exactly_us: int
    latest_us: int
    place: Place
    at_um: int
    lets_go: bool


@dataclass(frozen=True, slots=True)
class _Mark:
    """Something on the way: a switch (its bit) that makes or lets go there, or the end of the stroke (no bit).
    ``from_um`` is where a letting go may begin."""

    at_um: int
    from_um: int
    bit: int
    makes: bool
    lets_go: bool


class Rod:
    """The places of one actuator, made as they are asked for. ``bits`` gives the bit of each of its switches; those
    that are missing are left out (nobody reads them). ``loads`` are all there are, its solenoids among them."""

    def __init__(self, actuator: Actuator, bits: dict[str, int], loads: Sequence[str]) -> None:
        self.actuator = actuator
        self._solenoids = Solenoids.of(actuator.valve, loads)
        self._heeds = self._solenoids.all
        self.stroke_um = actuator.stroke_um
        self._places: dict[tuple[int, bool, int, int, int, int, bool, bool], Place] = {}
        watched = [s for s in actuator.limit_switches if s.name in bits]
        self._marks = {way: _marks(watched, bits, way, self.stroke_um) for way in (1, -1)}
        self._travel = {Drive(1): actuator.extend_time, Drive(-1): actuator.retract_time}
        if actuator.valve.rapid is not None:
            self._travel[Drive(1, rapid=True)] = actuator.valve.rapid.time
        self._rest_um = at_um = self.stroke_um if actuator.rest is End.END else 0
        made = sum(bits[s.name] for s in watched if (at_um - s.at_um) * _WAY[s.toward] >= 0)
        centred = actuator.valve.kind is ValveKind.THREE_POSITION
        way = 0 if centred else _WAY[actuator.rest]
        self.at_rest = self._place(Drive(way), at_um, at_um, at_um, made, standing=True)

    def rests(self, place: Place) -> bool:
        """Whether it stands where it stood in the beginning, driven there or not."""
        return place.standing and place.rear_um == place.front_um == self._rest_um

    def obey(self, place: Place, on: int) -> tuple[Place, bool]:
        """The place with these loads on, and whether the rod sets out by that."""
        on &= self._heeds
        known = place.obeyed.get(on)
        if known is None:
            known = place.obeyed[on] = self.turn(place, self._solenoids.drive(on, place.way))
        return known

    def turn(self, place: Place, drive: Drive) -> tuple[Place, bool]:
        """The place as its valve drives it so, and whether it sets out by that."""
        if drive.way == place.way and (drive.rapid is place.rapid or not place.moving):
            return place, False
        rear, front = sorted(self._between(place), reverse=drive.way < 0)
        end = self.stroke_um if drive.way > 0 else 0
        stands = drive.way == 0 or rear == front == end
        still = place.jammed or stands
        after = self._place(
            Drive(drive.way) if still else drive,
            *(rear, front, rear, place.made),
            standing=stands and not place.jammed,
            jammed=place.jammed,
        )
        return after, not still

    def jam(self, place: Place) -> Place:
        """A moving rod stops where it is."""
        if place.jams is None:
            rear, front = self._between(place)
            place.jams = self._place(Drive(place.way), rear, front, rear, place.made, jammed=True)
        return place.jams

    def _between(self, place: Place) -> tuple[int, int]:
        """What the rod has last passed (or where it set out) and what it passes next, as it goes its way."""
        if place.passing is None:
            return place.rear_um, place.front_um
        return place.since_um, place.passing.at_um

    def _place(
        self,
        drive: Drive,
        rear: int,
        front: int,
        since: int,
        made: int,
        *,
        standing: bool = False,
        jammed: bool = False,
    ) -> Place:
        key = (*drive, rear, front, since, made, standing, jammed)
        known = self._places.get(key)
        if known is None:
            known = self._places[key] = Place(*key, rank=len(self._places))
            if known.moving:
                known.passing = self._passing(known)
        return known

    def _passing(self, place: Place) -> Passing:
        """What comes next. Marks that change nothing are gone past unnoticed.

        What makes at one place makes together, and with the end; each that lets go there does so by itself, after
        it.
        """
        way, made, since = place.way, place.made, place.since_um
        ahead = [m for m in self._marks[way] if m.at_um * way > since * way or not m.bit]
        left = [m for m in self._marks[way] if m.at_um == since and m.lets_go and made & m.bit]
        mark = next(m for m in (*left, *ahead) if not m.bit or bool(made & m.bit) is not m.makes)
        here = [mark] if mark.lets_go else [m for m in ahead if m.at_um == mark.at_um and not m.lets_go]
        for m in here:
            made = made | m.bit if m.makes else made & ~m.bit
        soonest, exactly, latest = self._window(place, mark)
        if any(not m.bit for m in here):
            after = self._place(Drive(way), mark.at_um, mark.at_um, mark.at_um, made, standing=True)
        else:
            after = self._place(place.drive, place.rear_um, place.front_um, mark.at_um, made)
        return Passing(soonest, exactly, latest, after, mark.at_um, mark.lets_go)

    def _window(self, place: Place, mark: _Mark) -> tuple[int, int, int]:
        travel, way, stroke = self._travel[place.drive], place.way, self.stroke_um
        most = (mark.at_um - place.rear_um) * way
        shortest = max((mark.from_um - place.front_um) * way, 0)
        soonest, exactly = -(-travel.least_us * shortest // stroke), -(-travel.greatest_us * shortest // stroke)
        if mark.lets_go:
            latest = travel.greatest_us * most // stroke + 1
        else:
            latest = max(1, -(-travel.greatest_us * most // stroke))
        return soonest, min(exactly, latest), latest


def _marks(switches: list[LimitSwitch], bits: dict[str, int], way: int, stroke_um: int) -> list[_Mark]:
    """What a rod passes on a whole stroke one way, in order, the end of the stroke last."""
    found = []
    for switch in switches:
        toward = _WAY[switch.toward]
        if toward == way:
            found.append(_Mark(switch.at_um, switch.at_um, bits[switch.name], makes=True, lets_go=False))
        else:
            past = switch.at_um - toward * switch.reset_um
            if 0 < past < stroke_um:
                found.append(_Mark(past, switch.at_um, bits[switch.name], makes=False, lets_go=True))
    end = stroke_um if way > 0 else 0
    found.append(_Mark(end, end, 0, makes=True, lets_go=False))
    return sorted(found, key=lambda mark: (mark.at_um * way, mark.lets_go, not mark.bit))


@dataclass(frozen=True, slots=True)
class Pressure:
    """A pressure switch: its bit, which rod it belongs to, the way it is pressed, and its two times."""

    rod: int
    bit: int
    toward: int
    build_up_us: int
    goes_us: int = PRESSURE_GOES_US

    def pressed(self, place: Place) -> bool:
        """Whether the rod is driven against it and stands or is jammed."""
        return not place.moving and place.way == self.toward

    @staticmethod
    def of(actuator: Actuator, rod: int, bits: dict[str, int]) -> tuple[Pressure, ...]:
        """Those of an actuator that somebody reads; a spring, not pressure, brings a single-acting cylinder home."""

        def one(switch: PressureSwitch) -> Pressure:
            return Pressure(rod, bits[switch.name], _WAY[switch.toward], switch.build_up_us)

        return tuple(
            one(s)
            for s in actuator.pressure_switches
            if s.name in bits and not (actuator.single_acting and s.toward is End.HOME)
        )


@dataclass(frozen=True, slots=True)
class Solenoids:
    """The bits of a valve's solenoids among the loads, 0 for one it does not have, and what the valve is."""

    kind: ValveKind
    extend: int
    retract: int
    rapid: int

    @property
    def all(self) -> int:
        return self.extend | self.retract | self.rapid

    @staticmethod
    def of(valve: Valve, loads: Sequence[str]) -> Solenoids:
        """Those of a valve, bit k being the k-th of the loads."""
        names = (valve.extend, valve.retract, None if valve.rapid is None else valve.rapid.solenoid)
        extend, retract, rapid = (0 if name is None else 1 << loads.index(name) for name in names)
        return Solenoids(valve.kind, extend, retract, rapid)

    def drive(self, on: int, now: int) -> Drive:
        """What the valve does with its rod, which it sent the way ``now``, with these loads on."""
        way = self._way(bool(on & self.extend), bool(on & self.retract), now)
        return Drive(way, way > 0 and bool(on & self.rapid))

    def _way(self, out: bool, back: bool, now: int) -> int:
        match self.kind:
            case ValveKind.SPRING_RETURN if self.extend:
                return 1 if out else -1
            case ValveKind.SPRING_RETURN:
                return -1 if back else 1
            case ValveKind.MEMORY:
                return now if out is back else 1 if out else -1
            case ValveKind.THREE_POSITION:
                return out - back
