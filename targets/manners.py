"""How a machine behaves under one control or another when START is held, STOP is pressed, the supply is lost.

Three runs, the same for everything that is compared, made from what the careful operator does in one cycle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.checking.families import start_let_go
from compiler.checking.operating import operate
from compiler.checking.trial import Trial, middle, press, supply_off
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.simulation.bench import wire
from compiler.simulation.run import Event, Outcome, Role, Run, Scenario, Swiftness, stroke_times
from compiler.simulation.simulate import simulate

__all__ = ["Manners", "Occasions", "manners", "occasions"]

_HELD_US = 1_000_000


@dataclass(frozen=True, slots=True)
class Occasions:
    """One cycle, and what may befall it at ``at_us``; None where the machine has no such button or no such moment.
    ``rest`` are the outputs that are on at rest, by the sequence."""

    once: Scenario
    rest: frozenset[str]
    held: Scenario | None
    stopped: Scenario | None
    supply: Scenario | None
    at_us: int


@dataclass(frozen=True, slots=True)
class Manners:
    """What came of it, in a few words each."""

    held: str
    stopped: str
    supply: str


def occasions(machine: Machine, chart: Chart) -> Occasions:
    """The runs of a machine, made from a cycle of its chart."""
    wired = wire(machine, chart_logic(chart))
    greatest = stroke_times(machine, Swiftness.GREATEST, Swiftness.GREATEST)
    trial = Trial(machine, chart, wired, greatest, operate(machine, chart, wired, strokes=greatest))
    once = trial.scenario("one cycle")
    spans = trial.spans()
    at_us = middle(spans[0][1], spans[0][2]) if spans else 0
    more = once.duration_us + 2 * trial.length_us()
    before = tuple(event for event in once.events if event.at_us < at_us)
    released = tuple(_let_go(event, at_us) for event in before if event.on and event.device == machine.start)
    cut = tuple(e for e in before if not (e.device == machine.start and not e.on)) + released

    def befalls(name: str, events: tuple[Event, ...]) -> Scenario:
        told = tuple(sorted((*cut, *events), key=lambda event: event.at_us))
        return once.model_copy(update={"name": name, "events": told, "duration_us": at_us + more})

    held = None
    if machine.start is not None and any(event.device == machine.start for event in once.events):
        longer = once.model_copy(update={"duration_us": more})
        held = start_let_go(longer, machine.start, "START held throughout", None)
    stopped = befalls("STOP", press(machine.stop, at_us, _HELD_US)) if spans and machine.stop is not None else None
    supply = befalls("supply lost", supply_off(at_us, _HELD_US)) if spans else None
    rest = _on(simulate(machine, chart_logic(chart), once), 0)
    return Occasions(once, rest, held, stopped, supply, at_us)


def _let_go(press_: Event, before_us: int) -> Event:
    """The release of a button pressed shortly before something befalls the machine."""
    at_us = press_.at_us + max(1, (before_us - press_.at_us) // 2)
    return press_.model_copy(update={"on": False, "at_us": at_us})


def manners(machine: Machine, logic: Logic, met: Occasions) -> Manners:
    """How a machine behaves when this logic drives it."""
    once, rest = simulate(machine, logic, met.once), met.rest
    return Manners(
        held=_under_start(once, simulate(machine, logic, met.held)) if met.held is not None else "no START",
        stopped=_after(simulate(machine, logic, met.stopped), met.at_us, rest, "all off")
        if met.stopped is not None
        else "no STOP",
        supply=_after(simulate(machine, logic, met.supply), met.at_us, rest, "")
        if met.supply is not None
        else "does not start",
    )


def _under_start(once: Run, held: Run) -> str:
    """Whether a held START runs one cycle or more: by how often outputs come on, against one cycle. A cycle that
    begins anew in the moment the last one ends leaves them on."""
    if held.outcome is not Outcome.COMPLETED:
        return str(held.outcome)
    usual, now = (sum(_comes_on(run, 0).values()) for run in (once, held))
    if not now or now > usual:
        return "cycle after cycle" if now else "does not start"
    left = sorted(_on(held, held.ended_us) - _on(once, once.ended_us))
    return f"{' and '.join(left)} stays on" if left else "one cycle"


def _after(run: Run, at_us: int, rest: frozenset[str], off: str) -> str:
    """What is on while it lasts (nothing can be, where ``off`` is empty), and what comes on afterwards."""
    if run.outcome is not Outcome.COMPLETED:
        return str(run.outcome)
    back_us = at_us + _HELD_US
    during = sorted(_on(run, back_us - 1) - rest)
    homeward = [name for name in _comes_on(run, at_us, back_us) if name not in rest]
    if off and homeward and not during:
        off = f"{' and '.join(homeward)} on"
    after = [name for name in _comes_on(run, back_us) if name not in rest]
    told = [f"{' and '.join(during)} on" if during else off] if off else []
    told.append(f"then {' and '.join(after)} on" if after else "then rests")
    return ", ".join(told) if off else told[0].removeprefix("then ")


def _on(run: Run, at_us: int) -> frozenset[str]:
    """The outputs that are on at a moment, after all that happens then."""
    last = {c.signal: c.on for c in run.changes if c.role is Role.OUTPUT and c.at_us <= at_us}
    return frozenset(name for name, on in last.items() if on)


def _comes_on(run: Run, from_us: int, before_us: float = math.inf) -> dict[str, int]:
    """How often each output comes on, from a moment on and before another."""
    found: dict[str, int] = {}
    for change in run.changes:
        if change.role is Role.OUTPUT and change.on and from_us <= change.at_us < before_us:
            found[change.signal] = found.get(change.signal, 0) + 1
    return found
