"""From a Logic and its Machine to a program in plain words, proved against the original."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from compiler.chart_logic import chart_logic
from compiler.logic import Logic
from compiler.machine import LoadKind, Machine
from compiler.proof.prove import prove
from compiler.proof.telling import sentence
from compiler.proof.verdict import Proof, Standing
from compiler.proof.world import WORKING
from compiler.retell.besides import begun_anew, told_besides
from compiler.retell.cause import Wordless
from compiler.retell.cycle import Followed, follow
from compiler.retell.desk import Desk, Restless, at_rest
from compiler.retell.operator import trials
from compiler.retell.pilots import pilots
from compiler.retell.readings import readings
from compiler.retell.without import Without
from compiler.retell.words import program
from compiler.understand import Understood, understand
from grammar.sequence.write import write
from grammar.source import Source

__all__ = ["Retold", "retell"]

_MOST_ZONES = 60_000  # for each reading that is tried
_MOST_ZONES_IN_ALL = 400_000  # after that the best so far is told
_TOLD = 1  # what is worth no more than this is told: the same, or the same under an assumption


@dataclass(frozen=True, slots=True)
class Retold:
    """What was told of a Logic: the program (empty where words do not suffice to begin with), what it means, the
    proof that it is the original again, and notes on what has no words."""

    text: str
    proof: Proof | None = None
    understood: Understood | None = None
    notes: tuple[str, ...] = ()

    @property
    def differences(self) -> tuple[str, ...]:
        """What the original does otherwise, a sentence for each run that the proof shows."""
        runs = [outside.run for outside in self.proof.outside] if self.proof is not None else []
        machine = self.understood.machine if self.understood is not None else Machine()
        return tuple(sentence(run, machine) for run in runs if run is not None)


def retell(logic: Logic, machine: Machine, *, told: Callable[[str], None] = lambda _: None) -> Retold:
    """The program that does what a Logic does, as far as words go. Never raises for anything a Logic may do.

    Of all the ways to read what was seen, the one that is the same under the weakest assumptions is told, and of
    several that are equal the plainest. A lamp that no step tells of is left out. ``told`` hears what is being done.
    """
    told("trying it out")
    try:
        rest = at_rest(machine, logic)
    except Restless:
        return _refused("something in it goes on and on by itself")
    lights = pilots(_moments(rest))
    at_first = rest.lit_loads - {light.load for light in lights}
    ignored = at_first | {light.load for light in lights}
    driving = [load.name for load in machine.loads if load.kind is LoadKind.SOLENOID and load.name in ignored]
    if driving:
        # What is left out must not move anything, or the two would not be compared on the same machine.
        return _refused(f"{' and '.join(driving)} must be on at rest")
    best = _best(machine, logic, ignored, told)
    left_out = [f"{name} is on at rest; it is left out, and not compared" for name in sorted(at_first)]
    left_out += [light.told for light in lights]
    for lamps in _signs(best, machine, ignored):
        fewer = _best(machine, logic, ignored | lamps, told)
        if _worth(fewer)[0] <= _TOLD:
            best = fewer
            left_out += [f"no step tells when {one} is on; it is left out, and not compared" for one in sorted(lamps)]
            break
    return replace(best, notes=(*map(_suffice, left_out), *best.notes))


def _best(machine: Machine, logic: Logic, ignored: frozenset[str], told: Callable[[str], None]) -> Retold:
    """The best of all that can be told without some loads."""
    compared = Without(logic, ignored) if ignored else logic
    best: Retold | None = None
    zones = 0
    for candidate in _candidates(at_rest(machine, logic, ignored), machine, compared, told):
        if best is None or _worth(candidate) < _worth(best):
            best = candidate
        zones += candidate.proof.zones if candidate.proof is not None else 0
        if _worth(best)[0] == 0 or zones > _MOST_ZONES_IN_ALL:
            break
    assert best is not None  # there is always the first trial
    return best


def _signs(best: Retold, machine: Machine, ignored: frozenset[str]) -> Iterator[frozenset[str]]:
    """The lamps and horns that differ from what was told and may be left out, since they move nothing."""
    if _worth(best)[0] <= _TOLD:
        return
    said = " ".join((*best.differences, *best.notes))
    signs = [d.name for d in machine.loads if d.kind in (LoadKind.LAMP, LoadKind.HORN) and d.name not in ignored]
    named = [name for name in signs if re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", said)]
    yield from (frozenset({name}) for name in named)
    if len(named) > 1:
        yield frozenset(named)


def _moments(rest: Desk) -> tuple[Desk, ...]:
    """Rest, and some moments of a cycle."""
    try:
        return (rest, *(piece.start for piece in follow(rest).pieces))
    except Wordless:
        return (rest,)


def _refused(reason: str) -> Retold:
    return Retold("", notes=(_suffice(reason),))


def _candidates(rest: Desk, machine: Machine, logic: Logic, told: Callable[[str], None]) -> Iterator[Retold]:
    """What each trial run, from each way the machine may stand at rest, and each reading of it has to tell."""
    for trial in trials(rest):
        try:
            followed = follow(trial)
        except Wordless as reason:
            yield _refused(str(reason))
            continue
        besides = tuple(told_besides(trial, followed))
        for reading in readings(machine, followed):
            candidate = _judged(reading, machine, logic, told)
            unsaid = (*_stop_unheard(candidate, followed), *besides)
            yield replace(candidate, notes=(*candidate.notes, *map(_suffice, unsaid), *begun_anew(reading)))


def _suffice(reason: str) -> str:
    return f"words do not suffice: {reason}"


def _judged(followed: Followed, machine: Machine, logic: Logic, told: Callable[[str], None]) -> Retold:
    text = write(program(machine, followed))
    understood = understand(Source("retold", text))
    if understood.chart is None:
        reasons = "; ".join(d.message for d in understood.diagnostics if d.severity == "fault")
        return Retold(text, None, understood, (_suffice(reasons),))
    told("proving what was told")
    proof = prove(chart_logic(understood.chart), logic, understood.machine, worlds=WORKING, most_zones=_MOST_ZONES)
    return Retold(text, proof, understood)


def _worth(retold: Retold) -> tuple[int, int]:
    """The smaller the better: same; same only if, by how much is assumed; not settled; differs; no program."""
    proof = retold.proof
    if proof is None:
        return (9, 0)
    match proof.standing:
        case Standing.SAME:
            return (0, 0)
        case Standing.SAME_ONLY_IF:
            return (1, len(proof.needs))
        case Standing.NOT_SETTLED:
            return (2 if proof.holds else 3, len(proof.needs))
        case Standing.DIFFERS:
            return (4, 0)


def _stop_unheard(retold: Retold, followed: Followed) -> Iterator[str]:
    """A device called STOP drops out everything where no rule says otherwise; this one does not."""
    chart = retold.understood.chart if retold.understood is not None else None
    if chart is not None and chart.forcing is not None and not followed.stops:
        name = chart.forcing.words.text.split()[1]
        yield f"{name} does not drop out everything, and there are no words for a STOP that does not"
