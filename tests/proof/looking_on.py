"""One scenario run twice: with requirements watched beside the logic, and with the watch of simulated runs.

The two share only the reading of conditions and of the times in them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.checking.requirements import RequirementWatch
from compiler.machine import Load, LoadKind, Machine
from compiler.proof.monitor import watched
from compiler.simulation.bench import Bench, wire
from compiler.simulation.joint import Wired
from compiler.simulation.run import Event, Scenario
from compiler.simulation.simulate import follow

__all__ = ["Seen", "ran"]


@dataclass
class Lamps:
    """When each of a logic's further outputs was on, in one run: from and to."""

    wired: Wired
    names: tuple[str, ...]
    since: dict[str, int] = field(default_factory=dict)
    stays: dict[str, list[tuple[int, int]]] = field(default_factory=dict)

    def look(self, bench: Bench, events: tuple[Event, ...]) -> None:
        bits = self.wired.outputs(bench.reactions[0])[-len(self.names) :]
        self.come_to(bench.now_us, [name for name, bit in zip(self.names, bits, strict=True) if bit])

    def come_to(self, now_us: int, on: Sequence[str]) -> None:
        for name in [name for name in self.since if name not in on]:
            since = self.since.pop(name)
            if since < now_us:
                self.stays.setdefault(name, []).append((since, now_us))
        for name in on:
            self.since.setdefault(name, now_us)


@dataclass(frozen=True)
class Seen:
    """From when to when the monitor has each requirement broken, and when the watch has it broken first. Each looks
    on at a run of its own, for the times of the one give the other something to look at."""

    stays: dict[str, list[tuple[int, int]]]
    watched: dict[str, int]

    @property
    def first(self) -> dict[str, int]:
        return {name: stays[0][0] for name, stays in self.stays.items()}


def ran(machine: Machine, chart: Chart, scenario: Scenario) -> Seen:
    """The same scenario twice: with the monitor, and with the watch of simulated runs."""
    logic = watched(chart_logic(chart), chart)
    wired = Wired(logic, [i.name for i in machine.inputs], [*(load.name for load in machine.loads), *logic.breaks])
    lamps = Lamps(wired, logic.breaks)
    ending = follow(_with_lamps(machine, logic.breaks), [wired], scenario, watch=lamps.look)
    lamps.come_to(ending.ended_us, ())
    watch = RequirementWatch(chart)
    alone = follow(machine, [wire(machine, chart_logic(chart))], scenario, watch=watch.look)
    watch.judge(alone.ended_us)
    assert (ending.outcome, ending.ended_us) == (alone.outcome, alone.ended_us)
    return Seen({name.removeprefix("requirement:"): stays for name, stays in lamps.stays.items()}, watch.broken)


def _with_lamps(machine: Machine, names: Iterable[str]) -> Machine:
    lamps = tuple(Load.model_construct(name=name, kind=LoadKind.LAMP) for name in names)
    return machine.model_copy(update={"loads": (*machine.loads, *lamps)})
