"""The careful operator: works a machine by its Chart, whatever else is done to it meanwhile.

It presses START when the machine rests at home, and when the chart waits for something only the world outside can
give (a sensor, a selector, another button) it does the least that lets the chart go on. To know when that is it
looks ahead on a copy of the bench. It uses STOP only to clear a fault that is shown.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import combinations

from compiler.chart import Chart
from compiler.chart_logic import ChartLogic
from compiler.checking.led import led_by
from compiler.condition import Condition, Rise, Signal, Sustained, walk
from compiler.machine import InputKind, Machine
from compiler.shape import shape_of
from compiler.simulation.bench import Bench
from compiler.simulation.holds import holds
from compiler.simulation.joint import Wired
from compiler.simulation.run import Event, EventKind, StrokeTimes

__all__ = ["Entry", "Operated", "StrokeMade", "operate"]

_PRESS_US = 300_000  # a brief press
_PAUSE_US = 500_000  # between seeing that something is due and doing it
_SHORT_US = 200_000  # between a selector or sensor and the button pressed after it
_MOST_FLIPS = 3  # devices changed at once
_PATIENCE = 2_000  # instants looked ahead without a step changing
_MOST_TURNS = 4  # times through all the steps for every cycle wanted, before a run is given up
_MOST_FAULTS = 3  # faults cleared in one run
_TRIES = 3  # things done in a row without a step changing


@dataclass(frozen=True, slots=True)
class Entry:
    """A step became active."""

    at_us: int
    step: str


@dataclass(frozen=True, slots=True)
class StrokeMade:
    """An actuator was on its way from ``from_us`` to ``to_us``."""

    actuator: str
    from_us: int
    to_us: int


@dataclass(frozen=True, slots=True)
class Operated:
    """What the operator did (with what was done to the machine besides), and how the chart went on."""

    events: tuple[Event, ...]
    entries: tuple[Entry, ...]
    strokes: tuple[StrokeMade, ...]
    ended_us: int
    cycles: int


def operate(
    machine: Machine,
    chart: Chart,
    wired: Wired,
    *,
    strokes: tuple[StrokeTimes, ...],
    done_besides: Iterable[Event] = (),
    cycles: int = 1,
    leaves: frozenset[str] = frozenset(),
) -> Operated:
    """Work the machine until so many cycles have begun and it rests again, or nothing more can be done.

    ``wired`` is the chart's own logic. ``done_besides`` are events that happen whatever the operator does;
    ``leaves`` are devices that stay as they are.
    """
    operator = _Operator(machine, chart, Bench(machine, [wired], strokes))
    operator.shunned |= leaves
    operator.cycles = cycles
    operator.queue = sorted(done_besides, key=_when)
    operator.besides = {id(event) for event in operator.queue}
    operator.step(0)
    while not operator.finished(cycles) and operator.go_on(cycles):
        pass
    # Let what is still moving come to rest, and what was pressed be let go.
    operator.run_out()
    return Operated(
        tuple(sorted(operator.done, key=_when)),
        tuple(operator.entries),
        tuple(operator.strokes),
        operator.bench.now_us,
        operator.begun,
    )


def _when(event: Event) -> int:
    return event.at_us


@dataclass
class _Operator:
    machine: Machine
    chart: Chart
    bench: Bench
    queue: list[Event] = field(default_factory=list)
    besides: set[int] = field(default_factory=set)
    done: list[Event] = field(default_factory=list)
    entries: list[Entry] = field(default_factory=list)
    strokes: list[StrokeMade] = field(default_factory=list)
    entered_us: dict[str, int] = field(default_factory=dict)
    setting_out: dict[str, tuple[int, int]] = field(default_factory=dict)
    active: frozenset[str] = frozenset()
    begun: int = 0
    cycles: int = 1
    faults: int = 0
    tried: int = 0

    def __post_init__(self) -> None:
        self.shape = shape_of(self.chart)
        self.outside = {
            i.name: i
            for i in self.machine.inputs
            if i.kind in (InputKind.PUSHBUTTON, InputKind.SELECTOR, InputKind.SENSOR)
        }
        forcing = () if self.chart.forcing is None else walk(self.chart.forcing.condition)
        self.shunned = {part.device for part in forcing if isinstance(part, Signal | Rise)}
        self.shunned |= set() if self.machine.stop is None else {self.machine.stop}
        self.led = led_by(self.chart, self.shape, self.machine.start)

    # --- one instant --------------------------------------------------------------------------------------

    def next_us(self, bench: Bench) -> int | None:
        due = bench.due_us()
        first = self.queue[0].at_us if self.queue else None
        return min((t for t in (due, first) if t is not None), default=None)

    def step(self, at_us: int) -> None:
        """Really go to an instant, with the events that are due by then."""
        now = [event for event in self.queue if event.at_us <= at_us]
        del self.queue[: len(now)]
        self.done += now
        self.bench.step(at_us, now)
        self._note()

    def _note(self) -> None:
        active = frozenset(self.bench.lit()) & self.shape.steps
        for name in sorted(active - self.active):
            self.entries.append(Entry(self.bench.now_us, name))
            self.entered_us[name] = self.bench.now_us
            self.tried = 0
        self.begun += self._begins(active)
        self.faults += bool((active - self.active) & self.shape.fault)
        self.active = active
        for name, (_, way) in self.bench.plant.motion(self.bench.now_us).items():
            since, was = self.setting_out.get(name, (0, 0))
            if way != was:
                if was:
                    self.strokes.append(StrokeMade(name, since, self.bench.now_us))
                self.setting_out[name] = (self.bench.now_us, way)

    def _begins(self, active: frozenset[str]) -> bool:
        """Whether a cycle of the station that START starts begins: its rest is left (perhaps straight through the
        first step), or was not even entered."""
        shape = self.shape
        working = (active - shape.rest - shape.fault) & self.led.steps
        entered = (active - self.active) & self.led.steps
        return bool(working and self.active & self.led.rest and entered) or bool(entered & self.led.first)

    # --- going on -----------------------------------------------------------------------------------------

    def finished(self, cycles: int) -> bool:
        waiting = any(id(event) in self.besides for event in self.queue)
        resting = self.shape.resting(self.active) or not self.shape.last
        over = self.begun > cycles or len(self.entries) > self._most_entries() or bool(self.bench.chattering)
        return over or (self.begun >= cycles and resting and not waiting)

    def _most_entries(self) -> int:
        """Of more steps entered it is plain that they go round for ever."""
        return _MOST_TURNS * (self.cycles + 1) * len(self.shape.steps)

    def go_on(self, cycles: int) -> bool:
        """Bring the machine to its next change of step, doing something if that is what it takes. False when
        there is nothing that could be done. Once the cycles are over, only what others do goes on."""
        if self.begun >= cycles and self.shape.resting(self.active):
            at_us = self.next_us(self.bench)
            if at_us is not None:
                self.step(at_us)
            return at_us is not None
        until_us, chance = self._look_ahead()
        if chance is not None and self.tried < _TRIES:
            at_us, devices = chance
            self._advance(at_us)
            self.tried += 1
            self._do(devices, until_us)
            return True
        if until_us is None:
            return False
        self._advance(until_us)
        return True

    def run_out(self) -> None:
        for _ in range(_PATIENCE):
            quiet = not self.bench.plant.moving(self.bench.now_us)
            at_us = self.next_us(self.bench)
            forever = len(self.entries) > 2 * self._most_entries()
            if at_us is None or forever or (quiet and not self.queue):
                return
            self.step(at_us)

    def _advance(self, to_us: int) -> None:
        while (at_us := self.next_us(self.bench)) is not None and at_us <= to_us:
            self.step(at_us)

    def _look_ahead(self) -> tuple[int | None, tuple[int, tuple[str, ...]] | None]:
        """When the chart next takes a step by itself (None: never), and, where that is a fault or never, the
        first chance to do something about it: the moment, and the devices to change."""
        bench, queue = self.bench.copy(), list(self.queue)
        chance: tuple[int, tuple[str, ...]] | None = None
        for _ in range(_PATIENCE):
            if chance is None and bench.supply and not any(id(e) not in self.besides for e in queue):
                devices = self._devices_to_change(bench)
                busy = {e.device for e in queue if e.kind is EventKind.INPUT and not e.on}
                busy = {device for device in busy if bench.is_actuated(device)}  # a hand is still on them
                chance = None if devices is None or busy & set(devices) else (bench.now_us, devices)
            at_us = min(
                (t for t in (bench.due_us(), queue[0].at_us if queue else None) if t is not None), default=None
            )
            if at_us is None:
                return (None, chance)
            now = [event for event in queue if event.at_us <= at_us]
            if chance is not None and any(id(event) in self.besides for event in now):
                return (None, chance)
            del queue[: len(now)]
            bench.step(at_us, now)
            active = frozenset(bench.lit()) & self.shape.steps
            if active != self.active:
                to_fault = active - self.active <= self.shape.fault and bool(active)
                return (at_us, chance if to_fault else None)
            if any(id(event) in self.besides for event in now):
                return (at_us, None)
        return (None, chance)

    # --- doing something ----------------------------------------------------------------------------------

    def _devices_to_change(self, bench: Bench) -> tuple[str, ...] | None:
        """The fewest outside devices to change so that a transition clears; None if there is no such way."""
        active = frozenset(bench.lit())
        faults = active & self.shape.fault
        if faults and (stop := self._clears(faults)) is not None:
            return None if self.faults > _MOST_FAULTS else (stop,)
        moving = bool(bench.plant.moving(bench.now_us) or bench.jammed)
        if self.shape.resting(active) and moving:
            return None
        if (allowing := self._let_on(bench, active)) is not None:
            return allowing
        done = self.led.rest if self.begun >= self.cycles else frozenset()
        found: list[tuple[str, ...]] = []
        for transition in self.chart.transitions:
            sources = set(transition.sources)
            if sources & (done | self.shape.memory):
                continue
            if sources <= active and not set(transition.targets) & self.shape.fault:
                devices = self._devices_for(bench, transition.condition)
                if devices is not None:
                    found.append(devices)
        return min(found, key=len, default=None)

    def _clears(self, faults: frozenset[str]) -> str | None:
        """The button that clears a fault: STOP, unless it leads nowhere and a way out of the fault names another."""
        leads = self.chart.forcing is not None
        ways = [t for t in self.chart.transitions if faults & set(t.sources)]
        buttons = [device for t in ways for device in _pressed(t.condition)]
        return self.machine.stop if leads or not buttons else buttons[0]

    def _let_on(self, bench: Bench, active: frozenset[str]) -> tuple[str, ...] | None:
        """The devices to change so that an interlock lets on what the steps command, a guard to close, say."""
        commanded = {action.output for name in active for action in self.chart.step(name).actions}
        for interlock in self.chart.interlocks:
            if interlock.output in commanded - set(bench.on()):
                devices = self._devices_for(bench, interlock.only_while)
                if devices is not None:
                    return devices
        return None

    def _devices_for(self, bench: Bench, condition: Condition) -> tuple[str, ...] | None:
        named = [p.device for p in walk(condition) if isinstance(p, Signal | Rise)]
        free = [name for name in dict.fromkeys(named) if name in self.outside and name not in self.shunned]
        for size in range(1, min(len(free), _MOST_FLIPS) + 1):
            for devices in combinations(free, size):
                if holds(condition, _Imagined(self, bench, devices, _pressed(condition))):
                    return devices
        return None

    def _do(self, devices: tuple[str, ...], before_us: int | None) -> None:
        """Change the devices half a second from now, or sooner where a fault would come first."""
        now = self.bench.now_us
        pause = _PAUSE_US if before_us is None else max(1, min(_PAUSE_US, (before_us - now) // 3))
        last = now + pause
        buttons = [d for d in devices if self._momentary(d)]
        for device in devices:
            if device not in buttons:
                self._change(now + pause, device)
                last = now + pause + (min(_SHORT_US, pause) if buttons else 0)
        for device in buttons:
            pressed_us = self._change(last, device)
            if pressed_us is not None:
                self._put(pressed_us + self._press_us(device), device, False)

    def _change(self, at_us: int, device: str) -> int | None:
        """Change a device and say from when on it is actuated, if it is; let go first what must be pressed anew."""
        down = self.bench.is_actuated(device)
        again = down and device in self._awaited_edges()
        self._put(at_us, device, not down)
        if again:
            self._put(at_us + _SHORT_US, device, True)
        return at_us + _SHORT_US if again else None if down else at_us

    def _put(self, at_us: int, device: str, on: bool) -> None:
        insort(self.queue, Event(at_us=at_us, kind=EventKind.INPUT, device=device, on=on), key=_when)

    def _momentary(self, device: str) -> bool:
        button = self.outside[device]
        return button.kind is InputKind.PUSHBUTTON and not button.maintained

    def _press_us(self, device: str) -> int:
        """Long enough for a condition that must last."""
        lasting = [
            part.time_us
            for t in self.chart.transitions
            if set(t.sources) <= self.active
            for part in walk(t.condition)
            if isinstance(part, Sustained)
            and any(isinstance(p, Signal) and p.device == device for p in walk(part.of))
        ]
        return _PRESS_US + max(lasting, default=0)

    def _awaited_edges(self) -> set[str]:
        return {
            device
            for t in self.chart.transitions
            if set(t.sources) <= self.active
            for device in _pressed(t.condition)
        }


def _pressed(condition: Condition) -> frozenset[str]:
    return frozenset(part.device for part in walk(condition) if isinstance(part, Rise))


@dataclass(frozen=True, slots=True)
class _Imagined:
    """The situation as it would be half a second after some devices were changed. A device whose edge is wanted
    and which is already actuated is let go first."""

    operator: _Operator
    bench: Bench
    changed: tuple[str, ...]
    edges: frozenset[str]

    def signal(self, device: str) -> bool:
        if device not in self.operator.outside and device in self.bench.on():
            return True
        if all(device != i.name for i in self.bench.machine.inputs):
            return False
        now = self.bench.is_actuated(device)
        return now if device not in self.changed else not now or device in self.edges

    def rise(self, device: str) -> bool:
        return device in self.changed

    def active(self, step: str) -> bool:
        return step in self.bench.lit()

    def elapsed(self, step: str, time_us: int) -> bool:
        since = self.operator.entered_us.get(step, self.bench.now_us)
        return self.bench.now_us + _PAUSE_US - since >= time_us

    def sustained(self, condition: Sustained) -> bool:
        return holds(condition.of, self)

    def counted(self, counter: str, at_least: int) -> bool:
        reaction, logic = self.bench.reactions[0], self.bench.wired[0].logic
        assert isinstance(logic, ChartLogic)
        return reaction is not None and logic.count(reaction.state, counter) >= at_least
