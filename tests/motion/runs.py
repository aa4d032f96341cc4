"""Runs to draw: of the shipped examples, of a few words, and made up at random."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from hypothesis import strategies as st

from compiler.chart import Chart
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.simulation.causes import Causes, causes
from compiler.simulation.run import Change, Event, Outcome, Role, Run, Scenario, Side
from compiler.simulation.simulate import simulate
from compiler.understand import Understood, understand
from grammar.source import Source
from targets.implementation import implementation
from targets.simulation import scenario_of
from targets.target import Options

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.seq"))


@dataclass(frozen=True)
class Ran:
    """A run with what it was made from."""

    machine: Machine
    chart: Chart
    run: Run
    why: Causes


def program(words: str) -> Understood:
    return understand(Source("test.seq", words))


@cache
def example(path: Path, *, run: str | None = None, of: str = "sequence", beside: str | None = None) -> Ran:
    """A run of a shipped example, the normal cycle when not named."""
    return ran(program(path.read_text(encoding="utf-8")), run=run, of=of, beside=beside)


def ran(what: Understood, *, run: str | None = None, of: str = "sequence", beside: str | None = None) -> Ran:
    scenario = scenario_of(what, run)
    driver = implementation(of, what, Options()).logic
    shadow = None if beside is None else implementation(beside, what, Options()).logic
    return of_scenario(what, scenario, driver, shadow)


def of_scenario(what: Understood, scenario: Scenario, driver: Logic, shadow: Logic | None = None) -> Ran:
    assert what.chart is not None
    made = simulate(what.machine, driver, scenario, shadow=shadow, after_us=3_000_000)
    return Ran(what.machine, what.chart, made, causes(made, what.machine, driver, shadow=shadow))


def pressed(*at: tuple[int, str, bool]) -> tuple[Event, ...]:
    """Inputs changed at moments in milliseconds."""
    return tuple(Event(at_us=ms * 1000, kind="input", device=name, on=on) for ms, name, on in at)


@st.composite
def any_runs(draw: st.DrawFn) -> Run:
    """A record of anything, under any names."""
    names = draw(st.lists(st.text(max_size=12), min_size=1, max_size=6, unique=True))
    sides = draw(st.lists(st.sampled_from(list(Side)), min_size=len(names), max_size=len(names)))
    roles = {Side.WORLD: Role.INPUT, Side.DRIVER: Role.OUTPUT, Side.SHADOW: Role.OUTPUT}
    moments = sorted(draw(st.sets(st.integers(0, 10_000_000), min_size=1, max_size=12)))
    on = [False] * len(names)
    changes = []
    for at_us in moments:
        for k in sorted(draw(st.sets(st.integers(0, len(names) - 1), min_size=1))):
            on[k] = not on[k]
            changes.append(Change(at_us=at_us, side=sides[k], role=roles[sides[k]], signal=names[k], on=on[k]))
    ended = moments[-1] + draw(st.integers(1, 1_000_000))
    return Run(
        machine=draw(st.text(max_size=20)),
        driver=draw(st.text(max_size=20)),
        shadow=draw(st.text(max_size=20)) if Side.SHADOW in sides else "",
        scenario=Scenario(name=draw(st.text(max_size=20)), duration_us=ended),
        changes=tuple(changes),
        ended_us=ended,
        outcome=Outcome.COMPLETED,
    )
