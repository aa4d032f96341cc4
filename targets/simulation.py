"""Runs of one machine for people to look at: which there are, running one, keeping it and replaying it."""

from __future__ import annotations

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

__all__ = ["NoSuchThing", "is_kept", "kept", "logic_of", "replayed", "runs", "scenario_of", "simulated"]

_SEQUENCE = "sequence"


class NoSuchThing(Exception):
    """A run, an artefact or a record that is not there. Its text says what there is instead."""


def runs(understood: Understood) -> tuple[Scenario, ...]:
    """Every run the check makes of a machine, in the order it makes them."""
    assert understood.chart is not None
    return make_scenarios(understood.machine, understood.chart)


def simulated(understood: Understood, which: str, name: str | None, options: Options) -> Run:
    """The record of one run, driven by the sequence or by an artefact. Raises NoSuchThing."""
    logic = logic_of(understood, which, options)
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


def replayed(understood: Understood, data: bytes, options: Options) -> Run:
    """A kept run, run again. Raises NoSuchThing where it is no run, or no longer comes out the same."""
    try:
        run = Run.model_validate_json(data)
    except ValidationError:
        raise NoSuchThing("that file is not a run that Rungwright kept") from None
    again = _again(understood, run, options)
    if again != run:
        raise NoSuchThing(
            "the run comes out differently now: the program or the machine has changed since it was kept"
        )
    return again


def _again(understood: Understood, run: Run, options: Options) -> Run:
    for logic in _logics(understood, options):
        if logic.name == run.driver:
            try:
                return replay(run, understood.machine, logic)
            except KeyError as missing:
                raise NoSuchThing(f"the run speaks of {missing}, which this machine does not have") from None
    raise NoSuchThing(f"the run was driven by {run.driver}, which this program does not give")


def logic_of(understood: Understood, which: str, options: Options) -> Logic:
    """The sequence, or the artefact whose name or file holds ``which``. Raises NoSuchThing."""
    assert understood.chart is not None
    if which == _SEQUENCE:
        return chart_logic(understood.chart)
    artefacts, _ = emit_all(understood, options)
    implementations = [a for a in artefacts if a.implementation]
    for artefact in implementations:
        if which in artefact.name or which in artefact.file:
            return _read_back(artefact, understood)
    names = ", ".join([_SEQUENCE, *(a.name for a in implementations)])
    raise NoSuchThing(f"nothing is called {which}; there are {names}")


def _logics(understood: Understood, options: Options) -> list[Logic]:
    assert understood.chart is not None
    artefacts, _ = emit_all(understood, options)
    printed = [_read_back(a, understood) for a in artefacts if a.implementation]
    return [chart_logic(understood.chart), *printed]


def _read_back(artefact: Artefact, understood: Understood) -> Logic:
    try:
        return read_back(artefact, understood.machine)
    except ReadBack:
        raise NoSuchThing(f"the {artefact.name} cannot be read back from its own text; do not use it") from None


def _chosen(found: tuple[Scenario, ...], name: str) -> Scenario:
    for scenario in found:
        if scenario.name == name:
            return scenario
    for scenario in found:
        if name.casefold() in scenario.name.casefold():
            return scenario
    raise NoSuchThing(f'no run is called "{name}"; rungwright simulate --runs lists them')
