"""The whole walk-through of one implementation."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from compiler.chart import Chart
from compiler.chart_logic import ChartLogic, chart_logic
from compiler.condition import Signal, both, walk
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.simulation.run import EventKind
from compiler.tell import condition_words
from compiler.walk.changes import Instant
from compiler.walk.course import passes
from compiler.walk.record import circuit_of
from grammar.rungs.tree import Rung
from grammar.rungs.write import write_network
from targets.target import CAUTION
from targets.walkthrough.moments import Teller
from targets.walkthrough.repeats import folded
from targets.walkthrough.rest import back_at_rest
from targets.walkthrough.scenes import Scenes
from targets.walkthrough.stops import stop_section
from targets.walkthrough.told import Level, Passage, Section, Sentence, Told
from targets.walkthrough.unknown import unknown_section
from targets.walkthrough.ways import parting, way_sections
from targets.walkthrough.words import listed, seconds

__all__ = ["walk_through"]

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
    cycle = _cycle(scenes, level)
    sections = (cycle, *way_sections(scenes, level), stop_section(scenes, level), unknown_section(scenes))
    moments = [p.at_us for p in cycle.passages if p.at_us is not None]
    shown = tuple(_shown(section, moments) for section in sections)
    return Told(machine.title, driver.name, level, shown, rungs, CAUTION)


def _shown(section: Section, moments: list[int]) -> Section:
    """A section whose links lead to moments that are told: each to the last one that is not later."""

    def at(passage: Passage) -> Passage:
        see = passage.see_us
        if see is None:
            return passage
        return replace(passage, see_us=max((m for m in moments if m <= see), default=None))

    return replace(section, passages=tuple(at(passage) for passage in section.passages))


def _which_way(scenes: Scenes) -> Iterator[Passage]:
    """Which way was told of a machine with a choice, and what made it so: no operator does anything so early."""
    ways = scenes.sequence.shape.ways
    choices = [way for way in ways if sum(other.sources == way.sources for other in ways) > 1]
    asked = {part.device for way in choices for part in walk(way.condition) if isinstance(part, Signal)}
    first = [e for e in scenes.normal.scenario.events if e.at_us == 0 and e.kind is EventKind.INPUT and e.on]
    made = [e.device for e in first if e.device in asked]
    if made:
        so = condition_words(both(*(Signal(device=name) for name in made)), scenes.machine)
        said = f"In this cycle {so} from the beginning, which decides its choices."
        yield Passage((Sentence(said),), None, "")


def _cycle(scenes: Scenes, level: Level) -> Section:
    """The cycle from its start to its end, and how the machine stands then."""
    run, full = scenes.normal, level is Level.FULL
    teller = Teller(scenes.machine, scenes.chart, by_rungs=run.circuit)
    parts = parting(scenes) if full else {}
    passages = []
    for k, instant in enumerate(run.instants):
        told = teller.full(instant) if full else teller.short(instant)
        following = run.instants[k + 1] if k + 1 < len(run.instants) else None
        if full:
            told += tuple(teller.phase(run.instants[k - 1], instant)) if k else ()
            told += tuple(parts.get(instant.at_us, ()))
            told += tuple(_waiting(instant, following, by_rungs=run.circuit))
        if told:
            passages.append(Passage(told, instant.at_us, seconds(instant.at_us)))
    repeated = folded(passages, passes(scenes.sequence.shape, scenes.steps))
    ending = [Passage((Sentence(_ending(scenes)),))] if run.instants else []
    return Section("The cycle", (*repeated, *ending, *_which_way(scenes)), _how(scenes))


def _how(scenes: Scenes) -> str:
    """What is told where there are no rungs to tell of."""
    if scenes.normal.circuit or isinstance(scenes.logic, ChartLogic):
        return ""
    return (
        f"The {scenes.logic.name} has no rungs to tell of. It drives the machine; which step it is in is told from "
        "the sequence, which follows the same inputs."
    )


def _waiting(instant: Instant, following: Instant | None, *, by_rungs: bool) -> Iterator[Sentence]:
    """What the machine waits for while nothing moves."""
    if following is None or not following.expired or instant.moving or not instant.timing:
        return
    if following.at_us - instant.at_us >= _LONG_US:
        wait = seconds(following.at_us - instant.at_us)
        names = [name for name, due in instant.timing if by_rungs and due == following.at_us]
        timing = f": {listed(names)} {'is' if len(names) == 1 else 'are'} timing" if names else ""
        yield Sentence(f"For {wait} nothing moves{timing}.")


def _ending(scenes: Scenes) -> str:
    run = scenes.normal
    if run.loop:
        return f"From here on {listed(run.loop)} never settle{'s' if len(run.loop) == 1 else ''}."
    if not run.gone_on:
        return "The run was given up: too much happens in too little time."
    return back_at_rest(scenes.machine, scenes.resting, run.instants[-1], by_rungs=run.circuit)


def _rung_text(rung: Rung) -> str:
    """A rung as it is written, with what stands in its masters."""
    fed = " and ".join(f"{feed.name.text} {feed.terminal}".rstrip() for feed in rung.feeds)
    network = write_network(rung.network)
    return f"{network}, feeds {fed}" if network else f"feeds {fed}"
