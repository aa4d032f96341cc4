"""What drives a machine in a run or a proof, by the name the user gave; and the run itself, by its name."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from targets.given import FOUND, refuse

if TYPE_CHECKING:
    from collections.abc import Callable

    from compiler.proof.verdict import Proof
    from compiler.simulation.run import Scenario
    from compiler.understand import Understood
    from targets.implementation import Implementation

__all__ = ["DRIVES", "WHICH_RUN", "driving", "proved", "scenario_named"]

DRIVES = (
    "What drives: a relay arrangement, another artefact's name, or a rung list or program in a file; the sequence "
    "itself when not given."
)
WHICH_RUN = "Which run, by words of its name; the normal cycle when not given."


def driving(name: str, program: Understood, anti_repeat: bool, *, quiet: bool = False) -> Implementation:
    """The implementation of that name. Exits with what is wrong where it cannot be had; what is only worth knowing
    about its text is said, unless ``quiet``."""
    from grammar.reading import ReadBack
    from targets.implementation import Unusable, implementation
    from targets.screen import show_diagnostics, show_messages
    from targets.simulation import NoSuchThing
    from targets.target import Options

    try:
        found = implementation(name, program, Options(anti_repeat=anti_repeat))
        if found.notices and not quiet:
            show_diagnostics(found.notices, found.source)
        return found
    except NoSuchThing as why:
        refuse(str(why))
    except Unusable as unusable:
        show_messages(unusable.understood)
    except ReadBack as unreadable:
        show_diagnostics(unreadable.diagnostics, unreadable.source)
    sys.exit(FOUND)


def scenario_named(name: str | None, program: Understood) -> Scenario:
    """The run of that name, or the normal cycle where there is none. Exits with what there is instead."""
    from targets.simulation import NoSuchThing, scenario_of

    try:
        return scenario_of(program, name)
    except NoSuchThing as why:
        refuse(str(why))


def proved(driver: Implementation, shadow: Implementation, program: Understood, *, quiet: bool = False) -> Proof:
    """Whether the two do the same, with a line on a terminal that tells what is being searched."""
    from compiler.proof.prove import prove
    from targets.report import progress

    with progress(quiet=quiet) as told:
        hear: Callable[[str], None] = told
        return prove(driver.logic, shadow.logic, program.machine, told=hear)
