"""What a run asks beyond a careful operator's normal cycle, told by watching it, not by what it was meant to be.

A difference counts against what had been stretched by its moment, so each stretch is stamped with the first moment
it happens.
"""

from __future__ import annotations

from compiler.chart import Chart
from compiler.checking.assumption import Assumption
from compiler.machine import Machine
from compiler.shape import shape_of
from compiler.simulation.bench import Bench
from compiler.simulation.joint import Wired
from compiler.simulation.run import Event, EventKind, Scenario, Stamp, Stretch, Swiftness, stroke_times
from compiler.simulation.simulate import follow

__all__ = ["excuses", "stamped", "stretched_by"]


def excuses(stretch: Stretch) -> frozenset[Assumption]:
    """The assumptions a stretch goes beyond: an artefact that announces one of them may differ from then on."""
    match stretch:
        case Stretch.START_HELD | Stretch.START_WITH_STOP:
            return frozenset({Assumption.START_RELEASED})
        case Stretch.START_EARLY:
            return frozenset({Assumption.START_AT_HOME})
        case Stretch.STROKE_TIMES:
            return frozenset({Assumption.STROKE_TIME})
        case Stretch.JAM:
            return frozenset({Assumption.NO_JAM, Assumption.STROKE_TIME})
        case Stretch.SWITCH:
            return frozenset({Assumption.SWITCHES_WORK})
        case Stretch.SUPPLY_WITH_START:
            return frozenset({Assumption.SUPPLY_WITH_START})
        case Stretch.NONE | Stretch.STOP | Stretch.SUPPLY | Stretch.OUTSIDE:
            return frozenset()


def stretched_by(scenario: Scenario, at_us: int) -> frozenset[Stretch]:
    """What a run had stretched by a moment; ``Stretch.NONE`` alone where that is nothing."""
    return frozenset(s.stretch for s in scenario.stretched if s.at_us <= at_us) or frozenset({Stretch.NONE})


def stamped(machine: Machine, chart: Chart, wired: Wired, scenario: Scenario) -> Scenario:
    """The same scenario with its stretches. ``wired`` is the chart's own logic."""
    watcher = _Watcher(machine, chart, scenario)
    follow(machine, [wired], scenario, watch=watcher.look)
    stamps = sorted(watcher.seen.items(), key=lambda item: (item[1], item[0].name))
    return scenario.model_copy(
        update={"stretched": tuple(Stamp(at_us=at_us, stretch=stretch) for stretch, at_us in stamps)}
    )


class _Watcher:
    def __init__(self, machine: Machine, chart: Chart, scenario: Scenario) -> None:
        # Whether a sensor changed in its turn can't be seen from outside: who made the scenario says so.
        self.seen: dict[Stretch, int] = {
            s.stretch: s.at_us for s in scenario.stretched if s.stretch is Stretch.OUTSIDE
        }
        self.machine = machine
        self.shape = shape_of(chart)
        self.active: frozenset[str] = frozenset()
        self.had_supply, self.start_was = True, False
        self.at_home = True
        greatest = stroke_times(machine, Swiftness.GREATEST, Swiftness.GREATEST)
        if scenario.strokes != greatest:
            self.seen[Stretch.STROKE_TIMES] = 0

    def look(self, bench: Bench, events: tuple[Event, ...]) -> None:
        start = self._down(bench, self.machine.start)
        stop = self._down(bench, self.machine.stop)
        active = frozenset(bench.lit()) & self.shape.steps
        begins = bool(active - self.shape.rest)
        for event in events:
            self._event(bench, event, ready=self.at_home and (begins or stop))
        if start and stop:
            self._see(bench, Stretch.START_WITH_STOP)
        if start and bench.supply and not self.had_supply:
            self._see(bench, Stretch.SUPPLY_WITH_START)
        entered = active - self.active
        # Where the press itself enters the last step, the only one of its cycle, it is a press and not a hold.
        pressed_now = any(e.device == self.machine.start and e.on for e in events)
        running = bench.supply and self.had_supply and bool(self.active)
        if start and running and not pressed_now and entered & (self.shape.last | self.shape.rest):
            self._see(bench, Stretch.START_HELD)
        self.active, self.had_supply, self.start_was = active, bench.supply, start
        self.at_home = self._rests(bench)

    def _event(self, bench: Bench, event: Event, *, ready: bool) -> None:
        match event.kind:
            case EventKind.JAM if event.on:
                self._see(bench, Stretch.JAM)
            case EventKind.STUCK_MADE | EventKind.STUCK_OPEN if event.on:
                self._see(bench, Stretch.SWITCH)
            case EventKind.SUPPLY if not event.on:
                self._see(bench, Stretch.SUPPLY)
            case EventKind.INPUT if event.on and event.device == self.machine.stop:
                self._see(bench, Stretch.STOP)
            case EventKind.INPUT if event.on and event.device == self.machine.start:
                # The supply off, START does nothing; held until the supply returns is a stretch of its own.
                # With STOP down nothing could begin: that is a stretch of its own too.
                if self.had_supply and not ready and not self.start_was:
                    self._see(bench, Stretch.START_EARLY)
            case _:
                pass

    def _rests(self, bench: Bench) -> bool:
        """Whether the machine rests at home: the chart waits for the trigger and every rod stands in its place."""
        if self.shape.initial <= self.active:
            return bench.plant.at_rest(bench.now_us)
        resting = self.shape.resting(self.active)
        return resting and not bench.plant.moving(bench.now_us) and not bench.jammed

    def _see(self, bench: Bench, stretch: Stretch) -> None:
        self.seen.setdefault(stretch, bench.now_us)

    @staticmethod
    def _down(bench: Bench, device: str | None) -> bool:
        return device is not None and bench.is_actuated(device)
