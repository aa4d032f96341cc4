"""Causes contact by contact: read off the rungs by hand, and complete for every circuit of some examples."""

from __future__ import annotations

from functools import cache

import pytest

from compiler.checking.scenarios import usual_cycle
from compiler.logic import Logic
from compiler.simulation.causes import Cause, Causes, causes
from compiler.simulation.run import Role, Run, Side
from compiler.simulation.simulate import simulate
from compiler.walk.by_contacts import by_contacts
from compiler.walk.record import circuit_of
from targets.build import emit_all, read_back
from targets.implementation import implementation
from targets.target import Options
from tests.whole.programs import example


@cache
def followed(stem: str, arrangement: str) -> tuple[Run, Causes, Causes]:
    """A cycle of a circuit, its causes as tried, and as followed through the contacts."""
    return _followed(stem, implementation(arrangement, example(stem), Options()).logic)


def _followed(stem: str, logic: Logic) -> tuple[Run, Causes, Causes]:
    machine, chart = example(stem).machine, example(stem).chart
    assert chart is not None
    run = simulate(machine, logic, usual_cycle(machine, chart), after_us=1_000_000)
    tried = causes(run, machine, logic)
    return run, tried, by_contacts(tried, run, machine, logic)


def test_the_on_delay_dwell_coil_by_coil() -> None:
    """rung 1: (START and LS2) or CR1, STOP NC, TR1 NCTO, feeds CR1; rung 2: CR1, LS1, feeds TR1; rung 3: CR1, feeds
    SOL1."""
    run, _, found = followed("bung-press", "on-delay")
    at = {c.signal: c.at_us for c in run.changes if c.on and c.signal in ("START", "LS1")}
    driver, over = Side.DRIVER, at["LS1"] + 4_000_000
    assert found.contacts
    assert set(found.causes) == {
        Cause(at["START"], driver, "START", False, Role.INSIDE, "CR1"),
        Cause(at["START"], driver, "CR1", False, Role.OUTPUT, "SOL1", coil=True),
        Cause(at["LS1"], driver, "LS1", False, Role.INSIDE, "TR1", clock=True),
        Cause(over, driver, "TR1", True, Role.INSIDE, "CR1"),
        Cause(over, driver, "CR1", False, Role.OUTPUT, "SOL1", coil=True),
    }


def test_a_coil_that_moves_for_no_time_is_stood_for_by_what_moved_it() -> None:
    """The last relay of the chain picks up, drops the first and with it itself: LS2 is what dropped the chain. CR1
    has one slave, CR1A, and CR2 is fed by that."""
    run, _, found = followed("clamp-and-drill", "step-chain")
    home = max(c.at_us for c in run.changes if c.signal == "LS2" and c.on)
    assert Cause(home, Side.DRIVER, "LS2", False, Role.INSIDE, "CR1") in found.causes
    assert Cause(home, Side.DRIVER, "CR1", False, Role.INSIDE, "CR1A", coil=True) in found.causes
    assert Cause(home, Side.DRIVER, "CR1A", False, Role.INSIDE, "CR2", coil=True) in found.causes


@pytest.mark.parametrize("stem", ["bung-press", "tag-punch", "tile-press", "bead-drill"])
def test_every_change_has_a_cause_that_leads_back_to_an_input_or_a_time(stem: str) -> None:
    made, _ = emit_all(example(stem), Options())
    circuits = [logic for a in made if a.implementation and circuit_of(logic := read_back(a, example(stem).machine))]
    assert circuits
    for logic in circuits:
        run, tried, found = _followed(stem, logic)
        told = {(c.at_us, c.role, c.signal) for c in found.causes if not c.clock}
        assert told == {(c.at_us, c.role, c.signal) for c in tried.causes if not c.clock}
        outside = {(c.at_us, c.signal) for c in run.changes if c.role is Role.INPUT}
        outside |= {(c.to_us, c.timer) for c in run.clocks} | {(c.from_us, c.timer) for c in run.clocks}
        known = {(c.at_us, c.signal) for c in found.causes if c.role is Role.INSIDE}
        for cause in found.causes:
            assert (cause.at_us, cause.of) in (known if cause.coil else outside), cause
