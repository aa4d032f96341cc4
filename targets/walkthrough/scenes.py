"""The runs that a walk-through is told from: the careful operator's cycle, and the same cycle disturbed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property, lru_cache

from compiler.chart import Chart, Transition
from compiler.chart_logic import chart_logic
from compiler.checking.operating import operate
from compiler.checking.usual import leading
from compiler.condition import Signal
from compiler.logic import Logic
from compiler.machine import InputKind, Machine
from compiler.shape import shape_of
from compiler.simulation.bench import wire
from compiler.simulation.run import Event, EventKind, Scenario, Swiftness, stroke_times
from compiler.walk.changes import Instant
from compiler.walk.course import Course, course
from compiler.walk.record import Record, record
from compiler.walk.ways import Branch, other_ways
from targets.walkthrough.steps import Sequence, parts_of

__all__ = ["Phase", "Scenes"]

_TAIL_US = 2_000_000
_STOP_US = 400_000
_SUPPLY_US = 500_000
_SOON_US = 500_000  # from when nothing else happens to when a sensor that is waited for is made
_MOST_SERVED = 4


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of the cycle in which the same steps are active and the same loads are on."""

    steps: tuple[str, ...]
    from_us: int
    to_us: int

    @property
    def middle_us(self) -> int:
        """Its middle, in whole microseconds from the beginning of the run."""
        return self.from_us + (self.to_us - self.from_us) // 2


