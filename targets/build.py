"""The driver: a program understood, every artefact emitted, read back from its own text and checked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from compiler.chart import Chart, Step
from compiler.chart_logic import chart_logic
from compiler.checking.assumption import Assumption
from compiler.checking.check import check
from compiler.checking.reached import passed_at_once, unreached
from compiler.checking.requirements import Broken
from compiler.checking.scenarios import make_scenarios
from compiler.checking.verdict import Standing, Verdict
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.examine import Examined, examine
from compiler.proof.prove import MOST_ZONES, prove
from compiler.proof.required import Kept
from compiler.proof.verdict import Proof
from compiler.proof.verdict import Standing as ProofStanding
from compiler.proof.world import Assumed
from compiler.shape import shape_of
from compiler.understand import Understood
from grammar.reading import ReadBack
from targets.target import Artefact, Options, Refusal, Target, find_targets

__all__ = ["Built", "Printed", "Rewired", "announced", "build_all", "emit_all", "read_back"]


@dataclass(frozen=True, slots=True)
class Printed:
    """An artefact, and what was found of it where it is an implementation that could be read back: a proof, or the
    verdict of simulated runs."""

    artefact: Artefact
    proof: Proof | None = None
    verdict: Verdict | None = None
    unreadable: ReadBack | None = None

    @property
    def headline(self) -> str:
        """What was found of it, in a line; empty where nothing was looked for."""
        if self.proof is not None:
            return self.proof.headline
        if self.verdict is not None:
            return f"simulated only: {self.verdict.lines[0]}"
        return "it cannot be read back from its own text; do not use it" if self.unreadable else ""

    def sound(self, *, strict: bool) -> bool:
        """Whether nothing was found that was not announced (nothing at all, when ``strict``)."""
        if self.proof is not None:
            allowed = frozenset() if strict else announced(self.artefact.announces)
            differs = self.proof.standing is ProofStanding.DIFFERS or not set(self.proof.needs) <= allowed
            return not differs and not self.proof.chatters
        if self.verdict is not None:
            same = self.verdict.standing is Standing.SAME
            return self.verdict.sound and not self.verdict.unfinished and (same or not strict)
        return self.unreadable is None


@dataclass(frozen=True, slots=True)
class Rewired:
    """What was found of a circuit made again from its wiring list alone: in what it is ``unlike`` its rungs."""

    name: str
    unlike: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Built:
    """All that was printed and all that was refused.

    ``unreached`` are the steps that no run stayed in, but for those that are made to be passed; ``idle`` says that no
    run stayed in any but those at rest: no cycle ever begins, and all that was compared is a machine that stands
    still. ``examined`` is what was proved of the sequence alone. ``rewired`` are the circuits whose wiring lists were
    read back.
    """

    printed: tuple[Printed, ...]
    refused: tuple[Refusal, ...]
    unreached: tuple[Step, ...] = ()
    examined: Examined | None = None
    idle: bool = False
    rewired: tuple[Rewired, ...] = ()

    @property
    def kept(self) -> tuple[Kept, ...]:
        """What was proved of the requirements."""
        return () if self.examined is None else self.examined.kept

    @property
    def broken(self) -> tuple[Broken, ...]:
        """The requirements the sequence itself does not keep, the same whichever artefact ran beside it."""
        return next((p.verdict.broken for p in self.printed if p.verdict is not None), ())

    @property
    def unsettled(self) -> bool:
        """Whether a proof was given up."""
        given_up = any(p.proof is not None and p.proof.standing is ProofStanding.NOT_SETTLED for p in self.printed)
        given_up = given_up or any(not kept.settled for kept in self.kept)
        return given_up or (self.examined is not None and not self.examined.settled)

    def found(self, *, strict: bool) -> bool:
        """Whether something is wrong: a requirement that is broken, an artefact that can't be read back, or one that
        differs from the sequence in a way it did not announce (any difference at all, when ``strict``), or a sequence
        that in some run never settles, or never begins, so that nothing could be compared there."""
        wrong = self.idle or (self.examined is not None and not self.examined.good)
        wrong = wrong or any(kept.broken for kept in self.kept) or any(one.unlike for one in self.rewired)
        return wrong or bool(self.broken) or not all(printed.sound(strict=strict) for printed in self.printed)


def announced(assumptions: frozenset[Assumption]) -> frozenset[Assumed]:
    """What a proof may assume of an artefact that announces these."""
    of_the_operator = {Assumption.START_RELEASED, Assumption.START_AT_HOME, Assumption.SUPPLY_WITH_START}
    allowed: set[Assumed] = set()
    if assumptions & of_the_operator:
        allowed |= {Assumed.CAREFUL, Assumed.APART}
    if Assumption.STROKE_TIME in assumptions:
        allowed.add(Assumed.EXACT)
    if Assumption.NO_JAM in assumptions:
        allowed.add(Assumed.NO_JAM)
    if Assumption.SWITCHES_WORK in assumptions:
        allowed.add(Assumed.SWITCHES)
    return frozenset(allowed)


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
    understood: Understood, options: Options, *, quick: bool = False, told: Callable[[str], None] = lambda _: None
) -> Built | None:
    """Emit, read back and prove everything, or only run it when ``quick``; None where faults leave nothing to build.

    ``told`` hears what is being done, for progress.
    """
    if understood.chart is None:
        return None
    artefacts, refused = emit_all(understood, options)
    judge = _run(understood, told) if quick else _prove(understood, told)
    printed = tuple(_judged(artefact, understood.machine, judge) for artefact in artefacts)
    if quick:
        scenarios = make_scenarios(understood.machine, understood.chart)
        unmet = unreached(understood.machine, understood.chart, scenarios)
        idle = _idle(understood.chart, unmet)
        return Built(printed, tuple(refused), _unmet(understood.chart, unmet), idle=idle)
    told("proving the sequence itself")
    logic = chart_logic(understood.chart)
    examined = examine(logic, understood.chart, understood.machine, most_zones=MOST_ZONES)
    missing = tuple(step for step in understood.chart.steps if step.name in examined.unreached)
    idle = _idle(understood.chart, missing)
    return Built(printed, tuple(refused), _unmet(understood.chart, missing), examined, idle)


def _unmet(chart: Chart, unmet: Sequence[Step]) -> tuple[Step, ...]:
    """Without the steps that are passed at once as they are made to be: nothing of them is left unchecked."""
    passed = passed_at_once(chart, (step.name for step in unmet))
    return tuple(step for step in unmet if step.name not in passed)


def _idle(chart: Chart, unreached: Iterable[Step]) -> bool:
    shape = shape_of(chart)
    begun = shape.steps - shape.initial
    return bool(begun) and begun <= {step.name for step in unreached}


_Judge = Callable[[Artefact, Logic], Printed]


def _judged(artefact: Artefact, machine: Machine, judge: _Judge) -> Printed:
    if not artefact.implementation:
        return Printed(artefact)
    try:
        candidate = read_back(artefact, machine)
    except ReadBack as unreadable:
        return Printed(artefact, unreadable=unreadable)
    return judge(artefact, candidate)


def _prove(understood: Understood, told: Callable[[str], None]) -> _Judge:
    assert understood.chart is not None
    sequence = chart_logic(understood.chart)

    def judge(artefact: Artefact, candidate: Logic) -> Printed:
        told(f"proving {artefact.name}")
        allowed = announced(artefact.announces)
        return Printed(artefact, proof=prove(sequence, candidate, understood.machine, announced=allowed))

    return judge


def _run(understood: Understood, told: Callable[[str], None]) -> _Judge:
    chart = understood.chart
    assert chart is not None
    sequence = chart_logic(chart)
    told("making the runs")
    scenarios = make_scenarios(understood.machine, chart)

    def judge(artefact: Artefact, candidate: Logic) -> Printed:
        told(f"running {artefact.name}")
        announces = artefact.announces
        found = check(sequence, candidate, understood.machine, chart, scenarios, announced=announces)
        return Printed(artefact, verdict=found)

    return judge


def _target(name: str) -> Target:
    return next(target for target in find_targets() if target.name == name)
