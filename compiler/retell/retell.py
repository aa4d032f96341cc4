"""From a Logic and its Machine to a program in plain words, proved against the original."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from compiler.chart_logic import chart_logic
from compiler.logic import Logic
from compiler.machine import Machine
from compiler.proof.prove import prove
from compiler.proof.telling import sentence
from compiler.proof.verdict import Proof, Standing
from compiler.retell.cause import Wordless
from compiler.retell.cycle import Followed, follow
from compiler.retell.desk import Restless, at_rest
from compiler.retell.readings import readings
from compiler.retell.without import Without
from compiler.retell.words import program
from compiler.understand import Understood, understand
from grammar.sequence.write import write
from grammar.source import Source

__all__ = ["Retold", "retell"]

_MOST_ZONES = 60_000  # for each reading that is tried


@dataclass(frozen=True, slots=True)
class Retold:
    """What was told of a Logic: the program (empty where words do not suffice to begin with), the proof that it is
    the original again, the charted text, and notes on what differs or has no words."""

    text: str
    proof: Proof | None = None
    understood: Understood | None = None
    notes: tuple[str, ...] = ()


def retell(logic: Logic, machine: Machine, *, told: Callable[[str], None] = lambda _: None) -> Retold:
    """The program that does what a Logic does, as far as words go. Never raises for anything a Logic may do.

    Of all the ways to read what was seen, the one that is the same under the weakest assumptions is told, and of
    several that are equal the plainest. ``told`` hears what is being done.
    """
    told("trying it out")
    try:
        rest = at_rest(machine, logic)
        ignored = rest.lit_loads
        followed = follow(at_rest(machine, logic, ignored) if ignored else rest)
    except Restless:
        return Retold("", notes=(_suffice("it never comes to rest by itself"),))
    except Wordless as reason:
        return Retold("", notes=(_suffice(str(reason)),))
    best: Retold | None = None
    compared = Without(logic, ignored) if ignored else logic
    for reading in readings(machine, followed):
        candidate = _judged(reading, machine, compared, told)
        if best is None or _worth(candidate) < _worth(best):
            best = candidate
        if _worth(best)[0] == 0:
            break
    assert best is not None
    return replace(best, notes=tuple(_notes(best, followed, machine, ignored)))


def _suffice(reason: str) -> str:
    return f"words do not suffice: {reason}"


def _judged(followed: Followed, machine: Machine, logic: Logic, told: Callable[[str], None]) -> Retold:
    text = write(program(machine, followed))
    understood = understand(Source("retold", text))
    if understood.chart is None:
        reasons = "; ".join(d.message for d in understood.diagnostics if d.severity == "fault")
        return Retold(text, None, understood, (_suffice(reasons),))
    told("proving what was told")
    proof = prove(chart_logic(understood.chart), logic, understood.machine, most_zones=_MOST_ZONES)
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


def _notes(retold: Retold, followed: Followed, machine: Machine, ignored: frozenset[str]) -> Iterator[str]:
    yield from retold.notes
    yield from followed.notes
    for name in sorted(ignored):
        yield _suffice(f"{name} is on at rest; it is left out, and not compared")
    heard = {name for name, _ in followed.stops}
    for device in machine.inputs:
        if device.name.casefold() == "stop" and device.name not in heard:
            yield _suffice(f"{device.name} does not drop out everything, as it does where nothing else is said")
    for outside in retold.proof.outside if retold.proof is not None else ():
        if outside.run is not None:
            yield f"differs: {sentence(outside.run, machine)}"
