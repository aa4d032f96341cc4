"""The product that is searched: plant, operator and two logics that see the same inputs; one drives, one shadows.

What may happen in a situation, and what situation that leads to, is worked out once, whichever assumptions are made:
each event carries what it goes beyond, and a search leaves out the events that its world excludes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import copy

from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.clocks import Clocks, Clockwork, Deadline
from compiler.proof.rods import Place, Pressure, Rod
from compiler.proof.situation import Happening, Move, Situation
from compiler.proof.table import CHATTERS, OFF, Nothing, Table
from compiler.proof.world import APART, CAREFUL, FAULTY, JAM, SUPPLY, World
from compiler.simulation.run import EventKind

__all__ = ["Product"]

_NONE: frozenset[int] = frozenset()
_WORKS = (0, 0)


class Product:
    """Two logics and a machine, or one logic alone. ``extra`` are outputs of theirs that are no loads of the machine.

    Raises KeyError for an input that the machine does not have.
    """

    def __init__(self, driver: Logic, shadow: Logic | None, machine: Machine, extra: Sequence[str] = ()) -> None:
        devices = [i.name for i in machine.inputs]
        loads = [*(load.name for load in machine.loads), *extra]
        self._compared = 0 if shadow is None else -1
        self.machine = machine
        self.driver = Table(driver, devices, loads)
        self.shadow = Table(shadow or Nothing(), devices, loads, timers_from=len(driver.timers))
        bit = {name: 1 << k for k, name in enumerate(devices)}
        read = self.driver.reads | self.shadow.reads
        seen = {name: b for name, b in bit.items() if b & read}
        self.rods = tuple(Rod(a, seen, loads) for a in machine.actuators)
        self.pressures = tuple(p for k, a in enumerate(machine.actuators) for p in Pressure.of(a, k, seen))
        owned = {s.name for a in machine.actuators for s in (*a.limit_switches, *a.pressure_switches)}
        self.free = tuple((name, b) for name, b in seen.items() if name not in owned)
        self._switches = tuple(b for name, b in seen.items() if name in owned)
        self.start = bit.get(machine.start or "", 0) & read
        self.stop = bit.get(machine.stop or "", 0) & read
        self._begun = 0  # a bit beside the inputs: START, which is still down, has begun something
        self._fails = False
        self._seen: dict[tuple[bool, bool], Product] = {(False, False): self}
        self._names = {b: name for name, b in bit.items()}
        off_on = (False, True)
        self._toggled = {b: [Happening(name, EventKind.INPUT, on) for on in off_on] for name, b in self.free}
        self._shadow_from = len(self.driver.presets)
        self._rods_from = self._shadow_from + len(self.shadow.presets)
        self._clockwork = Clockwork(self.driver.presets, self.shadow.presets)
        self._pressures_from = self._rods_from + len(self.rods)
        self._situations: dict[tuple[object, ...], Situation] = {}

    def __len__(self) -> int:
        """How many situations have been met."""
        return len(self._situations)

    def seen_in(self, world: World) -> Product:
        """The product for a world. Only where the operator is careful need it be known what START has begun, and
        only where a switch may fail need its failures be looked at."""
        kind = (world.careful, world.failing)
        if kind not in self._seen:
            twin = self._seen[kind] = copy(self)
            twin._begun = 1 << len(self.machine.inputs) if world.careful else 0
            twin._fails = world.failing
            twin._situations = {}
        return self._seen[kind]

    def first(self) -> Move:
        """The supply comes on with every rod at rest and nothing pressed."""
        places = tuple(rod.at_rest for rod in self.rods)
        pressed = sum(p.bit for p in self.pressures if p.pressed(places[p.rod]))
        before = Situation(OFF, OFF, 0, False, places, pressed, self._clockwork.none, _WORKS, False, -1, 1, (), ())
        happening = Happening(kind=EventKind.SUPPLY, on=True)
        return self._lead(before, happening, supply=True)

    def inputs(self, situation: Situation) -> int:
        """Every input that is actuated."""
        return _shown(situation.free | situation.pressed, situation.places, situation.stuck)

    # --- what may happen ------------------------------------------------------------------------------------

    def moves(self, at: Situation, excluded: int = 0) -> list[Move]:
        """All that may happen but the expiry of timers. Events that go beyond ``excluded`` may be among them, but of
        failures and of what the supply does those that are left out are not even worked out."""
        if at.moves is None:
            at.moves = [*self._passings(at), *self._pressure_changes(at), *self._toggles(at)]
        found = at.moves
        for bit, events in ((JAM, self._jams), (FAULTY, self._failures), (SUPPLY, self._supply)):
            if not excluded & bit:
                if bit not in at.rare:
                    at.rare[bit] = list(events(at))
                found = found + at.rare[bit]
        return found

    def expiries(self, situation: Situation, due: tuple[Deadline, ...]) -> list[Move]:
        """Some deadlines are met at one instant: one move."""
        known = situation.expiries.get(due)
        if known is None:
            expired = (_NONE.union(*(d.timers[0] for d in due)), _NONE.union(*(d.timers[1] for d in due)))
            known = situation.expiries[due] = [self._lead(situation, Happening(expired=expired))]
        return known

    def _passings(self, at: Situation) -> Iterator[Move]:
        clocks = at.clocks.of
        for k, place in enumerate(at.places):
            passing = place.passing
            if passing is None:
                continue
            places = (*at.places[:k], passing.place, *at.places[k + 1 :])
            happening = Happening(device=self.rods[k].actuator.name, at_um=passing.at_um)
            move = self._lead(at, happening, places=places)
            move.clock = clocks[self._rods_from + k]
            move.soonest_us, move.exactly_us = passing.soonest_us, passing.exactly_us
            yield move

    def _pressure_changes(self, at: Situation) -> Iterator[Move]:
        clocks = at.clocks.of
        for k, pressure in enumerate(self.pressures):
            clock = clocks.get(self._pressures_from + k)
            if clock is not None:
                happening = Happening(device=self._names[pressure.bit])
                move = self._lead(at, happening, pressed=at.pressed ^ pressure.bit)
                move.clock = clock
                move.soonest_us = move.exactly_us = self._pressure_time(k, at.pressed)
                yield move

    def _pressure_time(self, k: int, made: int) -> int:
        pressure = self.pressures[k]
        return pressure.goes_us if made & pressure.bit else pressure.build_up_us

    def _toggles(self, at: Situation) -> Iterator[Move]:
        for bit, happenings in self._toggled.items():
            on = not at.free & bit
            move = self._lead(at, happenings[on], free=at.free ^ bit)
            if on and bit == self.start:
                if at.free & self.stop:
                    move.beyond |= APART | CAREFUL
                if self._begun and not self._begins(at, move.target):
                    move.beyond |= CAREFUL
            elif on and bit == self.stop and at.free & self.start:
                move.beyond |= APART | CAREFUL
            yield move

    def _begins(self, at: Situation, after: Situation) -> bool:
        """Whether a press of START finds the machine ready: every rod stands, and something comes on inside, a time
        begins or, with every rod at rest, a load is switched."""
        if not at.supply or not all(place.standing for place in at.places):
            return False
        driver, table = after.driver, self.driver
        if table.shown(driver) != table.shown(at.driver) or self._times_change(at, driver, _NONE):
            return True
        at_rest = all(rod.rests(place) for place, rod in zip(at.places, self.rods, strict=True))
        return at_rest and table.on(driver) != table.on(at.driver)

    def _jams(self, at: Situation) -> Iterator[Move]:
        if self._has_failed(at):
            return
        for k, place in enumerate(at.places):
            if place.moving:
                happening = Happening(device=self.rods[k].actuator.name, kind=EventKind.JAM, on=True)
                jammed = self.rods[k].jam(place)
                move = self._lead(at, happening, places=(*at.places[:k], jammed, *at.places[k + 1 :]))
                move.beyond |= JAM
                yield move

    def _failures(self, at: Situation) -> Iterator[Move]:
        """A switch sticks."""
        if not self._fails or self._has_failed(at):
            return
        for bit in self._switches:
            for kind, shows in ((EventKind.STUCK_MADE, bit), (EventKind.STUCK_OPEN, 0)):
                move = self._lead(at, Happening(self._names[bit], kind, on=True), stuck=(bit, shows))
                move.beyond |= FAULTY
                yield move

    def _has_failed(self, at: Situation) -> bool:
        return bool(at.stuck[0]) or any(place.jammed for place in at.places)

    def _supply(self, at: Situation) -> Iterator[Move]:
        move = self._lead(at, Happening(kind=EventKind.SUPPLY, on=not at.supply), supply=not at.supply)
        move.beyond |= SUPPLY
        if not at.supply and at.free & self.start:
            move.beyond |= CAREFUL
        yield move

    # --- where it leads -------------------------------------------------------------------------------------

    def _lead(
        self,
        at: Situation,
        happening: Happening,
        *,
        free: int | None = None,
        supply: bool | None = None,
        places: tuple[Place, ...] | None = None,
        pressed: int | None = None,
        stuck: tuple[int, int] | None = None,
    ) -> Move:
        free = at.free if free is None else free
        supply = at.supply if supply is None else supply
        places = at.places if places is None else places
        pressed = at.pressed if pressed is None else pressed
        stuck = at.stuck if stuck is None else stuck
        inputs = _shown(free | pressed, places, stuck)
        driver, shadow, fresh = self._react(at, inputs, supply, happening.expired)
        same = driver == at.driver and shadow == at.shadow and pressed == at.pressed and places is at.places
        if same and not fresh:  # no valve has anything new to obey
            carried = self._clockwork.kept(at.clocks)
        else:
            places, fresh = self._command(places, pressed, self.driver.on(driver), fresh)
            running = self._running(driver, shadow, places, pressed)
            carried = self._clockwork.carried(at.clocks, running, fresh)
        beyond = 0
        if self._begun:
            free, beyond = self._hold(at, free, driver, fresh)
        target = self._situation(driver, shadow, free, supply, places, pressed, carried.clocks, stuck)
        return Move(happening, target, carried.choice, beyond, births=carried.births)

    def _hold(self, at: Situation, free: int, driver: int, fresh: frozenset[int]) -> tuple[int, int]:
        """What is pressed, with the bit that says that START has begun something, and what that goes beyond. The
        first light is what START begins; a careful operator has let go before anything else changes."""
        if not free & self.start:
            return free & ~self._begun, 0
        lights = self.driver.shown(driver) != self.driver.shown(at.driver)
        careless = free & self._begun and (lights or self._times_change(at, driver, fresh))
        return free | self._begun * lights, CAREFUL if careless else 0

    def _times_change(self, at: Situation, driver: int, fresh: frozenset[int]) -> bool:
        """Whether a timer of the driver begins, begins anew, or ends."""
        same = self.driver.runs(driver) == self.driver.runs(at.driver)
        return not same or any(watch < self._shadow_from for watch in fresh)

    def _react(
        self, at: Situation, inputs: int, supply: bool, expired: tuple[frozenset[int], frozenset[int]]
    ) -> tuple[int, int, frozenset[int]]:
        """The new states, and the timers whose clocks begin anew."""
        if not supply:
            return OFF, OFF, _NONE
        # A clock that ran out and is said to run on can only have begun again.
        driver, started = self.driver.turn(at.driver, inputs, expired[0])
        fresh = started | expired[0] if expired[0] else started
        shadow, started = self.shadow.turn(at.shadow, inputs, expired[1])
        anew = started | expired[1] if expired[1] else started
        if anew:
            fresh |= {k + self._shadow_from for k in anew}
        return driver, shadow, fresh

    def _command(
        self, places: tuple[Place, ...], pressed: int, on: int, fresh: frozenset[int]
    ) -> tuple[tuple[Place, ...], frozenset[int]]:
        """The valves obey. Rods that set out have a new clock; so has a pressure switch that stood as it should for
        where its rod had come, if only to be turned there, and now is to change."""
        for k, place in enumerate(places):
            after, sets_out = self.rods[k].obey(place, on)
            if after is not place:
                places = (*places[:k], after, *places[k + 1 :])
                fresh |= {
                    j + self._pressures_from
                    for j, p in enumerate(self.pressures)
                    if p.rod == k and p.pressed(place) is bool(pressed & p.bit)
                }
                if sets_out:
                    fresh |= {self._rods_from + k}
        return places, fresh

    def _running(self, driver: int, shadow: int, places: tuple[Place, ...], pressed: int) -> tuple[int, ...]:
        """The numbers of everything that runs."""
        running = [*self.driver.runs(driver), *self.shadow.runs(shadow)]
        for k, place in enumerate(places, self._rods_from):
            if place.passing is not None:
                running.append(k)
        for k, p in enumerate(self.pressures, self._pressures_from):
            if p.pressed(places[p.rod]) is not bool(pressed & p.bit):
                running.append(k)
        return tuple(running)

    def _situation(
        self,
        driver: int,
        shadow: int,
        free: int,
        supply: bool,
        places: tuple[Place, ...],
        pressed: int,
        clocks: Clocks,
        stuck: tuple[int, int] = _WORKS,
    ) -> Situation:
        key = (driver, shadow, free, supply, pressed, places, clocks.number, stuck)
        known = self._situations.get(key)
        if known is None:
            # Where the driver never settles nothing can be compared; a shadow that never settles differs.
            alike = driver == CHATTERS or (
                shadow != CHATTERS and (self.driver.on(driver) ^ self.shadow.on(shadow)) & self._compared == 0
            )
            limits = self._limits(clocks, places, pressed)
            known = self._situations[key] = Situation(
                driver,
                shadow,
                free,
                supply,
                places,
                pressed,
                clocks,
                stuck,
                not alike,
                len(self._situations),
                clocks.size,
                limits,
                clocks.deadlines,
            )
        return known

    def _limits(self, clocks: Clocks, places: tuple[Place, ...], pressed: int) -> tuple[tuple[int, int], ...]:
        """How far each clock may read."""
        if not clocks.others:
            return clocks.limits
        limits = dict(clocks.limits)
        for watch, clock in clocks.others:
            if watch < self._pressures_from:
                passing = places[watch - self._rods_from].passing
                assert passing is not None
                limit = passing.latest_us
            else:
                limit = self._pressure_time(watch - self._pressures_from, pressed)
            limits[clock] = min(limit, limits.get(clock, limit))
        return tuple(limits.items())


def _shown(inputs: int, places: tuple[Place, ...], stuck: tuple[int, int]) -> int:
    """All inputs, those of rods among them; a switch that sticks shows what it shows."""
    for place in places:
        inputs |= place.made
    return inputs & ~stuck[0] | stuck[1]
