"""Stroke times against what is said of them: stated against reckoned, time limits, and a pump that two share."""

from __future__ import annotations

from collections.abc import Iterator

from compiler.chart import Step
from compiler.condition import Elapsed, Signal, walk
from compiler.findings.subject import Subject
from compiler.machine import Actuator, End, TravelBasis
from compiler.physics.piston import Piston, reckoned
from compiler.physics.waiting import whole_stroke
from compiler.units import time_text
from grammar.diagnostic import Diagnostic

__all__ = ["limit_too_short", "shared_pump", "stated_otherwise"]

_VERB = {End.END: "extend", End.HOME: "retract"}


def stated_otherwise(subject: Subject) -> Iterator[Diagnostic]:
    """RW355: a stated time and the one that follows from bore, stroke and flow have nothing in common."""
    for actuator in subject.machine.actuators:
        piston = Piston.of_actuator(actuator)
        for toward in End:
            travel = actuator.extend_time if toward is End.END else actuator.retract_time
            told = None if piston is None or travel.basis is not TravelBasis.STATED else reckoned(piston, toward)
            if told is None or (told.least_us <= travel.greatest_us and travel.least_us <= told.greatest_us):
                continue
            message = (
                f"bore, stroke and flow of {actuator.name} make {_rounded(told.least_us)} to "
                f"{_rounded(told.greatest_us)} of the time to {_VERB[toward]}"
            )
            yield subject.at_line("RW355", message, actuator.name, _VERB[toward] + "s")


def limit_too_short(subject: Subject) -> Iterator[Diagnostic]:
    """RW356: a time limit that a slow but healthy stroke goes beyond."""
    for step in subject.chart.steps:
        for actuator, toward in subject.begun(step):
            needed = _needed_us(subject, step, actuator, toward)
            for t in subject.exits(step):
                if needed is None or not any(subject.step(name).fault for name in t.targets):
                    continue
                for part in walk(t.condition):
                    if isinstance(part, Elapsed) and part.step == step.name and part.time_us < needed:
                        message = (
                            f"the time limit of {time_text(part.time_us)} is shorter than the {_VERB[toward]} stroke "
                            f"of {actuator.name}, which takes up to {_rounded(needed)}"
                        )
                        yield subject.at_words("RW356", message, t.words)


def _needed_us(subject: Subject, step: Step, actuator: Actuator, toward: End) -> int | None:
    """The longest a stroke from the other end takes to the first switch of its cylinder that the step waits for; None
    where it waits for none."""
    whole = whole_stroke(actuator, toward, {action.output for action in step.actions})
    awaited = {part.device for t in subject.onward(step) for part in walk(t.condition) if isinstance(part, Signal)}
    shares = []
    for switch in actuator.limit_switches:
        if switch.name in awaited and switch.toward is toward:
            way = switch.at_um if toward is End.END else actuator.stroke_um - switch.at_um
            shares.append(way / actuator.stroke_um)
    shares += [1.0 for switch in actuator.pressure_switches if switch.name in awaited and switch.toward is toward]
    return None if not shares else int(whole.greatest_us * min(shares))


def shared_pump(subject: Subject) -> Iterator[Diagnostic]:
    """RW357: strokes of two cylinders, begun at once or in branches side by side, are each reckoned with the pump's
    whole flow. Told once for the same cylinders."""
    told: set[frozenset[str]] = set()
    for steps in _side_by_side(subject):
        fed = {
            a.name: step
            for step in steps
            for a, _ in subject.begun(step)
            if a.ratings is not None and a.ratings.from_pump
        }
        if len(fed) > 1 and frozenset(fed) not in told:
            told.add(frozenset(fed))
            message = f"{' and '.join(fed)} share the pump here, and each is reckoned with its whole flow"
            yield subject.at_words("RW357", message, list(fed.values())[-1].words)


def _side_by_side(subject: Subject) -> Iterator[list[Step]]:
    """The steps that may be under way together: each by itself, and those of the branches of parallel work."""
    for step in subject.chart.steps:
        yield [step]
    for fork in subject.shape.ways:
        if len(fork.targets) > 1:
            branches = [_branch(subject, target) for target in fork.targets]
            yield [subject.step(name) for branch in branches for name in branch]


def _branch(subject: Subject, first: str) -> list[str]:
    """The steps of a branch, up to where it is joined to the others."""
    found, waiting = [first], [first]
    while waiting:
        here = waiting.pop()
        for t in subject.shape.ways:
            if t.sources == (here,):
                new = [name for name in t.targets if name not in found]
                found += new
                waiting += new
    return found


def _rounded(time_us: int) -> str:
    """A time to three digits."""
    return f"{time_us / 1e6:.3g} s"