@dataclass(frozen=True)
class Scenes:
    """Runs of one logic on its machine. ``normal`` is one cycle of the careful operator, every stroke taking its
    greatest time, as in the runs an arrangement is checked with."""

    machine: Machine
    chart: Chart
    logic: Logic
    normal: Record

    @classmethod
    def of(cls, machine: Machine, chart: Chart, logic: Logic) -> Scenes:
        """The runs of a logic on the machine that the chart was made for."""
        greatest = stroke_times(machine, Swiftness.GREATEST, Swiftness.GREATEST)
        wired = wire(machine, chart_logic(chart))
        worked = operate(machine, chart, wired, strokes=greatest)
        if led := leading(machine, chart, wired, worked, strokes=greatest):
            worked = operate(machine, chart, wired, strokes=greatest, done_besides=led)
        last = max((event.at_us for event in worked.events), default=0)
        scenario = Scenario(
            name="one cycle",
            duration_us=max(worked.ended_us, last) + _TAIL_US,
            events=worked.events,
            strokes=greatest,
        )
        return cls(machine, chart, logic, record(machine, logic, scenario, chart))

    @cached_property
    def sequence(self) -> Sequence:
        """Steps and conditions in the words of the sequence."""
        return Sequence(self.machine, self.chart)

    @cached_property
    def steps(self) -> Course:
        """How the chart itself goes through the normal cycle."""
        return course(self.machine, self.chart, self.normal.scenario)

    @cached_property
    def ways(self) -> tuple[tuple[Branch, ...], tuple[Transition, ...]]:
        """The ways of choices that the normal cycle does not take, and those that no run was found for."""
        return _other_ways(self.machine, self.chart, self.normal.scenario)

    @cached_property
    def resting(self) -> Instant:
        """How the machine stands when it is left alone: timers that time something at rest are over then. As the run
        began, where it does not rest by itself."""
        first = tuple(event for event in self.normal.scenario.events if event.at_us == 0)
        run = self._run("left alone", first, self._long_us(), causes=False)
        moved = run.loop or any(instant.outputs or instant.strokes for instant in run.instants[1:])
        return self.normal.instants[0] if moved or not run.instants else run.instants[-1]

    def taking(self, branch: Branch) -> Record:
        """A run that goes another way, up to where it joins the cycle again."""
        until = branch.run.cleared[-1].at_us if branch.joins is None else branch.joins.at_us
        scenario = branch.run.scenario.model_copy(update={"duration_us": max(1, until)})
        return record(self.machine, self.logic, scenario, self.chart)

    def phases(self) -> tuple[Phase, ...]:
        """The phases of the normal cycle, rest left out, in order."""
        order = [step.name for step in self.chart.steps]
        shape = shape_of(self.chart)
        found: list[Phase] = []
        instants = self.normal.instants
        ends = [*(instant.at_us for instant in instants[1:]), self.normal.ended_us]
        for instant, end in zip(instants, ends, strict=True):
            active = instant.active - shape.memory
            steps = tuple(sorted(active, key=order.index))
            if found and found[-1].steps == steps and found[-1].to_us == instant.at_us:
                found[-1] = Phase(steps, found[-1].from_us, end)
            elif end > instant.at_us and not shape.resting(active):
                found.append(Phase(steps, instant.at_us, end))
        return tuple(found)

    def stopped(self, stop: str, at_us: int) -> Record:
        """STOP is pressed for a moment, and whatever else was pressed is let go as before."""
        pressed = self._hand(stop, at_us, _STOP_US)
        served = self._served(pressed, at_us)
        last_us = max((event.at_us for event in served), default=at_us + _STOP_US)
        return self._again("STOP pressed", (*pressed, *served), at_us, max(at_us + _STOP_US, last_us))

    def restarted(self, stop: str, start: str, at_us: int) -> tuple[Record, int]:
        """STOP is pressed for a moment, and START once all has come to rest; and when that is."""
        again_us = at_us + _STOP_US + self._long_us()
        done = (*self._hand(stop, at_us, _STOP_US), *self._hand(start, again_us, _STOP_US))
        return self._again("STOP, then START", done, at_us, again_us + _STOP_US), again_us

    def supply_lost(self, at_us: int, *, causes: bool = False) -> Record:
        """The control supply is lost for a moment; without causes, unless they are asked for."""
        gone = (
            Event(at_us=at_us, kind=EventKind.SUPPLY, on=False),
            Event(at_us=at_us + _SUPPLY_US, kind=EventKind.SUPPLY, on=True),
        )
        return self._again("the supply lost", gone, at_us, at_us + _SUPPLY_US, causes=causes)

    def jammed(self, actuator: str, at_us: int) -> Record:
        """An actuator jams for good, and all else goes on as in the normal cycle. Told without causes."""
        jam = Event(at_us=at_us, kind=EventKind.JAM, device=actuator, on=True)
        kept = self.normal.scenario.events
        return self._run(
            f"{actuator} jams", (*kept, jam), self.normal.scenario.duration_us + self._long_us(), causes=False
        )

    def held(self, button: str) -> Record:
        """A button, once pressed, is never let go. Told without causes."""
        events = [e for e in self.normal.scenario.events if not (e.device == button and not e.on)]
        return self._run(f"{button} held", events, 2 * self.normal.scenario.duration_us, causes=False)

    def held_and_let_go(self, button: str) -> tuple[Record, int]:
        """A button, once pressed, is let go when all has come to rest; and when that is."""
        events = [e for e in self.normal.scenario.events if not (e.device == button and not e.on)]
        at_us = 2 * self.normal.scenario.duration_us
        let_go = Event(at_us=at_us, kind=EventKind.INPUT, device=button, on=False)
        return self._run(f"{button} held, then let go", (*events, let_go), at_us + _TAIL_US), at_us

    # --- how they are made ------------------------------------------------------------------------------------

    def _again(self, name: str, done: tuple[Event, ...], at_us: int, last_us: int, *, causes: bool = True) -> Record:
        """The normal cycle up to a moment, then only this; what is pressed then is let go as it was."""
        kept = [e for e in self.normal.scenario.events if e.at_us < at_us or not e.on]
        return self._run(name, (*kept, *done), last_us + self._long_us(), causes=causes)

    def _served(self, done: tuple[Event, ...], at_us: int) -> tuple[Event, ...]:
        """The sensors that a way home waits for, made when nothing else happens any longer: nothing here moves what a
        motor moves."""
        sensors = {i.name for i in self.machine.inputs if i.kind is InputKind.SENSOR}
        served: list[Event] = []
        while len(served) < _MOST_SERVED:
            kept = [e for e in self.normal.scenario.events if e.at_us < at_us or not e.on]
            last_us = max([at_us + _STOP_US, *(event.at_us for event in served)])
            scenario = self._scenario("STOP pressed", (*kept, *done, *served), last_us + self._long_us())
            end = record(self.machine, chart_logic(self.chart), scenario, self.chart, causes=False).instants[-1]
            awaited = self._awaited(end, sensors)
            if not awaited:
                break
            soon_us = max(end.at_us, last_us) + _SOON_US
            served += (Event(at_us=soon_us, kind=EventKind.INPUT, device=name, on=True) for name in awaited)
        return tuple(served)

    def _awaited(self, instant: Instant, sensors: set[str]) -> tuple[str, ...]:
        """The sensors without which no step that is active goes on."""
        shape = self.sequence.shape
        for t in self.chart.transitions:
            if set(t.sources) <= instant.active and not (shape.rest | shape.memory) & set(t.sources):
                signals = [part.device for part in parts_of(t.condition) if isinstance(part, Signal)]
                missing = [name for name in signals if name not in instant.actuated]
                if missing and sensors.issuperset(missing) and not shape.fault & set(t.targets):
                    return tuple(missing)
        return ()

    def _run(self, name: str, events: Iterable[Event], duration_us: int, *, causes: bool = True) -> Record:
        return record(self.machine, self.logic, self._scenario(name, events, duration_us), self.chart, causes=causes)

    def _scenario(self, name: str, events: Iterable[Event], duration_us: int) -> Scenario:
        ordered = tuple(sorted(events, key=lambda event: event.at_us))
        last = max((event.at_us for event in ordered), default=0)
        return self.normal.scenario.model_copy(
            update={"name": name, "events": ordered, "duration_us": max(duration_us, last + _TAIL_US)}
        )

    def _long_us(self) -> int:
        """Long enough for every stroke and every time of the logic to run out."""
        strokes = sum(s.extend_us + s.retract_us for s in self.normal.scenario.strokes)
        return _TAIL_US + strokes + sum(timer.preset_us for timer in self.logic.timers)

    @staticmethod
    def _hand(device: str, at_us: int, for_us: int) -> tuple[Event, ...]:
        return (
            Event(at_us=at_us, kind=EventKind.INPUT, device=device, on=True),
            Event(at_us=at_us + for_us, kind=EventKind.INPUT, device=device, on=False),
        )


@lru_cache(maxsize=2)
def _other_ways(machine: Machine, chart: Chart, main: Scenario) -> tuple[tuple[Branch, ...], tuple[Transition, ...]]:
    """Looked for once for all implementations of a sequence."""
    return other_ways(machine, chart, main)
