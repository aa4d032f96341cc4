"""The whole walk-through of one implementation."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from compiler.chart import Chart
from compiler.chart_logic import chart_logic
from compiler.condition import Signal, both
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.simulation.run import EventKind
from compiler.tell import condition_words
from compiler.walk.changes import Instant
from compiler.walk.record import Record, circuit_of
from grammar.rungs.tree import Rung
from grammar.rungs.write import write_network
from targets.target import CAUTION
from targets.walkthrough.moments import Teller
from targets.walkthrough.rest import back_at_rest
from targets.walkthrough.scenes import Scenes
from targets.walkthrough.stops import stop_section
from targets.walkthrough.told import Level, Passage, Section, Sentence, Told
from targets.walkthrough.unknown import unknown_section
from targets.walkthrough.words import listed, seconds

__all__ = ["cycle_section", "walk_through"]

_LONG_US = 100_000  # a pause shorter than this is not waited for


def walk_through(machine: Machine, chart: Chart, logic: Logic | None = None, *, level: Level = Level.FULL) -> Told:
    """How ``logic`` drives the machine through a cycle of its chart, what STOP does, and what it does not know.

    A relay circuit is told by its rungs; anything else, the chart itself where there is no logic, by the steps of the
    chart and their conditions.
    """
    driver = chart_logic(chart) if logic is None else logic
    scenes = Scenes.of(machine, chart, driver)
    circuit = circuit_of(driver)
    rungs = () if circuit is None else tuple((rung.number, _rung_text(rung)) for rung in circuit.circuit.rungs)
    cycle = cycle_section(machine, chart, scenes.normal, level)
    cycle = replace(cycle, passages=(*cycle.passages, *_which_way(scenes)))
    sections = (cycle, stop_section(scenes, level))
    return Told(
        machine.title, driver.name, level, (*sections, unknown_section(scenes)), rungs, CAUTION
    )  # fmt: skip


def _which_way(scenes: Scenes) -> Iterator[Passage]:
    """Which way was told of a machine with a choice, and what made it so: no operator does anything so early."""
    made = [e.device for e in scenes.normal.scenario.events if e.at_us == 0 and e.kind is EventKind.INPUT and e.on]
    if made:
        so = condition_words(both(*(Signal(device=name) for name in made)), scenes.machine)
        said = f"Where there is a choice, this cycle goes the way that is written first: {so} from the beginning."
        yield Passage((Sentence(said),), None, "")


def cycle_section(machine: Machine, chart: Chart, run: Record, level: Level) -> Section:
    """A run from its start to its end, and how the machine stands then."""
    teller = Teller(machine, chart, by_rungs=run.circuit)
    passages = []
    for k, instant in enumerate(run.instants):
        told = teller.full(instant) if level is Level.FULL else teller.short(instant)
        following = run.instants[k + 1] if k + 1 < len(run.instants) else None
        if level is Level.FULL:
            told += tuple(teller.phase(run.instants[k - 1], instant)) if k else ()
            told += tuple(_waiting(instant, following, by_rungs=run.circuit))
        if told:
            passages.append(Passage(told, instant.at_us, seconds(instant.at_us)))
    if run.instants:
        passages.append(Passage((Sentence(_ending(machine, run)),), None, ""))
    return Section("The cycle", tuple(passages))


def _waiting(instant: Instant, following: Instant | None, *, by_rungs: bool) -> Iterator[Sentence]:
    """What the machine waits for while nothing moves."""
    if following is None or not following.expired or instant.moving or not instant.timing:
        return
    if following.at_us - instant.at_us >= _LONG_US:
        wait = seconds(following.at_us - instant.at_us)
        names = [name for name, due in instant.timing if by_rungs and due == following.at_us]
        timing = f": {listed(names)} {'is' if len(names) == 1 else 'are'} timing" if names else ""
        yield Sentence(f"For {wait} nothing moves{timing}.")


def _ending(machine: Machine, run: Record) -> str:
    if run.loop:
        return f"From here on {listed(run.loop)} never settle{'s' if len(run.loop) == 1 else ''}."
    if not run.gone_on:
        return "The run was given up: too much happens in too little time."
    return back_at_rest(machine, run.instants[0], run.instants[-1], by_rungs=run.circuit)


def _rung_text(rung: Rung) -> str:
    """A rung as it is written, with what stands in its masters."""
    fed = " and ".join(f"{feed.name.text} {feed.terminal}".rstrip() for feed in rung.feeds)
    network = write_network(rung.network)
    return f"{network}, feeds {fed}" if network else f"feeds {fed}"
