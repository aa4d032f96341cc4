"""The closed loop of plant, operator and two logics, explored one unit tick at a time.

An independent second opinion on the proof: no zones and no clever plans, only situations, whole clocks that count up
together, and a search. It shares nothing with ``compiler/proof``, and nothing with the simulator but the Logics.

Ticks and dense time. With bounds that include their ends, whole ticks reach exactly what dense time reaches (the
digital clocks of Henzinger, Manna and Pnueli, 1992, from memory). The bounds here do, but for two things: a place is
passed strictly later than its rod set out, and a difference counts only when it lasts. Both become "at least one
tick", which is too coarse only where more such moments must fit in a span than it has ticks. So give every time as
a multiple of several ticks (four are used), and confirm verdicts with half the tick (``test_ticks.py`` does).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from compiler.logic import Bits, Chattering, Logic, Reaction
from compiler.machine import End, Machine, PressureSwitch
from tests.proof.rules import Rules
from tests.proof.travel import Place, Rod, at_rest, commanded, freed, jammed, next_place, passed, sent

__all__ = ["Found", "TooCoarse", "explore_ticks"]

PRESSURE_GOES_US = 10_000  # as the plant's own documentation says


@dataclass(frozen=True, slots=True)
class Found:
    """Whether a difference can be reached, after how many events at least, and the run: ticks and what happened.
    ``driver_chatters``: the driving logic never settles somewhere; what follows there is not looked at."""

    differs: bool
    events: int
    run: tuple[tuple[int, str], ...]
    states: int
    driver_chatters: bool = False


class TooCoarse(ValueError):
    """There is no tick in the window of time in which something must happen."""


class Situation(NamedTuple):
    """All there is but the clocks. ``shadow`` is None without supply, and from when it chatters until that goes."""

    supply: bool
    inputs: Bits
    driver: Reaction | None
    shadow: Reaction | None
    rods: tuple[Rod, ...]
    pressures: tuple[bool, ...]
    chatters: bool = False
    begun: bool = False  # by a careful press of START, which is still down
    stuck: tuple[int, bool] | None = None  # a switch that has failed, its place among the inputs, and what it shows


Clocks = tuple[int, ...]  # of driver timers, shadow timers, rods, pressure switches; 0 for one that stands still


class Event(NamedTuple):
    """Something that may happen when clock ``clock`` reads at least ``least`` (-1: at any time). Where a switch
    sticks, ``least`` is what it shows from then on."""

    says: str
    kind: str
    which: int = 0
    clock: int = -1
    least: int = 0


def explore_ticks(
    driver: Logic, shadow: Logic, machine: Machine, rules: Rules, *, tick_us: int = 1, most: int = 2_000_000
) -> Found:
    """Explore it all. Raises OverflowError past ``most`` states, and ValueError when a tick is too coarse."""
    world = _World(driver, shadow, machine, rules, tick_us)
    first = world.first()
    before: dict[tuple[Situation, Clocks], tuple[tuple[Situation, Clocks], str] | None] = {first: None}
    depth = {first: 0}
    queue = deque([first])
    done: set[tuple[Situation, Clocks]] = set()
    while queue:
        state = queue.popleft()
        if state in done:
            continue
        done.add(state)
        situation, clocks = state
        caps = world.caps(situation)
        waits = all(cap is None or clock < cap for clock, cap in zip(clocks, caps, strict=True))
        if waits and (situation.chatters or world.outputs(situation, 0) != world.outputs(situation, 1)):
            return Found(True, depth[state], _run(before, state), len(done), world.driver_chatters)
        following = [(s, e, 1) for s, e in world.successors(situation, clocks)]
        if waits:
            later = tuple(c if cap is None else c + 1 for c, cap in zip(clocks, caps, strict=True))
            following.append(((situation, later), "", 0))
        for after, says, cost in following:
            reached = depth[state] + cost
            if after not in depth or reached < depth[after]:
                depth[after], before[after] = reached, (state, says)
                (queue.append if cost else queue.appendleft)(after)
        if len(depth) > most:
            raise OverflowError(f"more than {most} states")
    return Found(False, 0, (), len(done), world.driver_chatters)


def _run(
    before: dict[tuple[Situation, Clocks], tuple[tuple[Situation, Clocks], str] | None],
    state: tuple[Situation, Clocks],
) -> tuple[tuple[int, str], ...]:
    told: list[str] = []
    step = before[state]
    while step is not None:
        told.append(step[1])
        step = before[step[0]]
    now, run = 0, []
    for says in reversed(told):
        if says:
            run.append((now, says))
        else:
            now += 1
    return (*run, (now, "differs"))


class _World:
    def __init__(self, driver: Logic, shadow: Logic, machine: Machine, rules: Rules, tick_us: int) -> None:
        self.logics, self.machine, self.rules, self.tick_us = (driver, shadow), machine, rules, tick_us
        self.driver_chatters = False
        self.devices = tuple(i.name for i in machine.inputs)
        self.switches = [
            tuple(self.devices.index(s.name) for s in actuator.limit_switches) for actuator in machine.actuators
        ]
        self.pressures: list[tuple[int, PressureSwitch, int]] = [  # rod, switch, its place among the inputs
            (k, switch, self.devices.index(switch.name))
            for k, actuator in enumerate(machine.actuators)
            for switch in actuator.pressure_switches
            if not (actuator.single_acting and switch.toward is End.HOME)  # a spring, not pressure, brings it home
        ]
        seen = {s.name for a in machine.actuators for s in (*a.limit_switches, *a.pressure_switches)}
        self.free = [k for k, name in enumerate(self.devices) if name not in seen]
        self.start = self._place(machine.start)
        self.stop = self._place(machine.stop)
        counts = [len(logic.timers) for logic in self.logics]
        self.rod_clock = sum(counts)
        self.pressure_clock = self.rod_clock + len(machine.actuators)
        self.timers = [(side, k) for side in (0, 1) for k in range(counts[side])]
        self.caps = lru_cache(maxsize=None)(self._caps)
        self.events = lru_cache(maxsize=None)(self._events)
        self.after = lru_cache(maxsize=None)(self._after)
        self.outputs = lru_cache(maxsize=None)(self._outputs)

    def _place(self, name: str | None) -> int | None:
        return None if name is None else self.devices.index(name)

    # --- clocks ---------------------------------------------------------------------------------------------------

    def _ticks(self, time_us: int) -> int:
        if time_us % self.tick_us:
            raise ValueError(f"{time_us} us are not whole ticks of {self.tick_us} us")
        return time_us // self.tick_us

    def window(self, situation: Situation, k: int) -> tuple[int, int, Place] | None:
        """In which ticks a rod may pass its next place, at the earliest one after it set out."""
        place = next_place(self.machine.actuators[k], situation.rods[k], exact=self.rules.exact)
        if place is None:
            return None
        earliest, latest = max(1, -(-place.earliest // self.tick_us)), place.latest // self.tick_us
        if earliest > latest:
            raise TooCoarse(f"no tick of {self.tick_us} us within {place}")
        return earliest, latest, place

    def _caps(self, situation: Situation) -> tuple[int | None, ...]:
        """The greatest reading of every clock, None for one that stands still."""
        sides = (situation.driver, situation.shadow)
        caps: list[int | None] = []
        for side, k in self.timers:
            reaction = sides[side]
            runs = reaction is not None and k in reaction.running
            caps.append(self._ticks(self.logics[side].timers[k].preset_us) if runs else None)
        for k in range(len(situation.rods)):
            window = self.window(situation, k)
            caps.append(None if window is None else window[1])
        for made, (k, switch, _) in zip(situation.pressures, self.pressures, strict=True):
            due = switch.build_up_us if not made else PRESSURE_GOES_US
            caps.append(self._ticks(due) if self._pressed(situation.rods[k], k, switch) != made else None)
        return tuple(caps)

    def _pressed(self, rod: Rod, k: int, switch: PressureSwitch) -> bool:
        return not rod.moving and rod.way == (1 if switch.toward is End.END else -1)

    # --- what may happen ------------------------------------------------------------------------------------------

    def first(self) -> tuple[Situation, Clocks]:
        rods = tuple(at_rest(actuator) for actuator in self.machine.actuators)
        pressures = tuple(self._pressed(rods[k], k, switch) for k, switch, _ in self.pressures)
        dead = Situation(False, (False,) * len(self.devices), None, None, rods, pressures)
        dead = dead._replace(inputs=self._seen(dead))
        found = self.after(dead, Event("", "supply"), frozenset())
        if found is None:
            raise ValueError("the driving logic does not settle as the supply comes on")
        return found[0], (0,) * (self.pressure_clock + len(self.pressures))

    def successors(self, situation: Situation, clocks: Clocks) -> Iterator[tuple[tuple[Situation, Clocks], str]]:
        caps = self.caps(situation)
        due = frozenset(k for k in range(self.rod_clock) if caps[k] is not None and clocks[k] == caps[k])
        events = list(self.events(situation))
        if due:
            events.append(Event("timers " + ", ".join(self._timer(k) for k in sorted(due)), "timers"))
        for event in events:
            if event.clock >= 0 and clocks[event.clock] < event.least:
                continue
            found = self.after(situation, event, due if event.kind == "timers" else frozenset())
            if found is not None:
                after, fresh = found
                runs = self.caps(after)
                kept = (
                    0 if cap is None or k in fresh else c for k, (c, cap) in enumerate(zip(clocks, runs, strict=True))
                )
                yield (after, tuple(kept)), event.says

    def _timer(self, k: int) -> str:
        side, which = self.timers[k]
        return f"{self.logics[side].timers[which].name} of {('driver', 'shadow')[side]}"

    def _events(self, situation: Situation) -> tuple[Event, ...]:
        found = [
            Event(f"{self.devices[k]} {'off' if situation.inputs[k] else 'on'}", "input", k)
            for k in self.free
            if self._may_toggle(situation, k)
        ]
        held = self.rules.careful and self.start is not None and situation.inputs[self.start]
        if not self.rules.supplied and not (held and not situation.supply):
            found.append(Event(f"supply {'off' if situation.supply else 'on'}", "supply"))
        for k, (actuator, rod) in enumerate(zip(self.machine.actuators, situation.rods, strict=True)):
            window = self.window(situation, k)
            if window is not None:
                found.append(Event(f"{actuator.name} at {window[2].at}", "pass", k, self.rod_clock + k, window[0]))
            if rod.moving and not (self.rules.no_jam or self._failed(situation)):
                found.append(Event(f"{actuator.name} jams", "jam", k))
            if rod.jammed and not self.rules.for_good:
                found.append(Event(f"{actuator.name} free", "jam", k))
        if self.rules.failing and not self._failed(situation):
            for k in sorted(set(range(len(self.devices))) - set(self.free)):
                for made in (True, False):
                    says = f"{self.devices[k]} stuck {'made' if made else 'open'}"
                    found.append(Event(says, "stuck", k, least=int(made)))
        for k in range(len(self.pressures)):
            clock = self.pressure_clock + k
            due = self.caps(situation)[clock]
            if due is not None:
                name = self.pressures[k][1].name
                found.append(Event(f"{name} {'off' if situation.pressures[k] else 'on'}", "pressure", k, clock, due))
        return tuple(found)

    def _failed(self, situation: Situation) -> bool:
        return situation.stuck is not None or any(rod.jammed for rod in situation.rods)

    def _may_toggle(self, situation: Situation, k: int) -> bool:
        if situation.inputs[k] or k not in (self.start, self.stop):
            return True
        other = self.stop if k == self.start else self.start
        if (self.rules.apart or self.rules.careful) and other is not None and situation.inputs[other]:
            return False
        return k != self.start or not self.rules.careful or self._begins_something(situation, k)

    def _begins_something(self, situation: Situation, k: int) -> bool:
        """Whether pressing START now is what a careful operator may do."""
        before = situation.driver
        if before is None or any(rod.moving or rod.jammed for rod in situation.rods):
            return False
        pressed = tuple(bit or place == k for place, bit in enumerate(situation.inputs))
        try:
            after = self._reaction(0, before, pressed, frozenset())
        except Chattering:
            return True
        if self._lit(after) != self._lit(before) or after.running != before.running:
            return True
        rest = (at_rest(actuator) for actuator in self.machine.actuators)
        resting = all((r.low, r.high) == (h.low, h.high) for r, h in zip(situation.rods, rest, strict=True))
        return resting and after.outputs != before.outputs

    def _lit(self, driver: Reaction | None) -> tuple[str, ...]:
        return () if driver is None else self.logics[0].lit(driver.state)

    # --- one event ------------------------------------------------------------------------------------------------

    def _after(self, before: Situation, event: Event, due: frozenset[int]) -> tuple[Situation, frozenset[int]] | None:
        """The situation after an event, and the clocks that start anew in it. None when the driver chatters."""
        changed, fresh = self._done(before, event)
        changed = changed._replace(inputs=self._seen(changed))
        sides: list[Reaction | None] = [None, None]
        chatters = False
        for side in (0, 1) if changed.supply else ():
            if side == 1 and before.chatters:
                chatters = True
                continue
            was = (before.driver, before.shadow)[side]
            base = 0 if side == 0 else len(self.logics[0].timers)
            expired = frozenset(k - base for k in due if self.timers[k][0] == side)
            try:
                now = self._reaction(side, was, changed.inputs, expired)
            except Chattering:
                if side == 0:
                    self.driver_chatters |= not (before.begun and self._start_down(changed))
                    return None
                chatters = True
            else:
                anew = now.started | expired | (now.running - was.running if was is not None else now.running)
                fresh |= {base + k for k in anew}
                sides[side] = now._replace(started=frozenset())  # of the moment only: no part of a situation
        after = changed._replace(driver=sides[0], shadow=sides[1], chatters=chatters)
        if self.rules.careful:
            lights = self._lit(before.driver) != self._lit(after.driver)
            begun = self._start_down(after) and (before.begun or lights)
            if begun and before.begun and (lights or self._times_change(before, after, fresh)):
                return None  # a careful operator has let go before this
            after = after._replace(begun=begun)
        on = [name for name, bit in zip(self._loads(), self.outputs(after, 0), strict=True) if bit]
        rods = []
        for k, (actuator, rod) in enumerate(zip(self.machine.actuators, after.rods, strict=True)):
            rods.append(sent(actuator, rod, *commanded(actuator.valve, rod.way, on)))
            if rods[-1] is not rod:
                fresh.add(self.rod_clock + k)
        after = after._replace(rods=tuple(rods))
        # A pressure switch that the event finds or leaves standing as it should waits anew, if at all.
        waited, came, waits = (self.caps(s)[self.pressure_clock :] for s in (before, changed, after))
        for k, (old, then, new) in enumerate(zip(waited, came, waits, strict=True)):
            if new is not None and None in (old, then):
                fresh.add(self.pressure_clock + k)
        return after, frozenset(fresh)

    def _start_down(self, situation: Situation) -> bool:
        return self.start is not None and situation.inputs[self.start]

    def _times_change(self, before: Situation, after: Situation, fresh: set[int]) -> bool:
        """Whether a timer of the driver begins, begins anew, or ends."""
        ran, runs = (frozenset() if s.driver is None else s.driver.running for s in (before, after))
        return ran != runs or any(k < len(self.logics[0].timers) for k in fresh)

    def _done(self, before: Situation, event: Event) -> tuple[Situation, set[int]]:
        """What the event itself changes, before anything reacts."""
        k = event.which
        match event.kind:
            case "input":
                return before._replace(inputs=_flipped(before.inputs, k)), set()
            case "supply":
                return before._replace(supply=not before.supply), set()
            case "pass":
                window = self.window(before, k)
                assert window is not None
                return before._replace(rods=_with(before.rods, k, passed(before.rods[k], window[2]))), set()
            case "jam" if before.rods[k].jammed:
                return before._replace(rods=_with(before.rods, k, freed(before.rods[k]))), {self.rod_clock + k}
            case "jam":
                rod = jammed(self.machine.actuators[k], before.rods[k])
                return before._replace(rods=_with(before.rods, k, rod)), set()
            case "stuck":
                return before._replace(stuck=(k, bool(event.least))), set()
            case "pressure":
                return before._replace(pressures=_flipped(before.pressures, k)), set()
            case _:
                return before, set()

    def _reaction(self, side: int, was: Reaction | None, inputs: Bits, expired: frozenset[int]) -> Reaction:
        logic = self.logics[side]
        wanted = tuple(inputs[self.devices.index(name)] for name in logic.inputs)
        return logic.power_up(wanted) if was is None else logic.react(was.state, wanted, expired)

    def _seen(self, situation: Situation) -> Bits:
        """The inputs, with the switches of the rods as they stand."""
        inputs = list(situation.inputs)
        for places, rod in zip(self.switches, situation.rods, strict=True):
            for place, made in zip(places, rod.made, strict=True):
                inputs[place] = made
        for made, (_, _, place) in zip(situation.pressures, self.pressures, strict=True):
            inputs[place] = made
        if situation.stuck is not None:
            inputs[situation.stuck[0]] = situation.stuck[1]
        return tuple(inputs)

    def _loads(self) -> list[str]:
        return [load.name for load in self.machine.loads]

    def _outputs(self, situation: Situation, side: int) -> Bits:
        reaction = situation.shadow if side else situation.driver
        on: set[str] = set()
        if reaction is not None:
            on = {name for name, bit in zip(self.logics[side].outputs, reaction.outputs, strict=True) if bit}
        return tuple(name in on for name in self._loads())


def _flipped(bits: Bits, k: int) -> Bits:
    return (*bits[:k], not bits[k], *bits[k + 1 :])


def _with(rods: tuple[Rod, ...], k: int, rod: Rod) -> tuple[Rod, ...]:
    return (*rods[:k], rod, *rods[k + 1 :])
