"""The driver: a program understood, every artefact emitted, read back from its own text and checked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from compiler.chart import Step
from compiler.chart_logic import chart_logic
from compiler.checking.check import check
from compiler.checking.reached import unreached
from compiler.checking.requirements import Broken
from compiler.checking.scenarios import make_scenarios
from compiler.checking.verdict import Standing, Verdict
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.understand import Understood
from grammar.reading import ReadBack
from targets.target import Artefact, Options, Refusal, Target, find_targets

__all__ = ["Built", "Printed", "build_all", "emit_all", "read_back"]


@dataclass(frozen=True, slots=True)
class Printed:
    """An artefact, and the verdict on it where it is an implementation that could be read back."""

    artefact: Artefact
    verdict: Verdict | None = None
    unreadable: ReadBack | None = None


@dataclass(frozen=True, slots=True)
class Built:
    """All that was printed and all that was refused. ``unreached`` are the steps that no run came to."""

    printed: tuple[Printed, ...]
    refused: tuple[Refusal, ...]
    unreached: tuple[Step, ...] = ()

    @property
    def broken(self) -> tuple[Broken, ...]:
        """The requirements the sequence itself does not keep, the same whichever artefact ran beside it."""
        return next((p.verdict.broken for p in self.printed if p.verdict is not None), ())

    def found(self, *, strict: bool) -> bool:
        """Whether something is wrong: a requirement that is broken, an artefact that can't be read back, or one that
        differs from the sequence in a way it did not announce (any difference at all, when ``strict``), or a sequence
        that in some run never settles, so that nothing could be compared there."""
        return bool(self.broken) or any(
            printed.unreadable is not None
            or (printed.verdict is not None and (not printed.verdict.sound or printed.verdict.unfinished > 0))
            or (strict and printed.verdict is not None and printed.verdict.standing is not Standing.SAME)
            for printed in self.printed
        )


def emit_all(understood: Understood, options: Options) -> tuple[list[Artefact], list[Refusal]]:
    """What every target prints of a chart, and what it refuses."""
    assert understood.chart is not None
    made = [
        thing
        for target in find_targets()
        for thing in target.emit(understood.machine, understood.chart, options=options)
    ]
    return [a for a in made if isinstance(a, Artefact)], [r for r in made if isinstance(r, Refusal)]


def read_back(artefact: Artefact, machine: Machine) -> Logic:
    """The Logic of a printed artefact, from its text alone. Raises ReadBack."""
    return _target(artefact.target).read(artefact.text, artefact.file, machine)


def build_all(
    understood: Understood, options: Options, *, told: Callable[[str], None] = lambda _: None
) -> Built | None:
    """Emit, read back and check everything; None where faults leave nothing to build.

    ``told`` hears what is being done, for progress.
    """
    if understood.chart is None:
        return None
    artefacts, refused = emit_all(understood, options)
    told("making the runs")
    scenarios = make_scenarios(understood.machine, understood.chart)
    sequence = chart_logic(understood.chart)
    printed = []
    for artefact in artefacts:
        if not artefact.implementation:
            printed.append(Printed(artefact))
            continue
        told(f"checking {artefact.name}")
        try:
            candidate = read_back(artefact, understood.machine)
        except ReadBack as unreadable:
            printed.append(Printed(artefact, unreadable=unreadable))
            continue
        verdict = check(
            sequence, candidate, understood.machine, understood.chart, scenarios, announced=artefact.announces
        )
        printed.append(Printed(artefact, verdict))
    return Built(tuple(printed), tuple(refused), unreached(understood.machine, understood.chart, scenarios))


def _target(name: str) -> Target:
    return next(target for target in find_targets() if target.name == name)
