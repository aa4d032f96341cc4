"""Runs of one machine for people to look at: which there are, running one, keeping it and replaying it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import chain

from pydantic import ValidationError

from compiler.chart_logic import chart_logic
from compiler.checking.scenarios import make_scenarios, usual_cycle
from compiler.logic import Logic
from compiler.simulation.run import Run, Scenario
from compiler.simulation.simulate import replay, simulate
from compiler.understand import Understood
from grammar.reading import ReadBack
from targets.build import emit_all, read_back
from targets.target import Artefact, Options

__all__ = ["NoSuchThing", "is_kept", "kept", "replayed", "runs", "scenario_of", "simulated"]

_SOME = 12  # runs named where there is none of a name


class NoSuchThing(Exception):
    """A run, an artefact or a record that is not there. Its text says what there is instead."""


def runs(understood: Understood) -> tuple[Scenario, ...]:
    """Every run the check makes of a machine, in the order it makes them."""
    assert understood.chart is not None
    return make_scenarios(understood.machine, understood.chart)


def simulated(understood: Understood, logic: Logic, name: str | None) -> Run:
    """The record of one run that a logic drives. Raises NoSuchThing."""
    return simulate(understood.machine, logic, scenario_of(understood, name))


def scenario_of(understood: Understood, name: str | None) -> Scenario:
    """What is done in the run of that name, or in the normal cycle where there is none. Raises NoSuchThing."""
    if name is None:
        assert understood.chart is not None
        return usual_cycle(understood.machine, understood.chart)
    return _chosen(runs(understood), name)


def kept(run: Run) -> str:
    """A run as JSON, to be replayed later."""
    return run.model_dump_json(indent=1) + "\n"


def is_kept(data: bytes) -> bool:
    """Whether a file holds a kept run, so that another may take its place."""
    try:
        Run.model_validate_json(data)
    except ValidationError:
        return False
    return True


def replayed(understood: Understood, data: bytes, given: Logic, options: Options) -> Run:
    """A kept run, run again by what it was kept with: a logic that is ``given``, or one of the program. Raises
    NoSuchThing where it is no run, or no longer comes out the same."""
    try:
        run = Run.model_validate_json(data)
    except ValidationError:
        raise NoSuchThing("that file is not a run that Rungwright kept") from None
    again = _again(understood, run, given, options)
    if again != run:
        raise NoSuchThing(
            "the run comes out differently now: the program or the machine has changed since it was kept"
        )
    return again


def _again(understood: Understood, run: Run, given: Logic, options: Options) -> Run:
    for logic in chain([given], _logics(understood, options)):
        if logic.name == run.driver:
            try:
                return replay(run, understood.machine, logic)
            except KeyError as missing:
                raise NoSuchThing(f"the run speaks of {missing}, which this machine does not have") from None
    raise NoSuchThing(f"the run was driven by {run.driver}; name that as --arrangement, too")


def _logics(understood: Understood, options: Options) -> Iterator[Logic]:
    assert understood.chart is not None
    yield chart_logic(understood.chart)
    artefacts, _ = emit_all(understood, options)
    yield from (_read_back(a, understood) for a in artefacts if a.implementation)


def _read_back(artefact: Artefact, understood: Understood) -> Logic:
    try:
        return read_back(artefact, understood.machine)
    except ReadBack:
        raise NoSuchThing(f"the {artefact.name} cannot be read back from its own text; do not use it") from None


def _chosen(found: tuple[Scenario, ...], name: str) -> Scenario:
    """The run of that name, the first whose name holds it, or the first that has all its words."""
    said = name.casefold()
    for fits in (
        lambda named: named == said,
        lambda named: said in named,
        lambda named: set(said.split()) <= set(re.findall(r"[^\s,()]+", named)),
    ):
        for scenario in found:
            if fits(scenario.name.casefold()):
                return scenario
    # One of each kind: the first two words tell it ("supply lost", "STOP in").
    kinds = {" ".join(scenario.name.split()[:2]): scenario.name for scenario in reversed(found)}
    some = "; ".join([scenario.name for scenario in found if scenario.name in kinds.values()][:_SOME])
    raise NoSuchThing(f'no run is called "{name}"; there are: {some}; and more, which --runs lists')
